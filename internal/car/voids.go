package car

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
)

// A void is a record that makes values void: what was measured or taken as a baseline on
// the part or joint that it changes says nothing about the one there now.
type void struct {
	record *Record
	paths  []Text // "measured.wing", "baseline.oil_pressure"
}

// voids lists them up to a time, oldest first.
func (f *Folder) voids(at time.Time) []void {
	var out []void
	for _, c := range f.Changes(at) {
		if len(c.Position.Voids) > 0 {
			out = append(out, void{c.Record, c.Position.Voids})
		}
	}
	for _, r := range f.Of("job") {
		if paths := words(r.Body.Get("opened.voids")); len(paths) > 0 && !r.At.After(at) {
			out = append(out, void{r, paths})
		}
	}
	slices.SortStableFunc(out, func(a, b void) int { return f.compare(a.record, b.record) })
	return out
}

// covers says that a path names this item: the item itself, its group, or a part of it.
func covers(path, group, item string) bool {
	own := "measured." + group + "." + item
	return path == "measured."+group || path == own || strings.HasPrefix(path, own+".")
}

// checkVoids: a path that names nothing would make nothing void.
func (f *Folder) checkVoids(faults *source.Faults) {
	for _, p := range f.Positions {
		for _, path := range p.Voids {
			f.checkPath(path, faults)
		}
	}
	for _, r := range f.Of("job") {
		for _, path := range words(r.Body.Get("opened.voids")) {
			f.checkPath(path, faults)
		}
	}
}

func (f *Folder) checkPath(path Text, faults *source.Faults) {
	root, left, _ := strings.Cut(path.Text, ".")
	if root != "measured" && root != "baseline" {
		faults.Add(path.Pos, fmt.Sprintf("%q is no value that can become void", path.Text), "write a path that starts with measured. or baseline.")
		return
	}
	t, err := f.set.Root(root)
	if err != nil {
		return // reported where the schema was read
	}
	for left != "" {
		var key string
		key, left, _ = strings.Cut(left, ".")
		next := t.Fields[key]
		if root == "baseline" && t.Kind == schema.Map && f.Channel(key) != nil {
			next = t.Elem
		}
		if next == nil {
			remedy := "see the schema of " + root
			if n := source.Nearest(key, t.Order); n != "" {
				remedy = fmt.Sprintf("did you mean %q", n)
			}
			faults.Add(path.Pos, fmt.Sprintf("%s has no value %q", t.Name, key), remedy)
			return
		}
		t = next
	}
}

// without is a value at a place as the void leaves it: a gap where it names the place, and where it names one key of
// a map, that key alone. The keys stay, so that it is told what is not known any more.
func (v void) without(value *schema.Value, path, place string) *schema.Value {
	key, below := strings.CutPrefix(path, place+".")
	if path != place && !(below && value.Type.Kind == schema.Map) {
		return value
	}
	if value.Type.Kind != schema.Map {
		return v.empty(value.Type)
	}
	out := value
	for _, k := range value.Keys {
		if path == place || k == key {
			out = with(out, k, v.empty(value.Fields[k].Type))
		}
	}
	return out
}

// empty is the gap a void leaves, with the place of the record that made it.
func (v void) empty(t *schema.Type) *schema.Value {
	gap := schema.Unknown(t, v.record.Pos)
	gap.Record = v.record.File
	return gap
}
