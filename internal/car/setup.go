package car

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"time"

	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
)

// aside are the keys of a setup sheet that say nothing about the car.
var aside = map[string]bool{"by": true, "why": true, "changed": true}

// SetupSHA256 is the digest of what the setup sheet asks of the car: its values in SI,
// without remarks, order or spelling. Hex; "" while there is no sheet. A run sheet keeps
// it, so that two contents under one revision are found.
func (f *Folder) SetupSHA256() string {
	return sheetSHA256(f.root("setup"))
}

func sheetSHA256(s *schema.Value) string {
	if s.Unknown {
		return ""
	}
	bare := *s
	bare.Fields = make(map[string]*schema.Value, len(s.Fields))
	for k, v := range s.Fields {
		if !aside[k] {
			bare.Fields[k] = v
		}
	}
	data, err := schema.JSON(&bare)
	if err != nil {
		panic(err) // a value that was read can be written
	}
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

// checkSetup: one revision is one content, and ticks are for lines that were changed.
func (f *Folder) checkSetup(faults *source.Faults) {
	s := f.root("setup")
	revision := text(s.Get("revision"))
	seen := map[string]*schema.Value{}
	now := f.SetupSHA256()
	for _, r := range f.Runs() {
		rev, sum := r.text("setup"), r.Body.Fields["setup_sha256"]
		if rev == "" || text(sum) == "" {
			continue
		}
		if first := seen[rev]; first != nil && first.Text != sum.Text {
			faults.Add(sum.Pos, fmt.Sprintf("two contents ran under setup %s, the other in %s", rev, first.Pos), "correct one of the run sheets")
			continue
		}
		seen[rev] = sum
		if rev == revision && now != sum.Text {
			faults.Add(s.Get("revision").Pos, fmt.Sprintf("run %d ran under setup %s with other contents (%s)", r.no(), rev, sum.Pos), "give this sheet the next revision")
		}
	}
	known := map[string]bool{}
	var lines []string
	for _, l := range texts(s.Get("changed")) {
		known[l.Text] = true
		lines = append(lines, l.Text)
		if s.Get(l.Text) == nil {
			faults.Add(l.Pos, fmt.Sprintf("the setup sheet has no line %q", l.Text), "write the path of a line, as bars.rear")
		}
	}
	for _, r := range f.Of("done") {
		if r.text("setup") != revision {
			continue
		}
		for _, l := range texts(r.Body.Fields["lines"]) {
			if !known[l.Text] {
				remedy := "the changed lines are in setup.yaml under changed:"
				if n := source.Nearest(l.Text, lines); n != "" {
					remedy = fmt.Sprintf("did you mean %q", n)
				}
				faults.Add(l.Pos, fmt.Sprintf("%q is no changed line of setup %s", l.Text, revision), remedy)
			}
		}
	}
}

// ToDo lists the changed lines of the sheet that nobody has ticked as done on the car;
// known is false where the sheet does not say what it changed.
func (f *Folder) ToDo(at time.Time) (lines []Text, known bool) {
	s := f.root("setup")
	changed := s.Get("changed")
	if changed.Unknown {
		return nil, false
	}
	done := map[string]bool{}
	for _, r := range f.Of("done") {
		if r.At.After(at) || r.text("setup") != text(s.Get("revision")) {
			continue
		}
		for _, l := range texts(r.Body.Fields["lines"]) {
			done[l.Text] = true
		}
	}
	for _, l := range texts(changed) {
		if !done[l.Text] {
			lines = append(lines, Text{l.Text, l.Pos})
		}
	}
	return lines, true
}
