package life

import (
	"math"

	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
	"github.com/paintmark/paintmark/internal/trade"
)

// Lives are those of parts like one: written in the register beside its limit, and those of
// the register's own parts of its kind, the part itself among them.
type Lives struct {
	Known []trade.Lifetime // in the meter's unit
	// Unclear names parts of its kind of whose life nobody wrote enough, and what.
	Unclear []string

	written *schema.Value // nil where the register has only its own parts
}

// Failed is how many of them failed.
func (l *Lives) Failed() (n int) {
	for _, t := range l.Known {
		if t.Failed() {
			n++
		}
	}
	return n
}

// Risk is the chance that a part fails in the planned runs, from the lives of parts like it:
// those that failed, and those that were taken off whole or still run.
type Risk struct {
	Chance          Amount // share
	Failed, Running int
	Shape           float64 // of the Weibull distribution: above 1, parts wear out

	weibull trade.Weibull
}

// readLives reads the lives written beside a limit; nil where there are none.
func (b *book) readLives(m *Meter, v *schema.Value) *Lives {
	if v == nil || v.Unknown {
		return nil
	}
	l := &Lives{written: v}
	for _, key := range []string{"failed", "running"} {
		for _, i := range items(v.Fields[key]) {
			n, ok := m.read(i, &b.faults)
			if !ok {
				return nil
			}
			t := trade.Lifetime{Low: n, High: n}
			if key == "running" {
				t.High = math.Inf(1)
			}
			l.Known = append(l.Known, t)
		}
	}
	return l
}

// likes gathers the lives of parts like each, once all that happened is posted, and fits them.
func (b *book) likes() {
	for _, p := range b.parts {
		for _, l := range p.Limits {
			if l.Meter != nil {
				b.like(p, l)
			}
		}
	}
}

func (b *book) like(p *Part, l *Limit) {
	ended := l.Lives != nil
	own := &Lives{}
	for _, q := range b.parts {
		if q.Kind != p.Kind || q.Kind == "" {
			continue
		}
		used, counts := q.usedOf(l)
		retired := q.Gone == "was retired"
		failed, said := false, false
		if retired {
			ended = ended || counts
			failed, said = yes(q.failed), q.failed != nil && !q.failed.Unknown
		}
		switch {
		case retired && !said:
			own.Unclear = append(own.Unclear, q.Serial+" retired, failed or whole not written")
		case failed && (!counts || math.IsInf(used.High, 1)):
			own.Unclear = append(own.Unclear, q.Serial+" failed, "+l.Name()+" not known")
		case failed:
			own.Known = append(own.Known, trade.Lifetime{Low: used.Low, High: used.High})
		case counts && used.Low > 0:
			own.Known = append(own.Known, trade.Lifetime{Low: used.Low, High: math.Inf(1)})
		}
	}
	if !ended {
		return // nothing of its kind that counts this has ended, and nobody wrote of others
	}
	if l.Lives == nil {
		l.Lives = own
	} else {
		l.Lives.Known = append(l.Lives.Known, own.Known...)
		l.Lives.Unclear = own.Unclear
	}
	if len(l.Lives.Unclear) > 0 {
		return
	}
	w, err := trade.FitWeibull(l.Lives.Known)
	switch {
	case err == nil:
		l.Risk = &Risk{Failed: l.Lives.Failed(), Running: len(l.Lives.Known) - l.Lives.Failed(), Shape: w.Shape, weibull: w.Weibull}
	case l.Lives.written != nil:
		b.faults = append(b.faults, source.Fault{Pos: l.Lives.written.Pos, What: "these lives give no chance of failing: " + err.Error(), Remedy: "write more of them, or take lives out"})
	}
}

// usedOf is what a part has used of that which a limit of another of its kind counts.
func (p *Part) usedOf(l *Limit) (used Amount, counts bool) {
	for _, own := range p.Limits {
		if own.Meter == l.Meter && own.Since == l.Since {
			return own.Used, true
		}
	}
	for _, t := range p.Totals {
		if t.Meter == l.Meter && l.Since == "overhaul" {
			return t.SinceOverhaul, true
		} else if t.Meter == l.Meter {
			return t.Used, true
		}
	}
	return Amount{}, false
}

// ahead is the chance of failing in what is planned, for a part that has reached what it used.
// It grows or falls with the life reached, as the shape has it, and grows with what is planned.
func (r *Risk) ahead(used, planned Amount) {
	r.Chance = Amount{0, 1, true}
	if math.IsInf(used.High, 1) || math.IsInf(planned.High, 1) {
		return
	}
	x := r.weibull.Risk(used.Low, planned.Low)
	y := r.weibull.Risk(used.High, planned.Low)
	low := min(x, y)
	x = r.weibull.Risk(used.Low, planned.High)
	y = r.weibull.Risk(used.High, planned.High)
	r.Chance = Amount{low, max(x, y), used.Estimated}
}
