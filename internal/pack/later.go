package pack

import (
	"regexp"

	"github.com/paintmark/paintmark/internal/source"
)

// later reads the keys that are checked now and evaluated in a later version.
func (f *form) later(keys map[string]*source.Node) {
	if n := keys["fresh"]; n != nil {
		f.fresh(n)
		f.fault(n.Pos, "fresh is not evaluated yet", "take it out; a value's age is printed beside it")
	}
	if n := keys["cleared-by"]; n != nil {
		f.clearedBy(n)
		f.fault(n.Pos, "cleared-by is not evaluated yet", "take it out; only a newer run clears the item")
	}
}

var (
	within = regexp.MustCompile(`^(next run|[1-9]\d* runs?|event day|this event|[1-9]\d* d)$`)
	placed = regexp.MustCompile(`^[a-z][a-z0-9_.-]*$`)
)

func (f *form) fresh(n *source.Node) {
	keys := f.fields(n, "fresh", "within", "after-fit", "after-job-on")
	if n := keys["within"]; n != nil {
		for _, w := range f.texts(n, "within") {
			if !within.MatchString(w.Text) {
				f.fault(w.Pos, quoted(w.Text)+" is not an age", "write N runs, event day, this event or N d")
			}
		}
	}
	for _, key := range []string{"after-fit", "after-job-on"} {
		if n := keys[key]; n != nil {
			for _, p := range f.texts(n, key) {
				if !placed.MatchString(p.Text) {
					f.fault(p.Pos, quoted(p.Text)+" is not a name", "write a position or system, such as wing.actuator")
				}
			}
		}
	}
	if keys != nil && len(keys) == 0 {
		f.fault(n.Pos, "fresh says nothing", "add within, after-fit or after-job-on")
	}
}

func (f *form) clearedBy(n *source.Node) {
	keys := f.fields(n, "cleared-by", "measure", "holds", "after")
	if (keys["measure"] == nil) == (keys["holds"] == nil) && keys != nil {
		f.fault(n.Pos, "cleared-by needs one of measure and holds", "write the proof on stands")
	}
	for _, key := range []string{"measure", "holds"} {
		if n := keys[key]; n != nil {
			f.expression(n, key)
		}
	}
	if n := keys["after"]; n != nil {
		f.word(n, "after", []string{"job"})
	}
}
