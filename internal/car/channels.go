package car

import (
	"fmt"
	"slices"

	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
	"github.com/paintmark/paintmark/internal/units"
)

// Logger is who wrote a log; a log of another logger or car is refused.
type Logger struct {
	Serial, Car string
	Clock       string // utc | local | none, "" when not said
	RunCounter  string // logger's name of the run counter
	Pos         source.Pos
}

// Channel is one line of channels.yaml.
type Channel struct {
	Name, InLog string
	// Unit is the unit in the log as written; "" for yes-no and count channels.
	Unit   string
	Type   units.Type // of a number
	YesNo  bool       // unit: state
	Count  bool       // unit: count
	Reads  string     // gauge | absolute | difference | point, "" when not said
	Rate   float64    // Hz, 0 when not said
	Range  *schema.Band
	Within float64  // SI, how far a reading may be off, either way; 0 when not said: it is taken at its face
	Fault  *float64 // SI, what it reads when broken; nil when not said
	Pair   string   // channel that measures the same thing
	// MovesWith are channels that cannot move long without this one moving.
	MovesWith []string
	Still     float64 // s it may stand still while they move; 0: the usual
	WorksAt   string  // low | high | both | neither end of the range; "" when not said
	Hold      float64 // s, 0: three periods
	Sensor    string
	System    string
	Serial    string
	// Protects lists the protections that rest on it.
	Protects []string
	Pos      source.Pos
}

// Derived is a named spell of a run.
type Derived struct {
	Name string
	Pos  source.Pos // of the name
	Text *source.Node
}

// Meter is what is counted.
type Meter struct {
	Name, Unit, Label string
	Count             *source.Node // nil when by hand or by plan
	Includes          []string     // kinds of log; empty: all
	ByHand, ByPlan    bool
	Pos               source.Pos
}

// Channel finds a channel by its name; nil if the car does not log it.
func (f *Folder) Channel(name string) *Channel {
	for i := range f.Channels {
		if f.Channels[i].Name == name {
			return &f.Channels[i]
		}
	}
	return nil
}

func (f *Folder) readChannels(faults *source.Faults) {
	d := f.docs["channels"]
	if d == nil {
		return
	}
	if l := d.value.Fields["logger"]; l != nil && !l.Unknown {
		f.Logger = Logger{text(l.Fields["serial"]), text(l.Fields["car"]), text(l.Fields["clock"]), text(l.Fields["run_counter"]), l.Pos}
		chassis := text(f.root("car").Get("chassis"))
		if f.Logger.Car != "" && chassis != "" && f.Logger.Car != chassis {
			faults.Add(l.Fields["car"].Pos, fmt.Sprintf("the logger is set to %s, but car.chassis is %s", f.Logger.Car, chassis), "set the logger to this car, or correct the line")
		}
	}
	inLog := map[string]source.Pos{}
	for _, v := range items(d.value.Fields["channels"]) {
		c, ok := readChannel(v, faults)
		if !ok {
			continue
		}
		if slices.Contains(schema.RootNames(), c.Name) || c.Name == "log" || c.Name == "limits" {
			faults.Add(v.Fields["name"].Pos, fmt.Sprintf("%q is a name that rules already use", c.Name), "give the channel another name")
		}
		if first, twice := inLog[c.InLog]; twice {
			faults.Add(v.Fields["in_log"].Pos, fmt.Sprintf("%s is already a channel (%s)", c.InLog, first), "keep one of the two")
		} else {
			inLog[c.InLog] = v.Fields["in_log"].Pos
		}
		f.Channels = append(f.Channels, c)
	}
	for _, v := range items(d.value.Fields["channels"]) {
		c, pair := f.Channel(text(v.Fields["name"])), f.Channel(text(v.Fields["pair_with"]))
		if c != nil && pair != nil && (c.Type != pair.Type || c == pair) {
			faults.Add(v.Fields["pair_with"].Pos, fmt.Sprintf("%s and %s do not measure the same thing", c.Name, pair.Name), "pair two channels of one quantity")
		}
		if c != nil {
			f.checkNeighbours(c, v, faults)
		}
	}
}

// checkNeighbours refuses a neighbour whose movement nobody could measure: how far it goes is
// told as a share of its range.
func (f *Folder) checkNeighbours(c *Channel, v *schema.Value, faults *source.Faults) {
	for _, name := range texts(v.Fields["moves_with"]) {
		n := f.Channel(name.Text)
		switch {
		case n == nil: // said by the check of names
		case n == c:
			faults.Add(name.Pos, c.Name+" cannot be its own neighbour", "name a channel that moves when it moves")
		case n.Range == nil && !n.YesNo && !n.Count:
			faults.Add(name.Pos, fmt.Sprintf("%s has no range, so nobody can tell when it moved", n.Name), "write its range, as 0 rpm..9000 rpm")
		}
	}
	if p := v.Fields["pair_with"]; text(p) != "" && text(v.Fields["range"]) == "" && !c.YesNo && !c.Count {
		if n := f.Channel(text(p)); n == nil || n.Type != c.Type { // said already
			return
		}
		faults.Add(p.Pos, fmt.Sprintf("%s has no range, so nobody can tell when the two disagree", c.Name), "write its range, as 0 %..100 %")
	}
}

func readChannel(v *schema.Value, faults *source.Faults) (c Channel, ok bool) {
	get := func(k string) string { return text(v.Fields[k]) }
	c = Channel{
		Name: get("name"), InLog: get("in_log"), Reads: get("reads"), Pair: get("pair_with"), Sensor: get("sensor"), System: get("system"),
		Serial: get("serial"), Pos: v.Pos,
	}
	if c.Name == "" || c.InLog == "" || get("unit") == "" { // refused when it was read
		return c, false
	}
	for _, p := range texts(v.Fields["protects"]) {
		c.Protects = append(c.Protects, p.Text)
	}
	for _, n := range texts(v.Fields["moves_with"]) {
		c.MovesWith = append(c.MovesWith, n.Text)
	}
	c.WorksAt = get("works_at")
	if s := v.Fields["still"]; s != nil && !s.Unknown {
		c.Still = s.Low
		if s.Low <= 0 {
			faults.Add(s.Pos, fmt.Sprintf("no sensor moves within %s", s.Text), "write how long it may stand still, as 10 s")
		}
	}
	if r := v.Fields["rate"]; r != nil && !r.Unknown {
		c.Rate = r.Low
		if r.Low <= 0 {
			faults.Add(r.Pos, fmt.Sprintf("a rate of %s logs nothing", r.Text), "write the rate, as 100 Hz")
		}
	}
	if h := v.Fields["hold"]; h != nil && !h.Unknown {
		c.Hold = h.Low
		if h.Low <= 0 {
			faults.Add(h.Pos, fmt.Sprintf("a value cannot stand for %s", h.Text), "write how long, as 0.5 s, or leave it out")
		}
	}
	switch unit := v.Fields["unit"]; unit.Text {
	case "state":
		c.YesNo = true
	case "count":
		c.Count = true
	default:
		c.Unit = unit.Text
		if !c.resolve(v, faults) {
			return c, false
		}
	}
	c.readRange(v, faults)
	c.readWithin(v, faults)
	return c, true
}

// readWithin reads how far a reading may be off, a difference. A bare number is in the channel's unit.
func (c *Channel) readWithin(v *schema.Value, faults *source.Faults) {
	w := v.Fields["within"]
	if text(w) == "" {
		return
	}
	if c.YesNo || c.Count {
		faults.Add(w.Pos, fmt.Sprintf("%s is yes or no, or whole numbers, and reads those exactly", c.Name), "take within: out")
		return
	}
	off, err := c.difference(w.Text)
	if err != nil {
		addError(faults, w.Pos, err)
		return
	}
	if off <= 0 {
		faults.Add(w.Pos, fmt.Sprintf("%s cannot read within %s", c.Name, w.Text), "write how far it may be off, as 0.5 bar, or leave it out")
		return
	}
	c.Within = off
}

// difference reads a difference of two readings, in SI. A bare number is in the channel's unit.
func (c *Channel) difference(text string) (float64, error) {
	q, err := units.Parse(text)
	if err != nil {
		return 0, err
	}
	if q.Unit == "" {
		q.Unit = c.Unit
	}
	q.SI = q.Value
	if q.Unit != "" && q.Unit != "1" {
		u, err := units.Lookup(q.Unit)
		if err != nil {
			return 0, err
		}
		u = u.AsDifference()
		q.SI, q.Type = u.SI(q.Value), u.Type
	}
	_, err = units.Check(q, c.differenceType())
	return q.SI, err
}

// differenceType is what a difference of two readings is.
func (c *Channel) differenceType() units.Type {
	t := c.Type
	if t.Kind == units.Gauge || t.Kind == units.Absolute || t.Kind == units.Point {
		t.Kind = units.Difference
	}
	return t
}

// resolve gives the channel's type: its unit, and what it reads where the unit leaves that open.
func (c *Channel) resolve(v *schema.Value, faults *source.Faults) bool {
	unit := v.Fields["unit"]
	if c.Unit == "1" {
		c.Type = units.Number
		return true
	}
	u, err := units.Lookup(c.Unit)
	if err != nil {
		addError(faults, unit.Pos, err)
		return false
	}
	c.Type = u.Type
	pressure, _ := schema.NamedQuantity("gauge pressure")
	temperature, _ := schema.NamedQuantity("temperature")
	torque, _ := schema.NamedQuantity("torque")
	reads := map[string]units.Kind{"gauge": units.Gauge, "absolute": units.Absolute, "difference": units.Difference, "point": units.Point}
	kind, said := reads[c.Reads]
	at := unit.Pos
	if said {
		at = v.Fields["reads"].Pos
	}
	switch {
	case u.Type.Dim == pressure.Dim && u.Type.Kind == units.Open && (!said || kind == units.Point):
		faults.Add(at, fmt.Sprintf("%s does not say what its pressure is over", c.Name), "write reads: gauge, absolute or difference")
		return false
	case u.Type.Dim == pressure.Dim && said && u.Type.Kind != units.Open && u.Type.Kind != kind,
		u.Type.Dim == temperature.Dim && said && kind != units.Point && kind != units.Difference,
		said && u.Type.Dim != pressure.Dim && u.Type.Dim != temperature.Dim:
		faults.Add(at, fmt.Sprintf("%s in %s cannot read %s", c.Name, c.Unit, c.Reads), "take reads: out, or look at the unit")
		return false
	case said:
		c.Type.Kind = kind
	case u.Type.Dim == torque.Dim && u.Type.Kind == units.Open:
		c.Type.Kind = units.Torque
	}
	return true
}

// readRange reads what the sensor can read and what it reads when broken, in SI. Bare
// numbers are in the channel's unit.
func (c *Channel) readRange(v *schema.Value, faults *source.Faults) {
	if r := v.Fields["range"]; text(r) != "" {
		low, high, err := units.ParseRange(r.Text)
		if err == nil {
			low, err = c.check(low)
		}
		if err == nil {
			high, err = c.check(high)
		}
		switch {
		case err != nil:
			addError(faults, r.Pos, err)
		case low.SI >= high.SI:
			faults.Add(r.Pos, fmt.Sprintf("the range %s holds nothing", r.Text), "write the lower end first: 0 bar..160 bar")
		default:
			c.Range = &schema.Band{Low: low.SI, High: high.SI}
		}
	}
	if r := v.Fields["at_fault_reads"]; text(r) != "" {
		q, err := units.Parse(r.Text)
		if err == nil {
			q, err = c.check(q)
		}
		if err != nil {
			addError(faults, r.Pos, err)
			return
		}
		c.Fault = &q.SI
	}
}

// check gives a quantity of channels.yaml as the channel's type.
func (c *Channel) check(q units.Quantity) (units.Quantity, error) {
	if q.Unit == "" && c.Unit != "" && c.Unit != "1" {
		var err error
		u, err := units.Lookup(c.Unit)
		if err != nil {
			return q, err
		}
		return units.Quantity{SI: u.SI(q.Value), Type: c.Type, Unit: c.Unit, Value: q.Value}, nil
	}
	return units.Check(q, c.Type)
}

func addError(faults *source.Faults, pos source.Pos, err error) {
	if e, ok := err.(*units.Error); ok {
		faults.Add(pos, e.What, e.Remedy)
		return
	}
	faults.Add(pos, err.Error(), "")
}

func (f *Folder) readDerived(faults *source.Faults) {
	d := f.docs["derived"]
	if d == nil {
		return
	}
	n := d.node.Get("derived")
	if n == nil || n.Kind != source.Map {
		return
	}
	for _, e := range n.Entries {
		name := e.Key.Text
		if c := f.Channel(name); c != nil {
			faults.Add(e.Key.Pos, fmt.Sprintf("%s is also a channel (%s)", name, c.Pos), "give the spell another name")
			continue
		}
		if slices.Contains(schema.RootNames(), name) || name == "log" || name == "limits" {
			faults.Add(e.Key.Pos, fmt.Sprintf("%q is a name that rules already use", name), "give the spell another name")
			continue
		}
		f.Derived = append(f.Derived, Derived{name, e.Key.Pos, e.Value})
	}
}

func (f *Folder) readMeters(faults *source.Faults) {
	d := f.docs["meters"]
	if d == nil {
		return
	}
	n := d.node.Get("meters")
	m := d.value.Fields["meters"]
	if n == nil || m == nil || m.Unknown {
		return
	}
	for _, name := range m.Keys {
		v := m.Fields[name]
		if saidUnknown(v) {
			faults.Add(v.Pos, fmt.Sprintf("meter %s is unknown: what it counts would fall due unseen", name), "write how it is counted, or take it out")
		}
		if v.Unknown {
			continue
		}
		meter := Meter{
			Name: name, Unit: text(v.Fields["unit"]), Label: text(v.Fields["label"]), Count: n.Get(name).Get("count"),
			ByHand: yes(v.Fields["by_hand"]), ByPlan: yes(v.Fields["by_plan"]), Pos: v.Pos,
		}
		for _, i := range texts(v.Fields["includes"]) {
			meter.Includes = append(meter.Includes, i.Text)
		}
		if meter.Unit != "" && meter.Unit != "1" {
			if _, err := units.Lookup(meter.Unit); err != nil {
				addError(faults, v.Fields["unit"].Pos, err)
			}
		}
		ways := 0
		for _, way := range []bool{meter.Count != nil, meter.ByHand, meter.ByPlan} {
			if way {
				ways++
			}
		}
		if ways != 1 {
			faults.Add(v.Pos, fmt.Sprintf("meter %s must be counted in exactly one way", name), "write count:, by_hand: true or by_plan: true")
		}
		f.Meters = append(f.Meters, meter)
	}
}
