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
	System      string // "" where it is not said
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
				Name: p, Needs: text(v.Fields["needs"]), System: text(v.Fields["system"]), Optional: yes(v.Fields["optional"]), Pos: v.Pos,
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
	put    map[string]source.Pos
	gone   map[string]gone // serial: why it can be fitted no more
	// retired holds what the register says of that; it counts from the day it names.
	retired map[string]*schema.Value
}

// gone is why a part can be fitted no more: it was retired, or it left for another car.
type gone struct {
	how string
	pos source.Pos
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
	for range deepest {
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

// Inside is the assembly a serial is inside, "" if none.
func (s *Fitted) Inside(serial string) string { return s.inside[serial] }

// Gone says that a serial may not be fitted: "was retired" or "left this car", "" if it may.
func (s *Fitted) Gone(serial string) string { return s.gone[serial].how }

// deepest is deeper than any assembly; a circle ends there.
const deepest = 32

func (f *Folder) checkFitted(faults *source.Faults) { f.fit(f.AsOf, faults) }

// fit plays the records of parts up to a time. With faults it also says what cannot have been.
func (f *Folder) fit(at time.Time, faults *source.Faults) *Fitted {
	s := f.Registered(faults)
	for _, r := range f.Records {
		if r.At.After(at) || r.Replaced != nil {
			continue
		}
		pos, what, remedy := s.Apply(r)
		if what == "" || faults == nil {
			continue
		}
		if later := f.putLater(r); later != nil {
			remedy = fmt.Sprintf("it goes in only later (%s); look at both times", later.Pos)
		}
		faults.Add(pos, what, remedy)
	}
	return s
}

// putLater finds the record that puts a part where an earlier one takes it from.
func (f *Folder) putLater(r *Record) *Record {
	if r.Kind != "removed" {
		return nil
	}
	for _, l := range f.Records {
		if l.Replaced == nil && f.before(r, l) && l.text("serial") == r.text("serial") &&
			(l.Kind == "fitted" && l.text("position") == r.text("from") || l.Kind == "assembled" && l.text("into") == r.text("from")) {
			return l
		}
	}
	return nil
}

// Registered is the state before any record: nothing on the car, assemblies as the register has them.
func (f *Folder) Registered(faults *source.Faults) *Fitted {
	s := &Fitted{At: map[string]*Record{}, inside: map[string]string{}, where: map[string]string{}, put: map[string]source.Pos{}, gone: map[string]gone{}, retired: map[string]*schema.Value{}}
	for _, p := range items(f.list("parts")) {
		serial := text(p.Fields["serial"])
		if v := p.Fields["retired"]; v != nil {
			s.retired[serial] = v
		}
		for _, c := range texts(p.Fields["children"]) {
			if s.holds(c.Text, serial) {
				if faults != nil {
					faults.Add(c.Pos, fmt.Sprintf("%s would be inside itself: %s is inside it (%s)", c.Text, serial, s.put[serial]), "take one of the two out of children")
				}
				continue
			}
			if other, twice := s.inside[c.Text]; twice && faults != nil {
				faults.Add(c.Pos, fmt.Sprintf("%s is inside %s already (%s)", c.Text, other, s.put[c.Text]), "a part is inside one assembly; say later changes by records in fitted/")
			}
			s.inside[c.Text], s.put[c.Text] = serial, c.Pos
		}
	}
	return s
}

// holds says that a part is an assembly's, or inside it at any depth.
func (s *Fitted) holds(assembly, serial string) bool {
	for range deepest {
		if serial == assembly {
			return true
		}
		parent, ok := s.inside[serial]
		if !ok {
			return false
		}
		serial = parent
	}
	return true
}

// Apply plays one record. What cannot have been is told, with the other record that says
// so, and is played all the same as far as it makes sense: the newer record is believed.
func (s *Fitted) Apply(r *Record) (pos source.Pos, what, remedy string) {
	serial := r.text("serial")
	if serial == "" {
		return pos, "", ""
	}
	pos = r.Body.Fields["serial"].Pos
	if v := s.retired[serial]; v != nil {
		if day := v.Get("at"); day.Unknown || r.At.After(day.Time.Add(24*time.Hour)) {
			s.gone[serial] = gone{"was retired", v.Pos}
		}
	}
	const first = "write the record that removes it first"
	switch r.Kind {
	case "fitted":
		position := r.text("position")
		if position == "" {
			break
		}
		switch there := s.At[position]; {
		case there != nil:
			pos = r.Body.Fields["position"].Pos
			what, remedy = fmt.Sprintf("%s still holds %s (%s)", position, there.text("serial"), there.Pos), first
		default:
			what, remedy = s.free(serial)
		}
		delete(s.where, s.Serial(position))
		s.At[position], s.where[serial], s.put[serial] = r, position, r.Pos
		delete(s.inside, serial)
	case "removed":
		from := r.text("from")
		switch {
		case from == "":
		case s.Serial(from) == serial:
			delete(s.At, from)
			delete(s.where, serial)
		case s.inside[serial] == from:
			delete(s.inside, serial)
		default:
			pos = r.Body.Fields["from"].Pos
			what, remedy = fmt.Sprintf("%s is not in %s", serial, from), whereInstead(s, serial, from)
		}
	case "assembled":
		into := r.text("into")
		switch {
		case into == "" || s.inside[serial] == into:
		case s.holds(serial, into):
			pos = r.Body.Fields["into"].Pos
			what, remedy = fmt.Sprintf("%s would be inside itself", serial), "look at both serials"
			if p, ok := s.put[into]; ok {
				what += fmt.Sprintf(": %s is inside it (%s)", into, p)
			}
			return pos, what, remedy
		default:
			what, remedy = s.free(serial)
			delete(s.At, s.where[serial])
			delete(s.where, serial)
			s.inside[serial], s.put[serial] = into, r.Pos
		}
	case "retired", "left":
		if r.Kind == "left" && s.used(serial) != "" {
			what, remedy = fmt.Sprintf("%s is still in %s (%s)", serial, s.used(serial), s.put[serial]), first
		}
		s.gone[serial] = gone{map[string]string{"retired": "was retired", "left": "left this car"}[r.Kind], r.Pos}
	case "received":
		if in := s.used(serial); in != "" {
			what, remedy = fmt.Sprintf("%s is in %s (%s)", serial, in, s.put[serial]), "look at the serial: a part is in one place"
		}
		if s.gone[serial].how == "left this car" {
			delete(s.gone, serial)
		}
	}
	return pos, what, remedy
}

// used is the place or assembly a serial sits in, "" if it is on the shelf.
func (s *Fitted) used(serial string) string {
	if p := s.where[serial]; p != "" {
		return p
	}
	return s.inside[serial]
}

// free says why a part cannot go anywhere, "" if it can.
func (s *Fitted) free(serial string) (what, remedy string) {
	if g, ok := s.gone[serial]; ok {
		return fmt.Sprintf("%s %s (%s)", serial, g.how, g.pos), "it may not be fitted; look at the serial on the part"
	}
	switch in, inside := s.where[serial], s.inside[serial]; {
	case in != "":
		return fmt.Sprintf("%s is already on the car, in %s (%s)", serial, in, s.put[serial]), "write the record that removes it first"
	case inside != "":
		return fmt.Sprintf("%s is still inside %s (%s)", serial, inside, s.put[serial]), "write the record that removes it first"
	}
	return "", ""
}

func whereInstead(s *Fitted, serial, from string) string {
	if p := s.Where(serial); p != "" {
		return fmt.Sprintf("it is in %s", p)
	}
	if there := s.Serial(from); there != "" {
		return fmt.Sprintf("%s holds %s (%s)", from, there, s.At[from].Pos)
	}
	return "no record puts it there; look at the serial"
}
