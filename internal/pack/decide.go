package pack

import (
	"math"

	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/expr"
)

// slack is the share by which a value may miss its limit and still be on it: decimal
// figures such as 1.17 bar against 1.15 bar + 0.02 bar do not come out equal in binary.
const slack = 1e-9

// interval is what is known of a value, in SI; ends are infinite where nothing bounds it.
type interval struct{ low, high float64 }

func exactly(v float64) interval { return interval{v, v} }

// open says that nothing is known.
func (v interval) open() bool {
	return math.IsNaN(v.low) || math.IsNaN(v.high) || (math.IsInf(v.low, -1) && math.IsInf(v.high, 1))
}

// value is the figure to print: the middle of a finite interval, else its finite end.
func (v interval) value() float64 {
	switch {
	case math.IsInf(v.low, 0):
		return v.high
	case math.IsInf(v.high, 0):
		return v.low
	}
	return v.low + (v.high-v.low)/2
}

// tolerance is one part in 10^9 of the greatest of the two and one unit, so that a
// limit of zero has one too.
func tolerance(a, b, unit float64) float64 {
	most := math.Abs(unit)
	for _, x := range []float64{a, b} {
		if !math.IsInf(x, 0) {
			most = math.Max(most, math.Abs(x))
		}
	}
	return slack * most
}

// under says whether v lies below the limit: on the limit does not. unit is one unit
// of the measure in SI.
func under(v, limit interval, unit float64) expr.Truthness {
	switch {
	case math.IsNaN(v.low) || math.IsNaN(v.high) || math.IsNaN(limit.low) || math.IsNaN(limit.high):
		return expr.Unknown
	case v.high < limit.low-tolerance(v.high, limit.low, unit):
		return expr.True
	case v.low >= limit.high-tolerance(v.low, limit.high, unit):
		return expr.False
	}
	return expr.Unknown
}

func negated(v interval) interval { return interval{-v.high, -v.low} }

// over says whether v lies above the limit.
func over(v, limit interval, unit float64) expr.Truthness {
	return under(negated(v), negated(limit), unit)
}

func either(a, b expr.Truthness) expr.Truthness { return max(a, b) }

// edges is a limit with its figures filled in; a side that is open is nil.
type edges struct{ lo, hi *interval }

// passed says whether v lies outside the edges.
func (e edges) passed(v interval, unit float64) expr.Truthness {
	out := expr.False
	if e.lo != nil {
		out = either(out, under(v, *e.lo, unit))
	}
	if e.hi != nil {
		out = either(out, over(v, *e.hi, unit))
	}
	return out
}

// inHand is how far v is inside the nearest edge, in SI; negative outside.
func (e edges) inHand(v float64) float64 {
	out := math.Inf(1)
	if e.lo != nil {
		out = math.Min(out, v-e.lo.value())
	}
	if e.hi != nil {
		out = math.Min(out, e.hi.value()-v)
	}
	return out
}

// atLeastWarn says that a value is surely past a warn limit, whatever the fail limit comes to.
func atLeastWarn(v interval, warn *edges, unit float64) bool {
	return warn != nil && warn.passed(v, unit) == expr.True
}

// decide gives the outcome where both ends of what is known agree on it, and no data
// where a limit lies between. fail and warn are nil where the rule has none.
func decide(v interval, fail, warn *edges, unit float64) check.Outcome {
	failed, warned := expr.False, expr.False
	if fail != nil {
		failed = fail.passed(v, unit)
	}
	if warn != nil {
		warned = warn.passed(v, unit)
	}
	switch {
	case failed == expr.True:
		return check.Fail
	case failed == expr.Unknown:
		return check.NoData
	case warned == expr.True:
		return check.Warn
	case warned == expr.Unknown:
		return check.NoData
	}
	return check.Pass
}
