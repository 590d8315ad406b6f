package car

import (
	"strconv"
	"time"

	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
)

// Roots gives every name that expressions may use its value at a time: documents with
// what is worked out from them, and what the records add up to. What nobody wrote is unknown.
func (f *Folder) Roots(at time.Time) map[string]*schema.Value {
	fitted := f.Fitted(at)
	return map[string]*schema.Value{
		"car":      f.carRoot(),
		"setup":    f.setupRoot(at),
		"measured": f.measured(at),
		"parts":    f.partsRoot(fitted),
		"life":     f.root("life"),
		"plan":     f.planRoot(at),
		"baseline": f.baseline(at, fitted),
		"lockout":  f.lockoutRoot(at),
		"trips":    f.tripsRoot(),
		"weather":  f.weatherRoot(at),
		"tools":    f.toolsRoot(),
		"faults":   f.faultsRoot(at),
		"jobs":     f.jobsRoot(at),
		"people":   f.root("people"),
	}
}

func (f *Folder) mustRoot(name string) *schema.Type {
	t, err := f.set.Root(name)
	if err != nil {
		panic(err) // a bundled schema that does not load is found by its test
	}
	return t
}

// with is a copy of an object with one more field.
func with(v *schema.Value, key string, field *schema.Value) *schema.Value {
	out := *v
	out.Fields = make(map[string]*schema.Value, len(v.Fields)+1)
	for k, f := range v.Fields {
		out.Fields[k] = f
	}
	out.Keys = append([]string(nil), v.Keys...)
	set(&out, key, field)
	return &out
}

// each is a copy of a list with every known element changed.
func each(v *schema.Value, change func(*schema.Value) *schema.Value) *schema.Value {
	if v.Unknown {
		return v
	}
	out := *v
	out.Items = make([]*schema.Value, len(v.Items))
	for i, item := range v.Items {
		out.Items[i] = item
		if !item.Unknown {
			out.Items[i] = change(item)
		}
	}
	return &out
}

func (f *Folder) carRoot() *schema.Value {
	v := f.root("car")
	safety := v.Get("safety")
	if v.Unknown || safety.Unknown {
		return v
	}
	return with(v, "safety", each(safety, func(item *schema.Value) *schema.Value {
		return with(item, "valid_to", validTo(item))
	}))
}

// validTo is the earliest day that follows from what the label says; a gap when the label
// says nothing, or when something on it that would count is written as unknown.
func validTo(item *schema.Value) *schema.Value {
	t := item.Type.Fields["valid_to"]
	out := schema.Unknown(t, item.Pos)
	take := func(day time.Time, pos source.Pos) {
		if out.Unknown || day.Before(out.Time) {
			out = &schema.Value{Type: t, Pos: pos, Time: day, Text: day.Format(time.DateOnly)}
		}
	}
	for _, k := range []string{"not_valid_after", "made", "life", "last_check", "check_every"} {
		if v := item.Fields[k]; v != nil && v.Unknown {
			return schema.Unknown(t, v.Pos)
		}
	}
	if v := item.Fields["not_valid_after"]; v != nil {
		take(v.Time, v.Pos)
	}
	if last, every := item.Fields["last_check"], item.Fields["check_every"]; last != nil && every != nil {
		if day, ok := schema.AddSpan(last.Time, every.Text); ok {
			take(day, last.Pos)
		}
	}
	if made, life := item.Fields["made"], item.Fields["life"]; made != nil && life != nil {
		// The month made counts whole: its life ends with the last day of that month.
		if month, err := time.Parse("2006-01", made.Text); err == nil {
			if day, ok := schema.AddSpan(month, life.Text); ok {
				take(day.AddDate(0, 1, -1), made.Pos)
			}
		}
	}
	return out
}

func (f *Folder) setupRoot(at time.Time) *schema.Value {
	v := f.root("setup")
	if v.Unknown {
		return v
	}
	lines, known := f.ToDo(at)
	if !known {
		return v
	}
	return with(v, "to_do", whole(v.Type.Fields["to_do"], v.Get("changed").Pos, len(lines)))
}

func whole(t *schema.Type, pos source.Pos, n int) *schema.Value {
	return &schema.Value{Type: t, Pos: pos, Int: int64(n), Low: float64(n), High: float64(n), Text: strconv.Itoa(n)}
}

func word(t *schema.Type, pos source.Pos, s string) *schema.Value {
	if s == "" {
		return schema.Unknown(t, pos)
	}
	return &schema.Value{Type: t, Pos: pos, Text: s}
}

func truth(t *schema.Type, pos source.Pos, b bool) *schema.Value {
	return &schema.Value{Type: t, Pos: pos, Bool: b, Text: strconv.FormatBool(b)}
}

// partsRoot says of each part where it is.
func (f *Folder) partsRoot(fitted *Fitted) *schema.Value {
	return each(f.root("parts"), func(p *schema.Value) *schema.Value {
		serial := text(p.Fields["serial"])
		if serial == "" {
			return p
		}
		place := fitted.Where(serial)
		p = with(p, "position", word(p.Type.Fields["position"], p.Pos, place))
		return with(p, "fitted", truth(p.Type.Fields["fitted"], p.Pos, place != ""))
	})
}

func (f *Folder) toolsRoot() *schema.Value {
	return each(f.root("tools"), func(tool *schema.Value) *schema.Value {
		last, every := tool.Fields["calibrated"], tool.Fields["every"]
		if last == nil || last.Unknown || every == nil || every.Unknown {
			return tool
		}
		day, ok := schema.AddSpan(last.Time, every.Text)
		if !ok {
			return tool
		}
		return with(tool, "due", &schema.Value{Type: tool.Type.Fields["due"], Pos: last.Pos, Time: day, Text: day.Format(time.DateOnly)})
	})
}

// planRoot counts the runs. A run that was stopped before its end is run again, and
// runs of an earlier event count for nothing.
func (f *Folder) planRoot(at time.Time) *schema.Value {
	v := f.root("plan")
	sessions := v.Get("sessions")
	if v.Unknown || sessions.Unknown {
		return v
	}
	first := v.Get("event.first_day")
	if first.Unknown {
		return v
	}
	done := f.sessionsDone(at, first.Time.Add(-zone(v)))
	planned, left := 0, 0
	var next *schema.Value
	nextLeft := 0
	for _, s := range sessions.Items {
		runs, id := s.Get("runs"), s.Get("id")
		if s.Unknown || runs.Unknown || id.Unknown {
			return v // a session nobody knows could hold any number of runs
		}
		open := max(0, int(runs.Int)-done[id.Text])
		planned += int(runs.Int)
		left += open
		if next == nil && open > 0 {
			next, nextLeft = s, open
		}
	}
	v = with(v, "runs_planned", whole(v.Type.Fields["runs_planned"], sessions.Pos, planned))
	v = with(v, "runs_left", whole(v.Type.Fields["runs_left"], sessions.Pos, left))
	if next != nil {
		t := v.Type.Fields["next"]
		n := &schema.Value{Type: t, Pos: next.Pos}
		set(n, "id", word(t.Fields["id"], next.Pos, text(next.Get("id"))))
		set(n, "kind", word(t.Fields["kind"], next.Pos, text(next.Get("kind"))))
		set(n, "runs", whole(t.Fields["runs"], next.Pos, nextLeft))
		v = with(v, "next", n)
	}
	return v
}

// zone is how far the event's clock is ahead of UTC.
func zone(plan *schema.Value) time.Duration {
	z, err := time.Parse("Z07:00", text(plan.Get("event.time_zone")))
	if err != nil {
		return 0
	}
	_, offset := z.Zone()
	return time.Duration(offset) * time.Second
}

// EventDay is the day at the event's place at a time, as UTC midnight.
func (f *Folder) EventDay(at time.Time) time.Time {
	local := at.UTC().Add(zone(f.root("plan")))
	return time.Date(local.Year(), local.Month(), local.Day(), 0, 0, 0, 0, time.UTC)
}

// baseline joins the baselines: of each value, of noise channel by channel, the newest one whose serial is on the
// car and that nothing has made void since.
func (f *Folder) baseline(at time.Time, fitted *Fitted) *schema.Value {
	out := schema.Unknown(f.mustRoot("baseline"), source.Pos{File: "baselines"})
	voids := f.voids(at)
	apply := func(v void) {
		for _, key := range out.Keys {
			for _, p := range v.paths {
				out.Fields[key] = v.without(out.Fields[key], p.Text, "baseline."+key)
			}
		}
	}
	for _, r := range f.Of("baseline") {
		if r.At.After(at) {
			continue
		}
		for len(voids) > 0 && f.before(voids[0].record, r) {
			apply(voids[0])
			voids = voids[1:]
		}
		on := fitted.Where(r.text("serial")) != ""
		for _, key := range r.Body.Keys {
			switch v := r.Body.Fields[key]; {
			case key == "serial" || key == "from_run": // of this record, not of the join
			case on:
				set(out, key, joined(out.Fields[key], v))
			default:
				set(out, key, beside(out.Fields[key], v, r.File))
			}
		}
	}
	for _, v := range voids {
		apply(v)
	}
	return out
}

// beside is what there is of a baseline value and, where there is none, the gap that one leaves whose serial is not on the car.
func beside(old, off *schema.Value, record string) *schema.Value {
	switch {
	case off.Type.Kind == schema.Map && !off.Unknown:
		if old == nil || old.Unknown {
			old = schema.Unknown(off.Type, off.Pos)
		}
		return over(old, off, func(old, off *schema.Value) *schema.Value { return beside(old, off, record) })
	case old != nil:
		return old
	}
	gap := schema.Unknown(off.Type, off.Pos)
	gap.Record = record
	return gap
}

func (f *Folder) lockoutRoot(at time.Time) *schema.Value {
	t := f.mustRoot("lockout")
	out := schema.Unknown(t, source.Pos{File: "lockouts"})
	locked := f.LockedOut(at)
	for _, system := range t.Order {
		pos := out.Pos
		r := locked[system]
		if r != nil {
			pos = r.Pos
		}
		v := truth(t.Fields[system], pos, r != nil)
		if r != nil {
			v.Record = r.File
		}
		set(out, system, v)
	}
	return out
}

// tripsRoot is the trip sheet of the map that the setup sheet names.
func (f *Folder) tripsRoot() *schema.Value {
	engine := f.root("setup").Get("maps.engine")
	if d := f.docs["trips/"+text(engine)]; d != nil {
		if v := d.value.Fields["trips"]; v != nil {
			return v
		}
	}
	v := schema.Unknown(f.mustRoot("trips"), engine.Pos)
	if engine.Unknown {
		v.Pos = source.Pos{File: "trips"}
	}
	return v
}

func (f *Folder) weatherRoot(at time.Time) *schema.Value {
	out := schema.Unknown(f.mustRoot("weather"), source.Pos{File: "weather"})
	for _, r := range f.Of("weather") {
		if !r.At.After(at) {
			out = r.Body
		}
	}
	return out
}

func (f *Folder) faultsRoot(at time.Time) *schema.Value {
	t := f.mustRoot("faults")
	out := schema.Unknown(t, source.Pos{File: "faults"})
	all := &schema.Value{Type: t.Fields["all"], Pos: out.Pos}
	open, withoutJob := 0, 0
	for _, entry := range f.Faults(at) {
		isOpen := entry.Cleared == nil
		if isOpen {
			open++
			if entry.Job == "" {
				withoutJob++
			}
		}
		et := all.Type.Elem
		v := &schema.Value{Type: et, Pos: entry.Opened.Pos, Record: entry.Opened.File}
		for _, k := range []string{"no", "what", "run"} {
			if w := entry.Opened.Body.Fields[k]; w != nil {
				set(v, k, w)
			}
		}
		set(v, "system", word(et.Fields["system"], v.Pos, entry.Opened.text("system")))
		set(v, "open", truth(et.Fields["open"], v.Pos, isOpen))
		set(v, "job", word(et.Fields["job"], v.Pos, entry.Job))
		all.Items = append(all.Items, v)
	}
	set(out, "open", whole(t.Fields["open"], out.Pos, open))
	set(out, "without_job", whole(t.Fields["without_job"], out.Pos, withoutJob))
	set(out, "all", all)
	return out
}

func (f *Folder) jobsRoot(at time.Time) *schema.Value {
	t := f.mustRoot("jobs")
	out := schema.Unknown(t, source.Pos{File: "jobs"})
	all := &schema.Value{Type: t.Fields["all"], Pos: out.Pos}
	open, run, event := 0, 0, 0
	for _, j := range f.Jobs(at) {
		before := text(j.open("before"))
		if j.Closed == nil {
			open++
			switch before {
			case "next event":
				event++
			case "next rebuild":
			default: // "next run", or unknown, which must not let the car out
				run++
				event++
			}
		}
		et := all.Type.Elem
		v := &schema.Value{Type: et, Pos: j.Opened.Pos, Record: j.Opened.File}
		set(v, "no", word(et.Fields["no"], v.Pos, j.No))
		for _, k := range []string{"what", "system", "before", "owner"} {
			set(v, k, word(et.Fields[k], v.Pos, text(j.open(k))))
		}
		set(v, "open", truth(et.Fields["open"], v.Pos, j.Closed == nil))
		all.Items = append(all.Items, v)
	}
	set(out, "open", whole(t.Fields["open"], out.Pos, open))
	set(out, "before_next_run", whole(t.Fields["before_next_run"], out.Pos, run))
	set(out, "before_next_event", whole(t.Fields["before_next_event"], out.Pos, event))
	set(out, "all", all)
	return out
}
