package readiness

import (
	"math"

	"github.com/paintmark/paintmark/internal/demo"
)

// What a log can resolve, worked out a second time: from what the model's own logger wrote
// down and how far the model's own sensors can be off, millisecond by millisecond, in the
// plainest way and with nothing of the program. A sample stands until the next one, or for
// three periods where none comes; then anything may have been.

// resolved bounds one measure over everything that the log does not rule out.
type resolved struct{ low, high float64 }

// trace is a channel at every millisecond, in the logger's unit; unbounded where it was not seen.
type trace struct {
	low, high []float64
	period    int // ms
}

// eyes are the traces of one recording.
type eyes struct {
	rec *demo.Recording
	end int // ms
}

func (e *eyes) trace(name string) *trace {
	c := e.rec.Column(name)
	t := &trace{low: make([]float64, e.end), high: make([]float64, e.end), period: 1000 / c.Rate}
	for i := range t.low {
		t.low[i], t.high[i] = math.Inf(-1), math.Inf(1)
	}
	for k, x := range c.Values() {
		if name == "oil_temp" && x == -40 { // the circuit is open
			continue
		}
		off := c.Within
		if c.Unit == "state" {
			off = 0
		}
		from := int(e.rec.Millis[c.Rows[k]])
		to := min(from+3*t.period, e.end)
		if k+1 < len(c.Rows) {
			to = min(to, int(e.rec.Millis[c.Rows[k+1]]))
		}
		for i := from; i < to; i++ {
			t.low[i], t.high[i] = x-off, x+off
		}
	}
	return t
}

// truth is a condition at every millisecond: what surely holds and what may.
type truth struct{ sure, may []bool }

func (e *eyes) when(f func(i int) (sure, may bool)) *truth {
	t := &truth{make([]bool, e.end), make([]bool, e.end)}
	for i := range t.sure {
		t.sure[i], t.may[i] = f(i)
	}
	return t
}

func (e *eyes) over(x *trace, limit float64) *truth {
	return e.when(func(i int) (bool, bool) { return x.low[i] > limit, x.high[i] > limit })
}

func (e *eyes) load() *truth {
	throttle, rpm := e.over(e.trace("throttle"), 70), e.over(e.trace("rpm"), 4000)
	return e.when(func(i int) (bool, bool) { return throttle.sure[i] && rpm.sure[i], throttle.may[i] && rpm.may[i] })
}

func (e *eyes) active(name string) (*truth, int) {
	x := e.trace(name)
	return e.over(x, 0.5), x.period
}

// greatest of a number where a condition holds; nil: always.
func (e *eyes) greatest(x *trace, when *truth) resolved {
	r := resolved{math.Inf(-1), math.Inf(-1)}
	for i := range e.end {
		if when == nil || when.may[i] {
			r.high = math.Max(r.high, x.high[i])
		}
		if when == nil || when.sure[i] {
			r.low = math.Max(r.low, x.low[i])
		}
	}
	return r
}

func (e *eyes) least(x *trace, when *truth) resolved {
	minus := &trace{low: make([]float64, e.end), high: make([]float64, e.end)}
	for i := range e.end {
		minus.low[i], minus.high[i] = -x.high[i], -x.low[i]
	}
	r := e.greatest(minus, when)
	return resolved{-r.high, -r.low}
}

// mean is the mean over the milliseconds just past, or as many as there are.
func (e *eyes) mean(x *trace, window int) *trace {
	of := func(v []float64, unseen float64) []float64 {
		out := make([]float64, e.end)
		sums, gone := make([]float64, e.end+1), make([]int, e.end+1) // over the milliseconds before
		for i, x := range v {
			sums[i+1], gone[i+1] = sums[i]+x, gone[i]
			if math.IsInf(x, 0) {
				sums[i+1], gone[i+1] = sums[i], gone[i]+1
			}
		}
		out[0] = v[0]
		for i := 1; i < e.end; i++ {
			from := max(0, i-window)
			if out[i] = (sums[i] - sums[from]) / float64(i-from); gone[i] > gone[from] {
				out[i] = unseen
			}
		}
		return out
	}
	return &trace{low: of(x.low, math.Inf(-1)), high: of(x.high, math.Inf(1)), period: x.period}
}

// longest spell, s: each end is known to a period, but nothing was before the log.
func (e *eyes) longest(p *truth, period int) resolved {
	run := func(is []bool) (longest, dilated int) {
		for i := 0; i < e.end; i++ {
			from := i
			for i < e.end && is[i] {
				i++
			}
			if i > from {
				longest, dilated = max(longest, i-from), max(dilated, i-max(0, from-period))
			}
		}
		return longest, dilated
	}
	sure, _ := run(p.sure)
	_, may := run(p.may)
	return resolved{float64(max(0, sure-period)) / 1000, float64(may) / 1000}
}

// response is the longest time from a trigger to the reaction, s. For the greatest, any millisecond in which
// the trigger may have come is one. For the least, every change that must have come is put where it
// is answered soonest: at its sample, or anywhere in the time in which nothing was seen.
func (e *eyes) response(trigger, reaction *truth, triggerPeriod, reactionPeriod int) resolved {
	sure, may := make([]int, e.end+1), make([]int, e.end+1) // from here on: the first that surely is, that may be
	sure[e.end], may[e.end] = -1, -1
	for i := e.end - 1; i >= 0; i-- {
		sure[i], may[i] = sure[i+1], may[i+1]
		if reaction.sure[i] {
			sure[i] = i
		}
		if reaction.may[i] {
			may[i] = i
		}
	}
	soonest := func(i int) float64 {
		if may[i] < 0 {
			return float64(e.end - i)
		}
		return float64(max(0, may[i]-i-reactionPeriod))
	}
	low, high := 0.0, 0.0
	for i := range e.end {
		if !trigger.may[i] || i > 0 && trigger.sure[i-1] {
			continue
		}
		most := math.Inf(1)
		if sure[i] >= 0 {
			most = float64(sure[i] - i + triggerPeriod)
		}
		high = math.Max(high, most)
		if !trigger.sure[i] {
			continue
		}
		from := i // nothing was seen since
		for from > 0 && trigger.may[from-1] {
			from--
		}
		if from == 0 && i > 0 {
			continue // it may have stood from the start
		}
		if from > 0 && trigger.sure[from-1] {
			continue // or from before
		}
		least := math.Inf(1)
		for k := from; k <= i; k++ {
			least = math.Min(least, soonest(k))
		}
		low = math.Max(low, least)
	}
	return resolved{low / 1000, high / 1000}
}

// resolve bounds the measures that the agreements are about, in the units of the truth.
func resolve(rec *demo.Recording) map[string]resolved {
	e := &eyes{rec: rec, end: int(rec.Millis[len(rec.Millis)-1]) + 1}
	load := e.load()
	shift, shiftPeriod := e.active("shift_active")
	open, orderPeriod := e.active("wing_command")
	shut := e.when(func(i int) (bool, bool) { return !open.may[i], !open.sure[i] })
	angle, oil, rail, manifold := e.trace("wing_angle"), e.trace("oil_temp"), e.trace("fuel_rail"), e.trace("manifold")
	difference := &trace{low: make([]float64, e.end), high: make([]float64, e.end)}
	for i := range e.end {
		station := rec.Run.Station / 1e5
		difference.low[i], difference.high[i] = rail.low[i]-(manifold.high[i]-station), rail.high[i]-(manifold.low[i]-station)
	}
	return map[string]resolved{
		demo.WingReturn:     e.response(shut, e.over(angle, 36.5), orderPeriod, angle.period),
		demo.ShiftPressure:  e.least(e.trace("hyd_pressure"), shift),
		demo.OilAtLoad:      e.least(oil, load),
		demo.OilPeak:        e.greatest(oil, nil),
		demo.RevPeak:        e.greatest(e.trace("rpm"), nil),
		demo.WaterPeak:      e.greatest(e.trace("water_temp"), nil),
		demo.ManifoldPeak:   e.greatest(manifold, nil),
		demo.ShiftTime:      e.longest(shift, shiftPeriod),
		demo.GearboxSmooth:  e.greatest(e.mean(e.trace("gearbox_temp"), 2000), nil),
		demo.FuelDifference: e.least(difference, load),
	}
}
