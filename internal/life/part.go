package life

import (
	"fmt"
	"math"
	"time"

	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
	"github.com/paintmark/paintmark/internal/trade"
)

// Part is one part of the register with what it has used of its life.
type Part struct {
	Serial, Kind string
	NoGo         bool // nobody may accept an overrun
	Position     string
	Inside       string // assembly it is inside, "" if none
	Fitted       bool
	Gone         string // "was retired", "left this car", "" if neither
	Estimated    bool   // some of the life that counts is estimated
	Totals       []Total
	Limits       []*Limit
	Inspections  []*Inspection
	Spells       []*Spell
	Pos          source.Pos

	retired  *schema.Value // what the register says of that; nil if nothing
	failed   *schema.Value // whether it had failed when it was retired; nil if nobody wrote it
	counters []*counter    // every one that a run is posted to
	first    time.Time     // day it was first fitted; zero if it never was
}

// Total is what a part has used of one meter, back to birth and since its last overhaul.
type Total struct {
	Meter               *Meter
	Used, SinceOverhaul Amount
	Planned             Amount // what the planned runs use

	total, overhaul *counter
}

// A counter adds up one meter from some moment on.
type counter struct {
	meter int
	weigh map[string]float64 // by event: how many times such a run counts
	used  Amount

	overhauled bool // starts again at an overhaul
	done       *inspectionMeter

	open []float64 // damage meters: the turning points left open
}

// post adds what a run used.
func (c *counter) post(b *book, r *Run) {
	used := r.Used[c.meter]
	for event, times := range c.weigh {
		if certain, happened := r.events[event]; happened && certain {
			used = used.times(times, times)
		} else if happened {
			used = used.times(1, times)
		}
	}
	c.used = c.used.plus(used)
	if m := b.meters[c.meter]; m.damage != nil && len(r.open[c.meter]) > 0 {
		// A cycle that spans two runs closes here, and counts once.
		cycles, open := trade.ClosedCycles(append(c.open, r.open[c.meter]...))
		c.open = open
		c.used = c.used.plus(damageOf(m, cycles))
	}
}

func damageOf(m *Meter, cycles []trade.Cycle) Amount {
	d := m.damage(cycles)
	if math.IsNaN(d) { // off the line: nobody knows
		return unknown()
	}
	return counted(d)
}

// now is the amount with what open cycles may still come to.
func (c *counter) now(b *book) Amount {
	m := b.meters[c.meter]
	if m.damage == nil || len(c.open) < 2 {
		return c.used
	}
	var cycles []trade.Cycle
	for i := 1; i < len(c.open); i++ {
		x, y := c.open[i-1], c.open[i]
		cycles = append(cycles, trade.Cycle{Range: math.Abs(y - x), Mean: (x + y) / 2, Count: 1})
	}
	most := damageOf(m, cycles)
	return Amount{c.used.Low, c.used.High + most.High, c.used.Estimated || most.Estimated}
}

// readParts reads the register.
func (b *book) readParts() {
	for _, v := range items(b.document("parts")) {
		serial := text(v.Fields["serial"])
		if serial == "" {
			continue
		}
		p := &Part{Serial: serial, Kind: text(v.Fields["kind"]), NoGo: yes(v.Fields["no_go_part"]), Pos: v.Pos}
		if unsaid := v.Fields["no_go_part"]; unsaid == nil || unsaid.Unknown {
			p.NoGo = true // until somebody says that its failing hurts nobody
		}
		if p.retired = v.Fields["retired"]; p.retired != nil {
			p.failed = field(p.retired, "failed")
		}
		b.parts = append(b.parts, p)
		b.bySerial[serial] = p
		start := b.registered(v.Fields["at_register"])
		for i := range b.meters {
			if a, tracked := start[i]; tracked {
				b.total(p, i).used = a
			}
		}
		for _, l := range items(v.Fields["limits"]) {
			b.readLimit(p, l)
		}
		for _, i := range items(v.Fields["inspect"]) {
			b.readInspection(p, i, v.Fields["at_register"])
		}
		for i, a := range b.sinceOverhaul(v.Fields["at_register"]) {
			b.total(p, i)
			for _, c := range p.counters {
				if c.meter == i && c.overhauled {
					c.used = a
				}
			}
		}
	}
}

// registered reads the life a part came with. A band is either way; an estimate without
// one is still an estimate; what is written as unknown has no upper bound.
func (b *book) registered(v *schema.Value) map[int]Amount {
	out := map[int]Amount{}
	used, band := field(v, "used"), field(v, "band")
	if used == nil || used.Unknown {
		return out
	}
	estimated := text(field(v, "as")) != "counted"
	for _, name := range used.Keys {
		i, ok := b.index[name]
		if !ok {
			continue // said when the folder was read
		}
		n, known := b.meters[i].read(used.Fields[name], &b.faults)
		if !known {
			out[i] = unknown()
			continue
		}
		a := Amount{n, n, estimated}
		if w, ok := b.meters[i].read(field(band, name), &b.faults); ok {
			a.Low, a.High = max(0, n-w), n+w
		}
		out[i] = a
	}
	return out
}

func (b *book) sinceOverhaul(v *schema.Value) map[int]Amount {
	out := map[int]Amount{}
	used := field(v, "since_overhaul")
	if used == nil || used.Unknown {
		return out
	}
	for _, name := range used.Keys {
		if i, ok := b.index[name]; ok {
			if n, known := b.meters[i].read(used.Fields[name], &b.faults); known {
				out[i] = counted(n)
			} else {
				out[i] = unknown()
			}
		}
	}
	return out
}

// total is the counter of a part's whole life by a meter; one that the register does not
// name starts unknown, which is not zero.
func (b *book) total(p *Part, meter int) *counter {
	for i := range p.Totals {
		if p.Totals[i].Meter == b.meters[meter] {
			return p.Totals[i].total
		}
	}
	t := Total{Meter: b.meters[meter], total: &counter{meter: meter, used: unknown()}}
	p.Totals = append(p.Totals, t)
	p.counters = append(p.counters, t.total)
	return t.total
}

// overhaul is the counter of a part's life since its last overhaul: its whole life before the first.
func (b *book) overhaul(p *Part, meter int) *counter {
	total := b.total(p, meter)
	for i := range p.Totals {
		t := &p.Totals[i]
		if t.total == total && t.overhaul == nil {
			t.overhaul = &counter{meter: meter, used: total.used, overhauled: true}
			p.counters = append(p.counters, t.overhaul)
		}
		if t.total == total {
			return t.overhaul
		}
	}
	return nil
}

// span is a written calendar span and the day it counts from.
type span struct {
	text string
	from time.Time
	ok   bool // from is known
}

// ends is the last day of a span; zero where it is not known.
func (s span) ends() time.Time {
	end, ok := schema.AddSpan(s.from, s.text)
	if !s.ok || !ok {
		return time.Time{}
	}
	return end
}

// used is how much of a span has gone by on a day, in days, and how long it is. Without a
// day, as before the first record, nobody knows.
func (s span) used(day time.Time) (used Amount, whole float64) {
	end := s.ends()
	if end.IsZero() || day.IsZero() {
		return unknown(), math.Inf(1)
	}
	return counted(max(0, days(s.from, day))), days(s.from, end)
}

func days(from, to time.Time) float64 { return math.Round(to.Sub(from).Hours() / 24) }

// meterOf finds a meter by its name, or says that there is none.
func (b *book) meterOf(v *schema.Value) (int, bool) {
	i, ok := b.index[text(v)]
	if !ok && text(v) != "" && len(b.meters) == 0 {
		b.faults.Add(v.Pos, fmt.Sprintf("%s cannot be counted: there is no meters.yaml", v.Text), "write it: how each meter is counted")
	}
	return i, ok
}
