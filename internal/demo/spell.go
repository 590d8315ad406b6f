package demo

import "math"

// condition is a truth about the model. slack loosens it by that many bounds of its
// sensors: 0 is how it is, 1 how it may look through them, −1 how it must.
type condition func(m *model, slack float64) bool

// spell finds the longest time a thing is true, and how long sampling can make it.
type spell struct {
	Extreme
	period     int // ms
	when       condition
	began      float64
	is         bool
	total      int // ms
	may, must  int // samples in a row
	most, sure int // the most of them in a row
	all, least int // and in all
}

func (s *spell) look(m *model, t float64, hidden bool) {
	is := s.when(m, 0)
	if is {
		s.total++
		if !s.is {
			s.began = t
			s.Seen++
		}
		if lasts := t + step - s.began; lasts > s.Value {
			s.Value, s.At = lasts, s.began
		}
	}
	s.is = is
	if m.ms%s.period != 0 || hidden {
		return
	}
	s.may++
	s.must++
	if s.when(m, 1) {
		s.all++
	} else {
		s.may = 0
	}
	if s.when(m, -1) {
		s.least++
	} else {
		s.must = 0
	}
	s.most, s.sure = max(s.most, s.may), max(s.sure, s.must)
}

// longest adds a period either way: a sample says nothing about the time around it.
func (s *spell) longest(gap bool) Extreme {
	e, period := s.Extreme, float64(s.period)/1000
	e.Unit = "s"
	e.Low, e.High = max(float64(s.sure-1)*period, 0), 0
	if s.most > 0 {
		e.High = float64(s.most+1) * period
	}
	if gap { // a spell may go on through the gap, or be cut by it
		e.Low, e.High = 0, math.Inf(1)
	}
	return e
}

// inAll is how long it is true in all.
func (s *spell) inAll() Extreme {
	e, period := s.Extreme, float64(s.period)/1000
	e.Unit, e.Value, e.At, e.Seen = "s", float64(s.total)*step, 0, s.total
	e.Low, e.High = float64(s.least)*period, float64(s.all)*period
	return e
}

// reaction finds the longest time from a thing becoming true until another is true.
type reaction struct {
	Extreme
	trigger, reacted             condition
	triggerPeriod, reactedPeriod int // ms
	was, pending                 bool
	since                        float64
	each                         []Moment // every one that took time and ended
	sampled                      sampledReaction
}

// sampledReaction is the same through the eyes of the logger.
type sampledReaction struct {
	may, must float64 // s, the first sample that may, and that must, show the trigger
	soonest   float64 // s, the first sample that may show the reaction
	wasMust   bool    // the trigger surely stood in the sample before
	wasClear  bool    // it surely did not stand in some sample since
	mayReact  bool    // as last sampled
	mustReact bool
	gapped    bool // the logger was away meanwhile
	low, high float64
}

func (r *reaction) look(m *model, t float64, hidden bool) {
	is := r.trigger(m, 0)
	if is && !r.was {
		r.Seen++
		if !r.pending { // a trigger while an earlier one is unanswered changes nothing
			r.pending, r.since = true, t
		}
	}
	r.was = is
	if r.pending && r.reacted(m, 0) {
		r.pending = false
		if took := t - r.since; took > 0 {
			r.each = append(r.each, Moment{r.since, took})
			if took > r.Value {
				r.Value, r.At = took, r.since
			}
		}
	}
	if m.ms%r.reactedPeriod == 0 && !hidden {
		r.sampled.mayReact, r.sampled.mustReact = r.reacted(m, 1), r.reacted(m, -1)
	}
	if m.ms%min(r.triggerPeriod, r.reactedPeriod) == 0 {
		r.sampled.look(t, r.trigger(m, 1), r.trigger(m, -1), hidden)
	}
}

func (s *sampledReaction) look(t float64, may, must, hidden bool) {
	if hidden {
		s.gapped = true
		return
	}
	s.wasClear = s.wasClear || !may
	if may && !s.wasMust && math.IsNaN(s.may) {
		s.may = t
	}
	if must && s.wasClear && math.IsNaN(s.must) {
		s.must, s.wasClear = t, false
	}
	s.wasMust = must
	if s.mayReact && math.IsNaN(s.soonest) && !math.IsNaN(s.may) {
		s.soonest = t
	}
	if !s.mustReact {
		return
	}
	if !math.IsNaN(s.may) {
		s.high = max(s.high, t-s.may)
	}
	if !math.IsNaN(s.must) && !s.gapped {
		s.low = max(s.low, s.soonest-s.must)
	}
	s.may, s.must, s.soonest, s.gapped = math.NaN(), math.NaN(), math.NaN(), false
}

// longest adds the period of the trigger above and of the reaction below.
func (r *reaction) longest(end float64, gap bool) Extreme {
	e, s := r.Extreme, r.sampled
	e.Unit = "s"
	above, below := float64(r.triggerPeriod)/1000, float64(r.reactedPeriod)/1000
	e.Low, e.High = max(s.low-below, 0), s.high+above
	if r.pending {
		e.Value, e.At = math.Inf(1), r.since
	}
	if !math.IsNaN(s.may) || gap {
		e.High = math.Inf(1)
	}
	if !math.IsNaN(s.must) && !s.gapped {
		e.Low = max(e.Low, end-s.must-above-below)
	}
	return e
}

// mean finds the highest mean over the time just past.
type mean struct {
	Extreme
	period int // ms
	window int // ms
	value  func(*model) float64
	bound  float64
	truth  ring
	shown  ring
}

// ring keeps the sum of the last values.
type ring struct {
	values []float64
	next   int
	sum    float64
	filled bool
}

func (r *ring) add(x float64) (average float64, filled bool) {
	r.sum += x - r.values[r.next]
	r.values[r.next] = x
	r.next++
	if r.next == len(r.values) {
		r.next, r.filled = 0, true
	}
	return r.sum / float64(len(r.values)), r.filled
}

func (a *mean) look(m *model, t float64, hidden bool) {
	x := a.value(m)
	if average, filled := a.truth.add(x); filled {
		a.Seen++
		if average > a.Value {
			a.Value, a.At = average, t
		}
	}
	if m.ms%a.period != 0 || hidden {
		return
	}
	// What is shown stands until the next sample, so the means turn at samples only.
	if average, filled := a.shown.add(x); filled {
		a.Low, a.High = max(a.Low, average-a.bound), max(a.High, average+a.bound)
	}
}
