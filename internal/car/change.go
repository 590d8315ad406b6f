package car

import "time"

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
