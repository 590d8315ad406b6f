package life

import (
	"cmp"
	"math"
	"slices"
	"time"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
)

// Run is a run sheet as life reads it.
type Run struct {
	No      int
	Session string
	Kind    string
	Start   time.Time
	Record  *car.Record
	// Used is what it used of each meter, in the order of the meters.
	Used []Amount
	// Only are the parts that ran when it was not the car, as an engine on the dyno.
	Only []string

	event   string // the event it belongs to, "" for none
	aborted bool
	events  map[string]bool // what happened on it; false where it may have happened
	open    [][]float64     // residue of each damage meter; nil without any
}

// Filled is a meter that a run did not count.
type Filled struct {
	Run    int
	Meter  *Meter
	Used   Amount
	Source string // "" where nothing bounds it
}

// readRuns reads the run sheets up to a time, by number.
func (b *book) readRuns() {
	for _, r := range b.folder.Of("run") {
		if r.At.After(b.at) {
			continue
		}
		if no := r.Body.Fields["no"]; no == nil || no.Unknown {
			continue
		}
		run := &Run{
			No: int(r.Body.Fields["no"].Int), Session: text(r.Body.Fields["session"]), Kind: text(r.Body.Fields["kind"]),
			Start: r.At, Record: r, aborted: r.Body.Fields["aborted"] != nil,
		}
		if s := r.Body.Fields["started"]; s != nil && !s.Unknown {
			run.Start = s.Time
		}
		for _, s := range items(r.Body.Fields["parts"]) {
			if !s.Unknown {
				run.Only = append(run.Only, s.Text)
			}
		}
		run.event = text(r.Body.Fields["event"])
		if run.event == "" && run.Session != "" {
			run.event = b.eventOf(run.Start)
		}
		b.runs = append(b.runs, run)
	}
	slices.SortStableFunc(b.runs, func(x, y *Run) int { return cmp.Compare(x.No, y.No) })
	seen := map[string]bool{}
	for _, run := range b.runs {
		first := run.event != "" && !seen[run.event]
		seen[run.event] = true
		b.post(run, first)
	}
}

// eventOf names the event a session of a day belongs to: the plan's own where the day lies
// in it, else the day.
func (b *book) eventOf(start time.Time) string {
	day := b.folder.EventDay(start)
	if b.plan.name != "" && !day.Before(b.plan.first) && !day.After(b.plan.last) {
		return b.plan.name
	}
	return day.Format(time.DateOnly)
}

// post reads what a run used. A meter that its sheet does not name counts nothing where the
// meter leaves out such runs, and one counted by the plan counts once an event. Any other
// was missed: what the sheet or meters.yaml puts in its place bounds it.
func (b *book) post(run *Run, firstOfEvent bool) {
	body := run.Record.Body
	meters, filled, residues := body.Fields["meters"], body.Fields["filled"], body.Fields["residues"]
	run.Used = make([]Amount, len(b.meters))
	for i, m := range b.meters {
		if m.damage != nil && run.open == nil {
			run.open = make([][]float64, len(b.meters))
		}
		written := field(meters, m.Name)
		if v, ok := m.read(written, &b.faults); ok {
			if v < 0 {
				b.faults.Add(written.Pos, m.Name+" is below zero", "a run cannot give life back; look at the sign")
				v = 0
			}
			run.Used[i] = counted(v)
			if m.damage != nil {
				run.open[i] = residue(field(residues, m.Name), &b.faults)
			}
			continue
		}
		switch {
		case written == nil && m.leavesOut(run):
		case written == nil && m.ByPlan:
			if firstOfEvent {
				run.Used[i] = counted(1)
			}
		default:
			run.Used[i] = b.fill(run, m, field(filled, m.Name))
		}
	}
	run.events = map[string]bool{}
	for i, m := range b.meters {
		if m.event != "" && run.Used[i].High > 0 {
			run.events[m.event] = run.Used[i].Low > 0
		}
	}
	for _, e := range items(body.Fields["events"]) {
		if !e.Unknown {
			b.knows(e.Text, e.Pos)
			run.events[e.Text] = true
		}
	}
}

func field(v *schema.Value, key string) *schema.Value {
	if v == nil || v.Unknown {
		return nil
	}
	return v.Fields[key]
}

// leavesOut says that a meter does not count runs of this kind.
func (m *Meter) leavesOut(run *Run) bool {
	if len(m.Includes) == 0 {
		return false
	}
	if run.Kind == "stands" || run.Kind == "dyno" {
		return !slices.Contains(m.Includes, "stands")
	}
	return !slices.ContainsFunc(m.Includes, func(kind string) bool { return kind == "run" || kind == "warm-up" || kind == "return" })
}

// fill puts bounds in the place of what was not counted.
func (b *book) fill(run *Run, m *Meter, onSheet *schema.Value) Amount {
	f := Filled{Run: run.No, Meter: m, Used: unknown()}
	if a, ok := m.bounds(onSheet, &b.faults); ok {
		f.Used, f.Source = a, text(onSheet.Fields["source"])
	} else if m.substitute != nil {
		f.Used, f.Source = *m.substitute, m.source
	}
	b.filled = append(b.filled, f)
	return f.Used
}

// residue reads the turning points that a run left open, in Pa.
func residue(v *schema.Value, faults *source.Faults) []float64 {
	var out []float64
	for _, i := range items(v) {
		if s, ok := stress(i, faults); ok {
			out = append(out, s)
		}
	}
	return out
}

// notBroughtIn lists the run numbers between the first and the newest that have no sheet.
func notBroughtIn(runs []*Run) []int {
	var out []int
	for i := 1; i < len(runs); i++ {
		for no := runs[i-1].No + 1; no < runs[i].No && len(out) < mostMissing; no++ {
			out = append(out, no)
		}
	}
	return out
}

// mostMissing keeps a slip in a run number from filling the sheet.
const mostMissing = 100

// recent gives the least and the most that each of the last few runs used of a meter, for
// the plan where it says nothing. ok is false before the first run.
func (b *book) recent(meter int) (a Amount, from, to int, ok bool) {
	const few = 5
	a.Low = math.Inf(1)
	n := 0
	for _, r := range slices.Backward(b.runs) {
		if len(r.Only) > 0 || r.aborted || r.Kind == "stands" || r.Kind == "dyno" {
			continue
		}
		if n++; n == 1 {
			to = r.No
		}
		u := r.Used[meter]
		a.Low, a.High, a.Estimated = min(a.Low, u.Low), max(a.High, u.High), a.Estimated || u.Estimated
		if from = r.No; n == few {
			break
		}
	}
	return a, from, to, n > 0
}
