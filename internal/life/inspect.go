package life

import (
	"fmt"
	"math"
	"slices"
	"time"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
)

// Inspection is one inspection of a part. Doing it starts its interval again and never
// touches the part's life.
type Inspection struct {
	What  string
	After []string // events that call for it at once
	Every []*Interval
	// Opened says which event called for it and was not answered yet: "over-rev on run 58".
	Opened string
	// Maybe: it cannot be told whether that event happened.
	Maybe bool
	Last  time.Time // day it was last done, zero if nobody wrote it
	Pos   source.Pos

	openedRun int
}

// Interval is how often an inspection is due by one meter.
type Interval struct {
	Limit // Life is the interval, Used what has gone by since it was last done
	done  *inspectionMeter
}

// inspectionMeter counts since an inspection: from the total where the register says what
// was used then, else from the day.
type inspectionMeter struct {
	counter *counter
	total   *counter
	base    float64
	byTotal bool
	day     time.Time // runs of an earlier day do not count; zero: all do
}

func (b *book) readInspection(p *Part, v, register *schema.Value) {
	if v.Unknown || text(v.Fields["what"]) == "" {
		return
	}
	ins := &Inspection{What: text(v.Fields["what"]), Pos: v.Pos}
	for _, a := range items(v.Fields["after"]) {
		if !a.Unknown {
			ins.After = append(ins.After, a.Text)
			b.knows(a.Text, a.Pos)
		}
	}
	last := v.Fields["last"]
	if at := field(last, "at"); at != nil && !at.Unknown {
		ins.Last = at.Time
	}
	every := v.Fields["every"]
	if every != nil && !every.Unknown {
		for _, name := range every.Keys {
			b.readInterval(p, ins, name, every.Fields[name], field(last, "used"), register)
		}
	}
	p.Inspections = append(p.Inspections, ins)
}

func (b *book) readInterval(p *Part, ins *Inspection, name string, every, lastUsed, register *schema.Value) {
	iv := &Interval{Limit: Limit{Since: "inspection", Pos: every.Pos, Life: math.NaN()}}
	if name == Calendar {
		iv.span = span{text: every.Text, from: ins.Last, ok: !ins.Last.IsZero()}
		if _, ok := schema.AddSpan(b.today, every.Text); !ok && !every.Unknown {
			b.faults.Add(every.Pos, every.Text+" is no span of days, weeks, months or years", "write it as 12 mo")
			return
		}
		ins.Every = append(ins.Every, iv)
		return
	}
	i, ok := b.index[name]
	if !ok {
		return // said when the folder was read
	}
	iv.Meter = b.meters[i]
	if n, ok := iv.Meter.read(every, &b.faults); ok {
		iv.Life = n
	}
	done := &inspectionMeter{counter: &counter{meter: i}}
	iv.done, done.counter.done = done, done
	total, registered := b.totalIf(p, i)
	base, said := iv.Meter.read(field(lastUsed, name), &b.faults)
	switch {
	case said && registered && !math.IsInf(total.used.High, 1):
		done.total, done.base, done.byTotal = total, base, true
	case !ins.Last.IsZero() && !ins.Last.Before(b.registerDay(register)):
		// Everything since is in the run sheets.
		done.day = ins.Last
	case registered:
		// Done at some point of a life we know: at most all of it has gone by since.
		done.counter.used = Amount{0, total.used.High, true}
	default:
		done.counter.used = unknown()
	}
	if !done.byTotal {
		p.counters = append(p.counters, done.counter)
	}
	ins.Every = append(ins.Every, iv)
}

// totalIf is the counter of a meter the register names.
func (b *book) totalIf(p *Part, meter int) (*counter, bool) {
	for i := range p.Totals {
		if p.Totals[i].Meter == b.meters[meter] {
			return p.Totals[i].total, true
		}
	}
	return nil, false
}

// registerDay is the day to which the register's figures stand: the one it names, else the
// day of the first record.
func (b *book) registerDay(register *schema.Value) time.Time {
	if at := field(register, "at"); at != nil && !at.Unknown {
		return at.Time
	}
	if len(b.folder.Records) == 0 {
		return b.today
	}
	return b.folder.EventDay(b.folder.Records[0].At)
}

// counts says how a run of a day counts since an inspection: of the same day nobody knows.
func (d *inspectionMeter) counts(day time.Time) (low, high float64) {
	switch {
	case day.Before(d.day):
		return 0, 0
	case day.Equal(d.day):
		return 0, 1
	}
	return 1, 1
}

// now is what has gone by since.
func (d *inspectionMeter) now(b *book) Amount {
	if d.byTotal {
		return d.total.now(b).since(d.base)
	}
	return d.counter.now(b)
}

// reset starts the interval again with a record of a moment.
func (d *inspectionMeter) reset(p *Part) {
	if d.byTotal {
		d.byTotal = false
		p.counters = append(p.counters, d.counter)
	}
	d.day = time.Time{}
	*d.counter = counter{meter: d.counter.meter, done: d}
}

// happened opens the inspections that an event of a run calls for.
func (b *book) happened(p *Part, r *Run) {
	for _, ins := range p.Inspections {
		if b.folder.EventDay(r.Start).Before(ins.Last) {
			continue // the register says that it was done since
		}
		for _, event := range ins.After {
			certain, did := r.events[event]
			if !did || ins.Opened != "" && !ins.Maybe {
				continue // the first one stands until it is answered
			}
			if ins.Opened != "" && !certain {
				continue
			}
			ins.Opened, ins.Maybe, ins.openedRun = fmt.Sprintf("%s on run %d", event, r.No), !certain, r.No
		}
	}
}

// inspected plays a record that says an inspection was done.
func (b *book) inspected(r *car.Record, line *schema.Value, passed bool) {
	p := b.bySerial[text(line.Fields["serial"])]
	what := line.Fields["what"]
	if p == nil || text(what) == "" {
		return
	}
	i := slices.IndexFunc(p.Inspections, func(ins *Inspection) bool { return ins.What == what.Text })
	if i < 0 {
		var known []string
		for _, ins := range p.Inspections {
			known = append(known, ins.What)
		}
		remedy := "the register lists no inspection of it"
		if near := source.Nearest(what.Text, known); near != "" {
			remedy = "did you mean " + near
		} else if len(known) > 0 {
			remedy = "it has " + list(known)
		}
		b.faults.Add(what.Pos, fmt.Sprintf("%s has no inspection %q", p.Serial, what.Text), remedy)
		return
	}
	ins := p.Inspections[i]
	if !passed {
		ins.Opened, ins.Maybe = "not fit on "+b.folder.EventDay(r.At).Format(time.DateOnly), false
		return
	}
	ins.Opened, ins.Maybe = "", false
	ins.Last = b.folder.EventDay(r.At)
	for _, iv := range ins.Every {
		if iv.done != nil {
			iv.done.reset(p)
		} else {
			iv.span.from, iv.span.ok = ins.Last, true
		}
	}
}
