package car

import (
	"cmp"
	"fmt"
	"strings"
	"time"

	"github.com/paintmark/paintmark/internal/source"
)

// sealed is the name of a record: when, who, what, and the start of the digest of its content.
var sealed = source.Form(`^[0-9]{8}T[0-9]{6}Z-\pL{1,8}-([a-z0-9]+(?:-[a-z0-9]+)*)-([0-9a-f]{6})\.yaml$`)

// recordName names a record so that a later change of its content is seen.
func recordName(at time.Time, by, what, seal string) string {
	return fmt.Sprintf("%s-%s-%s-%s.yaml", at.UTC().Format("20060102T150405Z"), by, what, seal)
}

// sealOf is what a record's name keeps of its content.
func sealOf(content []byte) string { return digest(plainEnds(content))[:6] }

// whatWords makes words fit for a name; "" if nothing of them is left.
func whatWords(what string) string {
	what = strings.Trim(notInName().ReplaceAllString(strings.ToLower(what), "-"), "-")
	if len(what) > 32 {
		what = strings.Trim(what[:32], "-")
	}
	return what
}

// checkEdited names every record that no longer is what its name says: its content was edited, or
// the name was chosen by hand, so that nobody could see an edit.
func (f *Folder) checkEdited(faults *source.Faults) {
	for _, r := range f.Records {
		folder, name, _ := strings.Cut(r.File, "/")
		m := sealed().FindStringSubmatch(name)
		pos := source.Pos{File: r.File, Line: 1, Column: 1}
		if m != nil && m[2] != r.seal {
			faults.Add(pos, "this record was edited after it was written", "put it back as it was, and write what is right in a new record that corrects it")
			continue
		}
		what := cmp.Or(whatWords(strings.TrimSuffix(name, ".yaml")), recordFolders[folder])
		if m != nil {
			what = m[1]
		}
		if right := recordName(r.At, r.By, what, r.seal); name != right {
			faults.Add(pos, "the name of this record does not say when it was, by whom and what is in it, so a change could not be seen", "if it is as it was written, name it "+right)
		}
	}
}
