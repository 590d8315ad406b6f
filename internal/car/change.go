package car

import (
	"slices"
	"time"
)

// Change is a record that changes a place of positions.yaml: a part fitted there or taken
// out, one put into or taken out of an assembly that sits there, or one rebuilt there.
type Change struct {
	Record   *Record
	Position *Position
}

// Changes lists the changes of places up to a time, oldest first.
func (f *Folder) Changes(at time.Time) []Change {
	var out []Change
	s := f.Registered(nil)
	for _, r := range f.Records {
		if r.At.After(at) || r.Replaced != nil {
			continue
		}
		place := ""
		switch r.Kind {
		case "fitted":
			place = r.text("position")
		case "removed":
			if place = r.text("from"); f.position(place) == nil {
				place = s.Where(place)
			}
		case "assembled":
			place = s.Where(r.text("into"))
		case "overhauled":
			place = s.Where(r.text("serial"))
		}
		s.Apply(r)
		if p := f.position(place); p != nil {
			out = append(out, Change{r, p})
		}
	}
	return out
}

// words say what happened: "opened when GB-02 was fitted".
func (c Change) words() string {
	return "opened when " + c.Record.text("serial") + " was " + c.Record.Kind
}

// ofJob says that a change belongs to a job: its record names it.
func (c Change) ofJob(j *Job) bool { return c.Record.text("job") == j.No }

// JobJoints lists the joints that stand open since a job was opened, of those it opened
// itself and those opened by parts that were changed in it.
func (f *Folder) JobJoints(j *Job, at time.Time) []OpenJoint {
	own := map[string]bool{}
	for _, o := range texts(j.open("opens")) {
		own[o.Text] = true
	}
	for _, c := range f.Changes(at) {
		if c.ofJob(j) {
			for _, o := range c.Position.Opens {
				own[o.Text] = true
			}
		}
	}
	return slices.DeleteFunc(f.OpenJoints(at), func(o OpenJoint) bool { return !own[o.Joint] })
}

// JobProofs lists the proofs that a job owes: its own, and those of places changed in it.
func (f *Folder) JobProofs(j *Job, at time.Time) []string {
	var out []string
	add := func(proof string) {
		if !slices.Contains(out, proof) {
			out = append(out, proof)
		}
	}
	for _, p := range texts(j.open("needs")) {
		add(p.Text)
	}
	for _, c := range f.Changes(at) {
		if c.ofJob(j) {
			for _, p := range c.Position.Owes {
				add(p.Text)
			}
		}
	}
	return out
}
