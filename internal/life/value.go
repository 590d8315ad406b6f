package life

import (
	"math"
	"slices"
	"strconv"
	"time"

	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
)

// object is an object of the document being built.
type object struct{ v *schema.Value }

func newObject(t *schema.Type, pos source.Pos) object {
	return object{&schema.Value{Type: t, Pos: pos, Fields: map[string]*schema.Value{}}}
}

func (o object) set(key string, v *schema.Value) {
	if o.v.Type.Fields[key] == nil {
		return
	}
	o.v.Fields[key] = v
	o.v.Keys = append(o.v.Keys, key)
}

func (o object) leaf(key string) *schema.Value {
	return &schema.Value{Type: o.v.Type.Fields[key], Pos: o.v.Pos}
}

func (o object) text(key, s string) {
	v := o.leaf(key)
	v.Text, v.Unknown = s, s == ""
	o.set(key, v)
}

func (o object) yes(key string, b bool) {
	v := o.leaf(key)
	v.Bool, v.Text = b, strconv.FormatBool(b)
	o.set(key, v)
}

func (o object) whole(key string, n int) {
	v := o.leaf(key)
	v.Int, v.Low, v.High, v.Text = int64(n), float64(n), float64(n), strconv.Itoa(n)
	o.set(key, v)
}

// number sets an amount. What nothing bounds, or is no number, is unknown.
func (o object) number(key string, a Amount) {
	v := o.leaf(key)
	v.Low, v.High = round(a.Low), round(a.High)
	v.Unknown = math.IsNaN(v.Low) || math.IsNaN(v.High) || math.IsInf(v.Low, 0) && math.IsInf(v.High, 0)
	if !v.Unknown {
		v.Text = number(a, 6, 0)
	}
	o.set(key, v)
}

// round drops what adding decimals in binary leaves behind the twelfth figure.
func round(f float64) float64 {
	if math.IsInf(f, 0) || math.IsNaN(f) {
		return f
	}
	r, err := strconv.ParseFloat(strconv.FormatFloat(f, 'g', 12, 64), 64)
	if err != nil {
		return f
	}
	return r + 0 // never -0
}

func (o object) day(key string, t time.Time) {
	if t.IsZero() {
		return
	}
	v := o.leaf(key)
	v.Time, v.Text = t, t.Format(time.DateOnly)
	o.set(key, v)
}

func (o object) list(key string) *schema.Value {
	v := o.leaf(key)
	v.Items = []*schema.Value{}
	o.set(key, v)
	return v
}

func (o object) texts(key string, words []string) {
	l := o.list(key)
	for _, w := range words {
		l.Items = append(l.Items, &schema.Value{Type: l.Type.Elem, Pos: o.v.Pos, Text: w})
	}
}

// value lays the sheet out as the document `life`.
func (b *book) value(s *Sheet) *schema.Value {
	types, err := b.folder.Types()
	if err != nil {
		return &schema.Value{Unknown: true} // said when the schemas were read
	}
	root := newObject(types["life"], source.Pos{File: "life"})
	parts, fitted, limits, inspections := root.list("parts"), root.list("fitted"), root.list("limits"), root.list("inspections")
	for _, p := range s.Parts {
		all := newObject(parts.Type.Elem, p.Pos)
		p.describe(all)
		meters, own, looks := all.list("meters"), all.list("limits"), all.list("inspections")
		for _, t := range p.Totals {
			m := newObject(meters.Type.Elem, p.Pos)
			m.text("meter", t.Meter.Name)
			m.text("unit", unitOrOne(t.Meter))
			m.number("used", t.Used)
			m.yes("estimated", t.Used.Estimated)
			m.number("since_overhaul", t.SinceOverhaul)
			m.number("planned", t.Planned)
			meters.Items = append(meters.Items, m.v)
		}
		var first *Limit
		for _, l := range p.Limits {
			o := newObject(own.Type.Elem, l.Pos)
			l.describe(o)
			own.Items = append(own.Items, o.v)
			if p.Fitted {
				limits.Items = append(limits.Items, named(limits.Type.Elem, p, p.Serial+" "+l.Name(), l.Pos, l.describe))
			}
			if first == nil || l.before(first) {
				first = l
			}
		}
		for _, ins := range p.Inspections {
			for _, line := range ins.lines() {
				o := newObject(looks.Type.Elem, ins.Pos)
				line.describe(o)
				looks.Items = append(looks.Items, o.v)
				if p.Fitted {
					inspections.Items = append(inspections.Items, named(inspections.Type.Elem, p, p.Serial+" "+line.name(), ins.Pos, line.describe))
				}
			}
		}
		parts.Items = append(parts.Items, all.v)
		if p.Fitted {
			o := newObject(fitted.Type.Elem, p.Pos)
			p.describe(o)
			if first != nil {
				f := newObject(o.v.Type.Fields["first_limit"], first.Pos)
				first.describe(f)
				o.set("first_limit", f.v)
			}
			fitted.Items = append(fitted.Items, o.v)
		}
	}
	root.texts("empty", s.Empty)
	root.texts("wrong_kind", s.WrongKind)
	owed := root.list("owed")
	for _, w := range s.Owed {
		o := newObject(owed.Type.Elem, w.Since.Pos)
		o.text("name", w.Place+", "+w.Proof)
		o.text("place", w.Place)
		o.text("part", w.Part)
		o.text("proof", w.Proof)
		owed.Items = append(owed.Items, o.v)
	}
	if doc := b.folder.Document("positions"); doc == nil || doc.Get("positions").Unknown {
		// Nobody has said what must be where.
		for _, key := range []string{"empty", "wrong_kind", "owed"} {
			root.v.Fields[key].Unknown = true
		}
	}
	gaps := root.list("not_brought_in")
	for _, no := range s.NotBroughtIn {
		gaps.Items = append(gaps.Items, &schema.Value{Type: gaps.Type.Elem, Pos: root.v.Pos, Int: int64(no), Low: float64(no), High: float64(no), Text: strconv.Itoa(no)})
	}
	filled := root.list("filled")
	for _, f := range s.Filled {
		o := newObject(filled.Type.Elem, root.v.Pos)
		o.whole("run", f.Run)
		o.text("meter", f.Meter.Name)
		o.number("low", counted(f.Used.Low))
		o.number("high", counted(f.Used.High))
		o.text("unit", unitOrOne(f.Meter))
		o.text("source", f.Source)
		filled.Items = append(filled.Items, o.v)
	}
	if s.First != nil {
		root.set("first", named(root.v.Type.Fields["first"], s.First.Part, s.First.Part.Serial+" "+s.First.Limit.Name(), s.First.Limit.Pos, s.First.Limit.describe))
	}
	return root.v
}

// setTrends writes the trends into the document, in place of those that were there.
func (s *Sheet) setTrends() {
	root := object{s.Value}
	if root.v.Unknown {
		return
	}
	root.v.Keys = slices.DeleteFunc(root.v.Keys, func(k string) bool { return k == "trends" || k == "heading" })
	delete(root.v.Fields, "heading")
	trends := root.list("trends")
	var heading []*schema.Value
	for _, t := range s.Trends {
		o := newObject(trends.Type.Elem, root.v.Pos)
		t.describe(o)
		trends.Items = append(trends.Items, o.v)
		if t.Heading() {
			heading = append(heading, o.v)
		}
	}
	if len(heading) > 0 { // else it is absent: nothing comes nearer to its limit
		root.list("heading").Items = heading
	}
}

func (t *Trend) describe(o object) {
	o.text("name", t.Name)
	if t.Item != "" {
		o.text("item", t.Item)
	}
	unit := t.Unit
	if unit == "" {
		unit = "1"
	}
	o.text("unit", unit)
	o.whole("runs", len(t.Runs))
	if len(t.Runs) > 0 {
		o.whole("from_run", t.Runs[0])
		o.whole("newest_run", t.Runs[len(t.Runs)-1])
	}
	o.number("newest", t.Newest)
	o.number("slope", counted(t.Slope))
	o.number("limit", counted(t.Limit))
	if t.Means != "" {
		o.text("means", t.Means)
	}
	o.number("runs_left", counted(min(t.RunsLeft, farOff)))
}

// farOff stands for never, where a rule compares runs.
const farOff = 1e6

func unitOrOne(m *Meter) string {
	if u := unitOf(m); u != "" {
		return u
	}
	return "1"
}

func named(t *schema.Type, p *Part, name string, pos source.Pos, describe func(object)) *schema.Value {
	o := newObject(t, pos)
	o.text("name", name)
	o.text("part", p.Serial)
	o.text("kind", p.Kind)
	o.text("place", p.Position)
	o.yes("no_go_part", p.NoGo)
	describe(o)
	return o.v
}

func (p *Part) describe(o object) {
	o.text("serial", p.Serial)
	o.text("kind", p.Kind)
	if p.Position != "" {
		o.text("place", p.Position)
	}
	if p.Inside != "" {
		o.text("inside", p.Inside)
	}
	o.yes("no_go_part", p.NoGo)
	o.yes("fitted", p.Fitted)
	o.yes("estimated", p.Estimated)
	o.yes("retired", p.Gone == "was retired")
}

func (l *Limit) describe(o object) {
	o.text("meter", l.Name())
	o.text("unit", unitOrOne(l.Meter))
	o.text("since", l.Since)
	o.number("used", l.Used)
	o.number("life", counted(l.Life))
	o.number("every", counted(l.Life))
	o.number("left", l.Used.left(l.Life))
	share := l.Used
	if l.Meter == nil {
		share = l.WithPlan() // what runs out by the calendar must last to the plan's last day
	}
	o.number("share", share.share(l.Life))
	o.number("planned", l.Planned)
	o.number("share_with_plan", l.WithPlan().share(l.Life))
	if !math.IsInf(l.RunsLeft.Low, 1) {
		o.number("runs_left", Amount{min(l.RunsLeft.Low, farOff), min(l.RunsLeft.High, farOff), false})
	} else {
		o.number("runs_left", counted(farOff))
	}
	if l.Falls != "" {
		o.text("falls_in", l.Falls)
	}
	o.day("ends", l.Ends)
	if l.Lives != nil && o.v.Type.Fields["lives"] != nil {
		lives := newObject(o.v.Type.Fields["lives"], o.v.Pos)
		l.Lives.describe(lives)
		o.set("lives", lives.v)
	}
	if l.Risk != nil {
		o.number("risk", l.Risk.Chance)
	}
	o.yes("estimated", l.Used.Estimated)
}

func (l *Lives) describe(o object) {
	failed, running := o.list("failed"), o.list("running")
	for _, t := range l.Known {
		to := running
		if t.Failed() {
			to = failed
		} else {
			t.High = t.Low
		}
		to.Items = append(to.Items, &schema.Value{Type: to.Type.Elem, Pos: o.v.Pos, Low: round(t.Low), High: round(t.High), Text: number(Amount{Low: t.Low, High: t.High}, 6, 0)})
	}
	o.texts("unclear", l.Unclear)
}

// before says that a limit falls before another of the same part.
func (l *Limit) before(m *Limit) bool {
	if l.falls != m.falls {
		return l.falls < m.falls
	}
	x, y := l.WithPlan().High/l.Life, m.WithPlan().High/m.Life
	return x > y || math.IsNaN(y)
}

// Line is one reason why an inspection is or will be due: an interval of one meter, or an event.
type Line struct {
	*Inspection
	*Interval // nil for an event
	IsDue     bool
}

// lines are an inspection's reasons to be due.
func (ins *Inspection) lines() []Line {
	var out []Line
	for _, iv := range ins.Every {
		out = append(out, Line{ins, iv, over(iv.Used.Low, iv.Life)})
	}
	if len(ins.After) > 0 || ins.Opened != "" {
		out = append(out, Line{ins, nil, ins.Opened != "" && !ins.Maybe})
	}
	return out
}

func (l Line) name() string {
	if l.Interval == nil {
		return l.What + ", after"
	}
	return l.What + ", " + l.Interval.Name()
}

func (l Line) describe(o object) {
	if l.Interval != nil {
		l.Interval.describe(o)
	}
	o.text("what", l.What)
	if l.Interval != nil {
		o.text("due_by", l.Interval.Name())
	} else {
		o.text("due_by", list(l.After))
		// An event has no interval: nothing is used of it until it happens, and all of it then.
		share := Amount{}
		switch {
		case l.Opened != "" && l.Maybe:
			share.High = opened
		case l.Opened != "":
			share = counted(opened)
		}
		o.number("share", share)
		o.number("share_with_plan", share)
		o.yes("estimated", false)
	}
	if l.Opened != "" && l.Interval == nil {
		o.text("opened_by", l.Opened)
	}
	o.yes("due", l.IsDue)
}

// opened is the share of an inspection that an event called for: more than all of it.
const opened = 2.0
