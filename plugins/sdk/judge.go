package sdk

import "math"

// Floor is a bound below which a value is out. On the limit is in.
func Floor(least float64, means Outcome) Bound {
	return Bound{Low: least, High: math.Inf(1), Means: means}
}

// Ceiling is a bound above which a value is out. On the limit is in.
func Ceiling(most float64, means Outcome) Bound {
	return Bound{Low: math.Inf(-1), High: most, Means: means}
}

// Band is a bound outside of which a value is out.
func Band(least, most float64, means Outcome) Bound {
	return Bound{Low: least, High: most, Means: means}
}

// From is the same bound with where it comes from.
func (b Bound) From(s Source) Bound {
	b.Source = s
	return b
}

// Judge holds a value against bounds: fail or warn where it is out for certain, no data where a
// bound lies inside what is known of it, else pass. On the limit passes, to 1 part in 10^9.
// With no bound at all nothing was judged, and that is no data.
func Judge(v Value, bounds ...Bound) Result {
	if !v.Known || math.IsNaN(v.Low) || math.IsNaN(v.High) || isInf(v.Low) && isInf(v.High) {
		return Result{Outcome: NoData, Message: "not known"}
	}
	if len(bounds) == 0 {
		return Result{Outcome: NoData, Measured: &v, Message: "no limit to hold it against"}
	}
	for _, means := range []Outcome{Fail, Warn} { // what is certain to fail fails; what may fail is not known
		if b := nearest(v.Mid(), bounds, func(b *Bound) bool { _, out := b.holds(v); return b.Means == means && out }); b != nil {
			return Result{Outcome: means, Measured: &v, Limit: b}
		}
		if b := nearest(v.Mid(), bounds, func(b *Bound) bool { in, _ := b.holds(v); return b.Means == means && !in }); b != nil {
			return Result{Outcome: NoData, Measured: &v, Limit: b, Message: "the limit lies between"}
		}
	}
	return Result{Outcome: Pass, Measured: &v, Limit: nearest(v.Mid(), bounds, func(*Bound) bool { return true })}
}

// holds says whether every value v may have is in, and whether every one is out.
func (b *Bound) holds(v Value) (in, out bool) {
	inside := func(x float64) bool { return !below(x, b.Low) && !below(b.High, x) }
	in = inside(v.Low) && inside(v.High)
	out = below(v.High, b.Low) || below(b.High, v.Low)
	return in, out
}

// below says that a is less than b by more than 1 part in 10^9.
func below(a, b float64) bool {
	if isInf(a) || isInf(b) {
		return a < b
	}
	return b-a > 1e-9*max(math.Abs(a), math.Abs(b))
}

// margin is how far x is inside, negative outside.
func (b *Bound) margin(x float64) float64 { return min(x-b.Low, b.High-x) }

// nearest is the bound with the least in hand of those that count, the earlier of two alike.
func nearest(x float64, bounds []Bound, counts func(*Bound) bool) *Bound {
	var best *Bound
	for i := range bounds {
		if b := &bounds[i]; counts(b) && (best == nil || b.margin(x) < best.margin(x)) {
			best = b
		}
	}
	return best
}

func isInf(x float64) bool { return math.IsInf(x, 0) }
