package car

import (
	"fmt"
	"time"

	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
)

// Position is a place on the car, of positions.yaml.
type Position struct {
	Name, Needs string
	Optional    bool
	Pos         source.Pos
	Opens       []Text // joints a change opens
	Voids       []Text // values a change makes void
	Owes        []Text // proofs a change owes
}

func (f *Folder) readPositions() {
	for _, v := range items(f.list("positions")) {
		if p := text(v.Fields["position"]); p != "" {
			f.Positions = append(f.Positions, Position{
				Name: p, Needs: text(v.Fields["needs"]), Optional: yes(v.Fields["optional"]), Pos: v.Pos,
				Opens: words(v.Fields["change_opens"]), Voids: words(v.Fields["change_voids"]), Owes: words(v.Fields["change_needs"]),
			})
		}
	}
}

func words(v *schema.Value) []Text {
	var out []Text
	for _, i := range texts(v) {
		out = append(out, Text{i.Text, i.Pos})
	}
	return out
}

// list is the value of a document's top-level key that is no root; nil if it was not written.
func (f *Folder) list(name string) *schema.Value {
	if d := f.docs[name]; d != nil {
		return d.value.Fields[name]
	}
	return nil
}

func (f *Folder) position(name string) *Position {
	for i := range f.Positions {
		if f.Positions[i].Name == name {
			return &f.Positions[i]
		}
	}
	return nil
}

// Fitted is what sits where.
type Fitted struct {
	At     map[string]*Record // position: the record that put a serial there
	inside map[string]string  // serial: the assembly it is inside
	where  map[string]string  // serial: position it sits in itself
}

// Fitted is the state of the car at a time.
func (f *Folder) Fitted(at time.Time) *Fitted { return f.fit(at, nil) }

// Serial is what sits in a position, "" if nothing does.
func (s *Fitted) Serial(position string) string {
	if r := s.At[position]; r != nil {
		return r.text("serial")
	}
	return ""
}

// Where is the position of a serial, itself or the assembly it is inside; "" if it is not on the car.
func (s *Fitted) Where(serial string) string {
	for range 32 { // deeper than any assembly; a circle ends here
		if p, ok := s.where[serial]; ok {
			return p
		}
		parent, ok := s.inside[serial]
		if !ok {
			return ""
		}
		serial = parent
	}
	return ""
}

func (f *Folder) checkFitted(faults *source.Faults) { f.fit(f.AsOf, faults) }

// fit plays the records of fitting and removing up to a time. With faults it also says
// what cannot have been: two parts in one place, one part in two, a part taken from where it was not.
func (f *Folder) fit(at time.Time, faults *source.Faults) *Fitted {
	s := &Fitted{At: map[string]*Record{}, inside: map[string]string{}, where: map[string]string{}}
	for _, p := range items(f.list("parts")) {
		for _, c := range texts(p.Fields["children"]) {
			if other, twice := s.inside[c.Text]; twice && faults != nil {
				faults.Add(c.Pos, fmt.Sprintf("%s is inside %s already", c.Text, other), "a part is inside one assembly; say later changes by records in fitted/")
			}
			s.inside[c.Text] = text(p.Fields["serial"])
		}
	}
	say := func(v *schema.Value, what, remedy string) {
		if faults != nil {
			faults.Add(v.Pos, what, remedy)
		}
	}
	for _, r := range f.Records {
		if r.At.After(at) || r.Replaced != nil {
			continue
		}
		serial := r.text("serial")
		switch r.Kind {
		case "fitted":
			position := r.text("position")
			if serial == "" || position == "" {
				continue
			}
			if there := s.At[position]; there != nil {
				say(r.Body.Fields["position"], fmt.Sprintf("%s still holds %s (%s)", position, there.text("serial"), there.Pos), "write the record that removes it first")
			} else if place := s.Where(serial); place != "" {
				say(r.Body.Fields["serial"], fmt.Sprintf("%s is already on the car, in %s", serial, place), "write the record that removes it first")
			}
			delete(s.where, s.Serial(position))
			s.At[position], s.where[serial] = r, position
		case "removed":
			from := r.text("from")
			switch {
			case serial == "" || from == "":
			case s.Serial(from) == serial:
				delete(s.At, from)
				delete(s.where, serial)
			case s.inside[serial] == from:
				delete(s.inside, serial)
			default:
				say(r.Body.Fields["from"], fmt.Sprintf("%s is not in %s", serial, from), whereInstead(s, serial, from))
			}
		case "assembled":
			into := r.text("into")
			if other := s.inside[serial]; other != "" && other != into {
				say(r.Body.Fields["serial"], fmt.Sprintf("%s is still inside %s", serial, other), "write the record that removes it first")
			}
			if serial != "" && into != "" {
				s.inside[serial] = into
			}
		}
	}
	return s
}

func whereInstead(s *Fitted, serial, from string) string {
	if p := s.Where(serial); p != "" {
		return "it is in " + p
	}
	if there := s.Serial(from); there != "" {
		return from + " holds " + there
	}
	return "no record puts it there; look at the serial"
}
