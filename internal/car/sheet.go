package car

import (
	"bytes"
	"fmt"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
)

// sheets is the folder that keeps every setup sheet under its revision, each written once.
const sheets = "setups"

// Setting is a value of the setup sheet to be written: its path below setup, and its YAML.
type Setting struct{ Path, YAML string }

// SheetLine is a line of the setup sheet that two sheets have differently, as setup.changed
// names it: bars.rear, toe.RL. A tolerance is a line of its own: toe.RL.tol.
type SheetLine struct{ Name, Was, Now string }

// Sheet is a setup sheet as it stands in its file.
type Sheet struct {
	Text  []byte
	Value *schema.Value // under setup
	root  *source.Node
}

// ReadSheet reads the text of a setup sheet.
func (f *Folder) ReadSheet(file string, text []byte) (*Sheet, source.Faults) {
	node, faults := source.ParseYAML(file, text)
	if node == nil || len(faults) > 0 {
		return nil, faults
	}
	t, err := f.set.Document("setup")
	if err != nil {
		return nil, source.Faults{{Pos: source.Pos{File: file}, What: err.Error()}}
	}
	doc, faults := schema.Read(node, t)
	value := doc.Get("setup")
	if len(faults) > 0 {
		return nil, faults
	}
	return &Sheet{text, value, node.Get("setup")}, nil
}

// With is the sheet with values written into it. Everything else of the file, its order,
// layout and remarks, stays as it is, to the byte.
func (s *Sheet) With(f *Folder, settings ...Setting) (*Sheet, error) {
	now := s
	for _, set := range settings {
		text, err := newSplice(now.Text).set(now.root, strings.Split(set.Path, "."), set.YAML)
		if err != nil {
			return nil, fmt.Errorf("setup.yaml: %s cannot be written there: %w", set.Path, err)
		}
		next, faults := f.ReadSheet("setup.yaml", text)
		if len(faults) > 0 {
			return nil, faults.Err()
		}
		now = next
	}
	return now, nil
}

// SheetLines lists the lines that two sheets have differently, in the order of the schema.
func SheetLines(was, now *schema.Value) []SheetLine {
	var out []SheetLine
	differ("", was, now, &out)
	return out
}

func differ(at string, was, now *schema.Value, out *[]SheetLine) {
	t := now.Type
	switch {
	case at == "" || t.Kind == schema.Object || t.Kind == schema.Map:
		keys := t.Order
		if t.Kind == schema.Map {
			keys = append(slices.Clone(was.Keys), now.Keys...)
			slices.Sort(keys)
			keys = slices.Compact(keys)
		}
		for _, k := range keys {
			if at == "" && (aside[k] || k == "revision" || k == "to_do") {
				continue
			}
			name := strings.TrimPrefix(at+"."+k, ".")
			if k == "target" {
				name = at
			}
			differ(name, was.Get(k), now.Get(k), out)
		}
	default:
		if a, b := sheetText(was), sheetText(now); a != b && (a == "" || b == "" || !alike(was, now)) {
			*out = append(*out, SheetLine{at, a, b})
		}
	}
}

func sheetText(v *schema.Value) string {
	if v.Unknown && v.Text == "" {
		return ""
	}
	return v.Text
}

// alike says that two values are one value, spelled 79 mm or 0.079 m.
func alike(a, b *schema.Value) bool {
	x, err1 := schema.JSON(a)
	y, err2 := schema.JSON(b)
	return err1 == nil && err2 == nil && bytes.Equal(x, y)
}

// KeptSheet is the sheet that was written under a revision; nil if none was kept.
func (f *Folder) KeptSheet(revision string) *schema.Value {
	if d := f.docs[sheets+"/"+revision]; d != nil {
		return d.value.Get("setup")
	}
	return nil
}

// Revisions lists every revision of the setup sheet that was ever said: the sheet's own,
// those kept, and those that runs and ticks name. Sorted.
func (f *Folder) Revisions() []string {
	var out []string
	if r := text(f.root("setup").Get("revision")); r != "" {
		out = append(out, r)
	}
	for name := range f.docs {
		if r, ok := strings.CutPrefix(name, sheets+"/"); ok {
			out = append(out, r)
		}
	}
	for _, r := range f.Records {
		if r.Kind == "run" || r.Kind == "done" {
			if s := r.text("setup"); s != "" {
				out = append(out, s)
			}
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// Spoken says that a revision is that of the sheet, or of something that was done or driven.
func (f *Folder) Spoken(revision string) bool {
	return text(f.root("setup").Get("revision")) == revision || slices.ContainsFunc(f.Records, func(r *Record) bool {
		return (r.Kind == "run" || r.Kind == "done") && r.text("setup") == revision
	})
}

// WriteSheet puts a new setup sheet in the place of the old one. Both are first kept under
// their revisions in setups/, where no sheet is ever written over, so that whatever happens
// meanwhile the old one is there. The paths written are relative to dir, in their order.
func WriteSheet(dir string, old, now *Sheet) (written []string, err error) {
	folder := filepath.Join(dir, sheets)
	if err := os.MkdirAll(folder, 0o777); err != nil {
		return nil, fmt.Errorf("cannot write into %s: %s", sheets, reason(err))
	}
	for _, s := range []*Sheet{old, now} {
		name := text(s.Value.Get("revision")) + ".yaml"
		if kept, err := os.ReadFile(filepath.Join(folder, name)); err == nil && bytes.Equal(kept, s.Text) {
			continue
		} else if err == nil && s == old {
			continue // the same lines in another layout, or Open would have said so
		} else if err == nil {
			return written, fmt.Errorf("setup.yaml is left alone: there is another setup %s already, and two sheets under one revision would be mixed up; give this one the next", text(s.Value.Get("revision")))
		}
		if err := place(folder, name, s.Text); err != nil {
			return written, fmt.Errorf("%s was not written: %w", path.Join(sheets, name), err)
		}
		written = append(written, path.Join(sheets, name))
	}
	file := filepath.Join(dir, "setup.yaml")
	if there, err := os.ReadFile(file); err != nil || !bytes.Equal(there, old.Text) {
		return written, fmt.Errorf("setup.yaml was changed meanwhile and is left alone; look at it and do this again under another revision")
	}
	if err := Edit(dir, "setup.yaml", now.Text); err != nil {
		return written, err
	}
	return append(written, "setup.yaml"), nil
}

// checkSheets: a kept sheet is named by its revision, and no other sheet has that revision.
func (f *Folder) checkSheets(faults *source.Faults) {
	current := f.root("setup")
	ran := map[string]*Record{}
	for _, r := range f.Runs() {
		if rev := r.text("setup"); rev != "" && r.text("setup_sha256") != "" && ran[rev] == nil {
			ran[rev] = r
		}
	}
	for _, name := range sortedKeys(f.docs) {
		rev, kept := strings.CutPrefix(name, sheets+"/")
		if !kept {
			continue
		}
		v := f.docs[name].value.Get("setup")
		said := v.Get("revision")
		if text(said) != rev {
			faults.Add(v.Pos, fmt.Sprintf("this sheet is %s, but the file is named %s.yaml", text(said), rev), "name the file as the revision")
			continue
		}
		sum := sheetSHA256(v)
		if text(current.Get("revision")) == rev && sheetSHA256(current) != sum {
			faults.Add(current.Get("revision").Pos, fmt.Sprintf("setup %s was written with other contents (%s)", rev, said.Pos), "put it back and change it by `setup`, under the next revision")
		}
		if r := ran[rev]; r != nil && r.text("setup_sha256") != sum {
			faults.Add(said.Pos, fmt.Sprintf("run %d ran under setup %s with other contents (%s)", r.no(), rev, r.Body.Fields["setup_sha256"].Pos), "put the sheet back as it was written")
		}
	}
}
