package life

import (
	"math"
	"time"

	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
)

// Limit is one life limit of a part, with what was used of it and what the plan will use.
type Limit struct {
	Meter *Meter // nil for the calendar
	Since string // new | overhaul
	Life  float64
	// Used and the rest are in the meter's unit; days for the calendar.
	Used, Planned Amount
	// RunsLeft is how many more planned runs it stands; infinite where they use nothing of it.
	RunsLeft Amount
	// Falls is the session of the plan in which it falls at worst: "" for none, Now where
	// it has fallen.
	Falls string
	Ends  time.Time // last day of a calendar life
	// From says what the forecast rests on where it is not the plan: "runs 55 to 57".
	From   string
	Source string
	Lives  *Lives // nil where nothing like it has ended and nobody wrote of others
	Risk   *Risk  // nil without lives that make a fit
	Pos    source.Pos

	counter *counter
	span    span
	falls   int // index of the session it falls in, for sorting
}

// Now is the session of a limit that has fallen already.
const Now = "now"

// Name is the meter's name.
func (l *Limit) Name() string {
	if l.Meter == nil {
		return Calendar
	}
	return l.Meter.Name
}

// Unit is the unit of its amounts, "" for a bare number.
func (l *Limit) Unit() string { return unitOf(l.Meter) }

func unitOf(m *Meter) string {
	switch {
	case m == nil:
		return "d"
	case m.plain():
		return ""
	}
	return m.Unit
}

// WithPlan is what will be used after the planned runs.
func (l *Limit) WithPlan() Amount { return l.Used.plus(l.Planned) }

func (b *book) readLimit(p *Part, v *schema.Value) {
	if v.Unknown {
		return
	}
	l := &Limit{Since: "new", Source: text(v.Fields["source"]), Pos: v.Pos}
	if text(v.Fields["since"]) == "overhaul" {
		l.Since = "overhaul"
	}
	if text(v.Fields["meter"]) == Calendar {
		l.span = span{text: text(v.Fields["life"])}
		if f := v.Fields["from"]; f != nil {
			l.span.from, l.span.ok = f.Time, !f.Unknown
		}
		if _, ok := schema.AddSpan(b.today, l.span.text); !ok && l.span.text != "" {
			b.faults.Add(v.Fields["life"].Pos, l.span.text+" is no span of days, weeks, months or years", "write it as 24 mo")
			return
		}
		p.Limits = append(p.Limits, l)
		return
	}
	i, ok := b.meterOf(v.Fields["meter"])
	if !ok {
		return
	}
	l.Meter, l.Life = b.meters[i], math.NaN()
	if n, ok := l.Meter.read(v.Fields["life"], &b.faults); ok {
		l.Life = n
	}
	start := b.total(p, i)
	if l.Since == "overhaul" {
		start = b.overhaul(p, i)
	}
	l.counter = start
	if weigh := b.weights(v.Fields["weigh"]); len(weigh) > 0 {
		l.counter = &counter{meter: i, weigh: weigh, used: start.used, overhauled: start.overhauled}
		p.counters = append(p.counters, l.counter)
	}
	l.Lives = b.readLives(l.Meter, v.Fields["lives"])
	p.Limits = append(p.Limits, l)
}

func (b *book) weights(v *schema.Value) map[string]float64 {
	if v == nil || v.Unknown {
		return nil
	}
	out := map[string]float64{}
	for _, k := range v.Keys {
		if w := v.Fields[k]; !w.Unknown {
			out[k] = w.High
			b.knows(k, w.Pos)
		}
	}
	return out
}

// Left is what is left of it; below zero when it is overrun.
func (l *Limit) Left() Amount { return l.Used.left(l.Life) }

// IsOver says for sure that more was used than it allows.
func (l *Limit) IsOver() bool { return over(l.Used.Low, l.Life) }

// MayBeOver says that more may have been used than it allows.
func (l *Limit) MayBeOver() bool { return over(l.Used.High, l.Life) }
