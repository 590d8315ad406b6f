package life

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
)

// Sheet is the life sheet of a car at a time.
type Sheet struct {
	Parts  []*Part // in the order of the register
	Runs   []*Run  // by number
	Meters []*Meter
	// Empty are the places that must be filled and are not; WrongKind those that hold another
	// kind of part than they need.
	Empty, WrongKind []string
	NotBroughtIn     []int
	Owed             []Owed
	Filled           []Filled
	Trends           []Trend
	// First is the limit that falls first of all parts on the car, nil if none has a limit
	// that is known.
	First *First
	// Sessions are those of the plan that still have runs to come.
	Sessions []car.Session
	// Uses is what one planned run uses of each meter, in the order of the meters, and where that comes from.
	Uses     []Amount
	UsesFrom []string
	// Value is the same as the document `life`, as rules and JSON read it.
	Value *schema.Value
}

// Owed is a proof that a change of a place or a job owes, and that no job closed since shows.
type Owed struct {
	Place, Part, Proof string
	Since              *car.Record // the change, or the job's opening
}

// First is the first limit to fall, with its part.
type First struct {
	Part  *Part
	Limit *Limit
}

// Spell is how long a part was in one place: on the car itself, inside an assembly that
// was, or on a bench.
type Spell struct {
	Position string
	Inside   string
	From, To *car.Record // To nil while it still is; From nil for a bench
	Runs     []*Run
}

// Bench is the position of a part that ran off the car.
const Bench = "bench"

// book is a life sheet being worked out.
type book struct {
	folder *car.Folder
	at     time.Time
	today  time.Time // day at the event's place
	faults source.Faults

	meters   []*Meter
	index    map[string]int
	parts    []*Part
	bySerial map[string]*Part
	runs     []*Run
	filled   []Filled
	plan     plan
	events   []string // every event that meters.yaml names
}

// Of works out the life sheet of a car at a time. It always gives a sheet; faults say what
// could not be read into it.
func Of(f *car.Folder, at time.Time) (*Sheet, source.Faults) {
	b := &book{folder: f, at: at, index: map[string]int{}, bySerial: map[string]*Part{}}
	if !at.IsZero() {
		b.today = f.EventDay(at)
	}
	b.readPlan(b.today)
	b.readMeters()
	b.readRuns()
	b.readParts()
	fitted := b.fold()
	sheet := &Sheet{Parts: b.parts, Runs: b.runs, Meters: b.meters, NotBroughtIn: notBroughtIn(b.runs), Filled: b.filled}
	b.likes()
	b.forecast(sheet)
	b.places(sheet, fitted)
	b.trends(sheet, fitted)
	sheet.First = first(sheet)
	sheet.Value = b.value(sheet)
	sheet.setTrends()
	return sheet, b.faults.Sorted()
}

// document is what stands under a document's own key; nil if it was not written.
func (b *book) document(name string) *schema.Value {
	doc := b.folder.Document(name)
	if doc == nil {
		return nil
	}
	return doc.Fields[name]
}

// A step is a run or a record, in the order in which they happened to the parts.
type step struct {
	run    *Run
	record *car.Record
	after  int // run it comes after
}

// steps puts records between runs: by the run they come after, which their time or their
// own words say. The order in which files were read plays no part.
func (b *book) steps() []step {
	var out []step
	for _, r := range b.runs {
		out = append(out, step{run: r, after: r.No})
	}
	for _, r := range b.folder.Records {
		if r.At.After(b.at) || r.Replaced != nil {
			continue
		}
		switch r.Kind {
		case "fitted", "removed", "assembled", "left", "received", "retired", "overhauled", "inspected":
			out = append(out, step{record: r, after: r.Run})
		case "job":
			if closed := r.Body.Fields["closed"]; closed != nil && len(items(closed.Get("inspected"))) > 0 {
				out = append(out, step{record: r, after: r.Run})
			}
		}
	}
	// Records stand in their own order already; at one run number the run comes first.
	slices.SortStableFunc(out, func(x, y step) int { return cmp.Compare(x.after, y.after) })
	return out
}

// fold plays everything that happened and posts each run to the parts that were on the car.
func (b *book) fold() *car.Fitted {
	state := b.folder.Registered(nil)
	open := make([]*Spell, len(b.parts)) // the spell each part is in now
	var on []int                         // parts on the car
	for _, s := range b.steps() {
		if s.run != nil {
			b.postRun(s.run, on, open, state)
			continue
		}
		r := s.record
		switch r.Kind {
		case "job":
			for _, line := range items(r.Body.Get("closed.inspected")) {
				b.inspected(r, line, true)
			}
			continue
		case "inspected":
			b.inspected(r, r.Body, text(r.Body.Fields["result"]) == "fit")
			continue
		case "overhauled":
			b.overhauled(text(r.Body.Fields["serial"]))
			continue
		case "retired":
			if p := b.bySerial[text(r.Body.Fields["serial"])]; p != nil {
				p.failed = r.Body.Fields["failed"]
			}
		case "received", "fitted":
			b.brought(r)
		}
		_, _, _ = state.Apply(r) // what cannot have been was said when the folder was read
		on = on[:0]
		for i, p := range b.parts {
			place, inside := state.Where(p.Serial), state.Inside(p.Serial)
			if place != "" {
				on = append(on, i)
			}
			if was := open[i]; was != nil && (was.Position != place || was.Inside != inside) {
				was.To, open[i] = r, nil
			}
			if place != "" && open[i] == nil {
				open[i] = &Spell{Position: place, Inside: inside, From: r}
				p.Spells = append(p.Spells, open[i])
				if p.first.IsZero() {
					p.first = b.folder.EventDay(r.At)
				}
			}
		}
	}
	for _, p := range b.parts {
		p.Position, p.Inside, p.Gone = state.Where(p.Serial), state.Inside(p.Serial), state.Gone(p.Serial)
		p.Fitted = p.Position != ""
		b.finish(p)
	}
	return state
}

func (b *book) postRun(r *Run, on []int, open []*Spell, state *car.Fitted) {
	if tyres := r.Record.Body.Fields["tyres"]; text(tyres) != "" && b.bySerial[tyres.Text] != nil && state.Where(tyres.Text) == "" {
		b.faults.Add(tyres.Pos, fmt.Sprintf("run %d names tyres %s, which no record has on the car then", r.No, tyres.Text), "write the record that fits them with its time, or correct the sheet")
	}
	if len(r.Only) == 0 {
		for _, i := range on {
			open[i].Runs = append(open[i].Runs, r)
			b.postTo(b.parts[i], r)
		}
		return
	}
	for _, p := range b.parts {
		if !slices.ContainsFunc(r.Only, func(serial string) bool { return within(state, p.Serial, serial) }) {
			continue
		}
		if gone := state.Gone(p.Serial); gone != "" {
			b.faults.Add(r.Record.Body.Fields["parts"].Pos, fmt.Sprintf("run %d counts on %s, which %s", r.No, p.Serial, gone), "look at the serial")
		}
		p.Spells = append(p.Spells, &Spell{Position: Bench, Runs: []*Run{r}})
		b.postTo(p, r)
	}
}

func (b *book) postTo(p *Part, r *Run) {
	day := b.folder.EventDay(r.Start)
	for _, c := range p.counters {
		if c.done != nil && !c.done.day.IsZero() {
			if low, high := c.done.counts(day); low != 1 {
				c.used = c.used.plus(r.Used[c.meter].times(low, high))
				continue
			}
		}
		c.post(b, r)
	}
	if len(r.events) > 0 {
		b.happened(p, r)
	}
}

// within says that a part is another, or inside it at any depth.
func within(state *car.Fitted, part, assembly string) bool {
	for range 32 {
		if part == assembly {
			return true
		}
		if part = state.Inside(part); part == "" {
			return false
		}
	}
	return false
}

// brought takes over the life a part had when it came, back to birth, from the record that says so.
func (b *book) brought(r *car.Record) {
	p := b.bySerial[text(r.Body.Fields["serial"])]
	if p == nil {
		return
	}
	as := r.Body
	said := b.registered(as)
	if r.Kind == "fitted" {
		for i, a := range said { // written by hand at fitting: counted, unless it says otherwise
			a.Estimated = math.IsInf(a.High, 1)
			said[i] = a
		}
	}
	since := b.sinceOverhaul(as)
	for i, now := range said {
		total := b.total(p, i)
		was := total.used
		if !math.IsInf(was.High, 1) && now.High < was.Low-1e-9*math.Abs(was.Low) {
			b.faults.Add(r.Pos, fmt.Sprintf("%s comes with less %s than the %s this car counts for it (%s)", p.Serial, b.meters[i].Name, b.meters[i].Say(was), p.Pos),
				"a life never shrinks; look at both figures")
		}
		for _, c := range p.counters {
			switch {
			case c.meter != i:
			case c.done != nil:
				c.used = c.used.plus(now.grown(was))
			case c.overhauled:
				if a, ok := since[i]; ok {
					c.used = a
				} else {
					c.used = now
				}
			default:
				c.used = now
			}
		}
	}
}

func (b *book) overhauled(serial string) {
	p := b.bySerial[serial]
	if p == nil {
		return
	}
	for i := range p.Totals {
		b.overhaul(p, b.index[p.Totals[i].Meter.Name])
	}
	for _, c := range p.counters {
		if c.overhauled {
			c.used, c.open = Amount{}, nil
		}
	}
}

// finish reads the counters out.
func (b *book) finish(p *Part) {
	if p.retired != nil && p.Gone == "" {
		if day := p.retired.Get("at"); day.Unknown || !day.Time.After(b.plan.day) {
			p.Gone = "was retired"
		}
	}
	for i := range p.Totals {
		t := &p.Totals[i]
		t.Used = t.total.now(b)
		t.SinceOverhaul = t.Used
		if t.overhaul != nil {
			t.SinceOverhaul = t.overhaul.now(b)
		}
	}
	for _, l := range p.Limits {
		if l.counter != nil {
			l.Used = l.counter.now(b)
		} else {
			if !l.span.ok && !p.first.IsZero() {
				l.span.from, l.span.ok = p.first, true
			}
			l.Used, l.Life = l.span.used(b.today)
			l.Ends = l.span.ends()
		}
		p.Estimated = p.Estimated || l.Used.Estimated
	}
	for _, ins := range p.Inspections {
		for _, iv := range ins.Every {
			if iv.done != nil {
				iv.Used = iv.done.now(b)
			} else {
				iv.Used, iv.Life = iv.span.used(b.today)
				iv.Ends = iv.span.ends()
			}
		}
	}
}

// places looks at what every place needs.
func (b *book) places(sheet *Sheet, state *car.Fitted) {
	changes := map[string]*car.Record{}
	for _, c := range b.folder.Changes(b.at) {
		changes[c.Position.Name] = c.Record
	}
	for _, p := range b.folder.Positions {
		serial := state.Serial(p.Name)
		switch part := b.bySerial[serial]; {
		case serial == "" && !p.Optional:
			sheet.Empty = append(sheet.Empty, p.Name)
		case part != nil && part.Kind != p.Needs:
			sheet.WrongKind = append(sheet.WrongKind, fmt.Sprintf("%s holds %s, a %s", p.Name, serial, part.Kind))
		}
		if change := changes[p.Name]; change != nil {
			for _, proof := range p.Owes {
				if !b.shown(proof.Text, change) {
					sheet.Owed = append(sheet.Owed, Owed{p.Name, serial, proof.Text, change})
				}
			}
		}
	}
	for _, j := range b.folder.Jobs(b.at) {
		for _, proof := range items(j.Opened.Body.Get("opened.needs")) {
			if !b.shown(text(proof), j.Opened) && !slices.ContainsFunc(sheet.Owed, func(o Owed) bool { return o.Proof == text(proof) }) {
				sheet.Owed = append(sheet.Owed, Owed{"job " + j.No, "", text(proof), j.Opened})
			}
		}
	}
}

// shown says that a job closed since a change shows a proof.
func (b *book) shown(proof string, change *car.Record) bool {
	for _, j := range b.folder.Jobs(b.at) {
		if j.Closed == nil || j.Closed.At.After(b.at) || j.Closed.At.Before(change.At) {
			continue
		}
		for _, p := range items(j.Closed.Body.Get("closed.proofs")) {
			if text(p) == proof {
				return true
			}
		}
	}
	return false
}

// list joins words as people do.
func list(words []string) string {
	switch n := len(words); n {
	case 0:
		return ""
	case 1:
		return words[0]
	default:
		return strings.Join(words[:n-1], ", ") + " and " + words[n-1]
	}
}

func runsWord(from, to int) string {
	if from == to {
		return fmt.Sprintf("run %d", from)
	}
	return fmt.Sprintf("runs %d to %d", from, to)
}
