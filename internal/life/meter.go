package life

import (
	"fmt"
	"slices"
	"strings"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
	"github.com/paintmark/paintmark/internal/trade"
	"github.com/paintmark/paintmark/internal/units"
)

// Calendar is the meter that no run posts: it counts days.
const Calendar = "calendar"

// Meter is what is counted.
type Meter struct {
	car.Meter
	// Decimals is how finely anybody wrote it: so many are printed.
	Decimals int

	unit       units.Unit // of a quantity
	event      string     // what has happened when it counts above zero
	substitute *Amount    // for a run that did not count it
	source     string     // where the substitute comes from
	damage     func([]trade.Cycle) float64
}

// plain says that it counts a bare number.
func (m *Meter) plain() bool { return m.Unit == "" || m.Unit == "1" }

// IsEvent says that it counts something that calls for an inspection.
func (m *Meter) IsEvent() bool { return m.event != "" }

// read gives a written quantity in the meter's unit; ok is false where it is unknown or refused.
func (m *Meter) read(v *schema.Value, faults *source.Faults) (float64, bool) {
	if v == nil || v.Unknown {
		return 0, false
	}
	q, err := units.Parse(v.Text)
	if err == nil {
		if q.Unit == m.Unit || q.Unit == "" {
			m.Decimals = max(m.Decimals, min(6, decimalsOf(v.Text)))
		}
		switch {
		case m.plain() && q.Unit == "":
			return q.Value, true
		case m.plain():
			err = &units.Error{What: fmt.Sprintf("%s is a bare number, not %s", m.Name, v.Text), Remedy: "write the number alone"}
		case q.Unit == "":
			err = &units.Error{What: fmt.Sprintf("%s has no unit", v.Text), Remedy: fmt.Sprintf("write %s %s", v.Text, m.Unit)}
		case q.Unit == m.Unit:
			return q.Value, true
		default:
			if q, err = units.Check(q, m.unit.Type); err == nil {
				return m.unit.Of(q.SI), true
			}
		}
	}
	refuse(faults, v.Pos, err)
	return 0, false
}

func refuse(faults *source.Faults, pos source.Pos, err error) {
	if e, ok := err.(*units.Error); ok {
		faults.Add(pos, e.What, e.Remedy)
		return
	}
	faults.Add(pos, err.Error(), "")
}

// decimalsOf counts the decimals of a written number.
func decimalsOf(text string) int {
	_, after, ok := strings.Cut(text, ".")
	if !ok {
		return 0
	}
	n := 0
	for n < len(after) && after[n] >= '0' && after[n] <= '9' {
		n++
	}
	return n
}

// bounds reads {low, high}.
func (m *Meter) bounds(v *schema.Value, faults *source.Faults) (Amount, bool) {
	if v == nil || v.Unknown {
		return Amount{}, false
	}
	low, ok1 := m.read(v.Get("low"), faults)
	high, ok2 := m.read(v.Get("high"), faults)
	switch {
	case !ok1 || !ok2:
		return Amount{}, false
	case low > high || low < 0:
		faults.Add(v.Pos, fmt.Sprintf("%s cannot lie between %s and %s", m.Name, v.Get("low").Text, v.Get("high").Text), "write the least first")
		return Amount{}, false
	}
	return Amount{low, high, true}, true
}

// readMeters reads what life needs to know of meters.yaml beside what the folder tells.
func (b *book) readMeters() {
	doc := b.folder.Document("meters")
	for _, m := range b.folder.Meters {
		meter := &Meter{Meter: m}
		b.meters = append(b.meters, meter)
		b.index[m.Name] = len(b.meters) - 1
		if !meter.plain() {
			u, err := units.Lookup(m.Unit)
			if err != nil {
				continue // said when the folder was read
			}
			meter.unit = u
		}
		v := doc.Fields["meters"].Fields[m.Name]
		if meter.event = text(v.Fields["event"]); meter.event != "" {
			b.events = append(b.events, meter.event)
		}
		if s := v.Fields["substitute"]; s != nil {
			if a, ok := meter.bounds(s, &b.faults); ok {
				meter.substitute, meter.source = &a, text(s.Fields["source"])
			}
		}
		if c := v.Fields["curve"]; c != nil {
			meter.damage = Curve(c, &b.faults)
		}
	}
	if doc != nil {
		for _, e := range items(doc.Fields["events"]) {
			b.events = append(b.events, text(e))
		}
	}
}

// knows looks up the name of an event: a slip in it would never open an inspection.
func (b *book) knows(event string, pos source.Pos) {
	if len(b.meters) == 0 || slices.Contains(b.events, event) {
		return
	}
	remedy := "give a meter of meters.yaml this event, or list it there under events"
	if near := source.Nearest(event, b.events); near != "" {
		remedy = "did you mean " + near
	}
	b.faults.Add(pos, fmt.Sprintf("nothing finds or tells the event %q", event), remedy)
}

// Curve reads a stress-life line into a function that gives the damage of cycles.
func Curve(v *schema.Value, faults *source.Faults) func([]trade.Cycle) float64 {
	var points []trade.SNPoint
	for _, p := range items(v.Fields["points"]) {
		if len(items(p)) != 2 || p.Items[0].Unknown || p.Items[1].Unknown {
			faults.Add(p.Pos, "a point of a stress-life line is a number of cycles and a stress", "write [1e5, 300 MPa]")
			return nil
		}
		n, err := units.Parse(p.Items[0].Text)
		if err != nil || n.Unit != "" || n.SI <= 0 {
			faults.Add(p.Items[0].Pos, fmt.Sprintf("%s is no number of cycles", p.Items[0].Text), "write [1e5, 300 MPa]")
			return nil
		}
		s, ok := stress(p.Items[1], faults)
		if !ok {
			return nil
		}
		points = append(points, trade.SNPoint{Cycles: n.SI, Amplitude: s})
	}
	if len(points) < 2 {
		faults.Add(v.Pos, "a stress-life line has at least two points", "write them under points")
		return nil
	}
	endurance, strength := 0.0, 0.0
	if e := v.Fields["endurance"]; e != nil {
		endurance, _ = stress(e, faults)
	}
	if s := v.Fields["strength"]; s != nil {
		strength, _ = stress(s, faults)
	}
	var correct trade.MeanStress
	switch mean := text(v.Fields["mean"]); {
	case mean == "smith-watson-topper":
		correct = trade.SmithWatsonTopper
	case (mean == "goodman" || mean == "gerber") && strength <= 0:
		faults.Add(v.Pos, mean+" needs the tensile strength", "write strength: 900 MPa")
		return nil
	case mean == "goodman":
		correct = trade.Goodman(strength)
	case mean == "gerber":
		correct = trade.Gerber(strength)
	}
	line := trade.SNCurve(points, endurance)
	return func(cycles []trade.Cycle) float64 { return trade.Damage(cycles, line, correct) }
}

// stress reads a stress in Pa.
func stress(v *schema.Value, faults *source.Faults) (float64, bool) {
	if v.Unknown {
		return 0, false
	}
	q, err := units.Parse(v.Text)
	if err == nil && q.Type.Dim != (units.Dim{Length: -1, Mass: 1, Time: -2}) {
		err = &units.Error{What: v.Text + " is no stress", Remedy: "write it as in 300 MPa"}
	}
	if err != nil {
		refuse(faults, v.Pos, err)
		return 0, false
	}
	return q.SI, true
}

func items(v *schema.Value) []*schema.Value {
	if v == nil || v.Unknown {
		return nil
	}
	return v.Items
}

func text(v *schema.Value) string {
	if v == nil || v.Unknown {
		return ""
	}
	return v.Text
}

func yes(v *schema.Value) bool { return v != nil && !v.Unknown && v.Bool }
