package expr

import (
	"math"
	"slices"
	"sync"

	"github.com/google/cel-go/common/operators"
	"github.com/google/cel-go/common/types"
	"github.com/google/cel-go/common/types/ref"

	"github.com/paintmark/paintmark/internal/kernel"
	"github.com/paintmark/paintmark/internal/units"
)

// function is one function that rules have beside CEL's own.
type function struct {
	name   string
	takes  []shape
	words  string // how it is written, for messages
	rule   func(*surveyor, *node) fact
	number func(x []float64) float64              // on exact numbers, SI; monotone in each of them
	value  func(*frame, *node, []ref.Val) ref.Val // on any values
	use    use
	fold   kernel.Fold // of a log call
}

// use is where a function may stand.
type use uint8

const (
	anywhere    use = iota
	aboutLog        // log.*: folds samples to one value
	aboutSample     // only inside log.*: looks at neighbouring samples
)

// shape is one list of argument types with its result.
type shape struct {
	args   []*types.Type
	result *types.Type
}

var (
	double = types.DoubleType
	whole  = types.IntType
	truth  = types.BoolType
	date   = types.TimestampType
)

func takes(result *types.Type, args ...*types.Type) shape { return shape{args, result} }

// functionsByName is every function by name.
var functionsByName = sync.OnceValue(functionTable)

func functionTable() map[string]*function {
	all := []*function{
		{
			name: "abs", words: "abs(x)", takes: []shape{takes(double, double), takes(whole, whole)},
			rule: ofFirst, value: absolute,
		},
		{
			name: "least", words: "least(a, b)", takes: []shape{takes(double, double, double), takes(whole, whole, whole)},
			rule: ofBoth, value: func(_ *frame, _ *node, args []ref.Val) ref.Val { return lesser(args[0], args[1], false) },
		},
		{
			name: "greatest", words: "greatest(a, b)", takes: []shape{takes(double, double, double), takes(whole, whole, whole)},
			rule: ofBoth, value: func(_ *frame, _ *node, args []ref.Val) ref.Val { return lesser(args[0], args[1], true) },
		},
		{
			name: "sqrt", words: "sqrt(x)", takes: []shape{takes(double, double)},
			rule: ofRoot, number: func(x []float64) float64 { return math.Sqrt(x[0]) },
		},
		{
			name: "at", words: "at(curve, x)", takes: []shape{takes(double, curveType, double)},
			rule: ofCurve, value: alongCurve,
		},
		{
			name: "days", words: "days(from, to)", takes: []shape{takes(double, date, date)},
			rule: always(second), value: daysBetween,
		},

		{name: "slope", words: "slope(x)", takes: []shape{takes(double, double)}, rule: perSecond, use: aboutSample},
		{name: "delay", words: "delay(x, s(0.1))", takes: []shape{takes(double, double, double), takes(truth, truth, double), takes(whole, whole, double)}, rule: ofFirstOver, use: aboutSample},
		{name: "smooth", words: "smooth(x, s(0.1))", takes: []shape{takes(double, double, double)}, rule: ofFirstOver, use: aboutSample},
		{name: "held", words: "held(p, s(0.1))", takes: []shape{takes(truth, truth, double)}, rule: ofFirstOver, use: aboutSample},
		{name: "since", words: "since(p)", takes: []shape{takes(double, truth)}, rule: always(second), use: aboutSample},
	}
	all = append(all, logFunctions()...)
	all = append(all, unitFunctions()...)
	all = append(all, tradeFunctions()...)
	byName := make(map[string]*function, len(all))
	for _, f := range all {
		byName[f.name] = f
	}
	return byName
}

func logFunctions() []*function {
	// when adds the forms with a filter.
	when := func(shapes ...shape) []shape {
		for _, s := range slices.Clone(shapes) {
			shapes = append(shapes, takes(s.result, append(slices.Clone(s.args), truth)...))
		}
		return shapes
	}
	numbers := when(takes(double, double), takes(whole, whole))
	all := []*function{
		{name: "log.always", fold: kernel.Always, words: "log.always(p) or log.always(p, when)", takes: when(takes(truth, truth)), rule: noUnit},
		{name: "log.ever", fold: kernel.Ever, words: "log.ever(p)", takes: []shape{takes(truth, truth)}, rule: noUnit},
		{name: "log.total", fold: kernel.Total, words: "log.total(p)", takes: []shape{takes(double, truth)}, rule: always(second)},
		{name: "log.longest", fold: kernel.Longest, words: "log.longest(p)", takes: []shape{takes(double, truth)}, rule: always(second)},
		{name: "log.count", fold: kernel.Count, words: "log.count(p)", takes: []shape{takes(whole, truth)}, rule: always(units.Type{})},
		{name: "log.min", fold: kernel.Min, words: "log.min(x) or log.min(x, when)", takes: numbers, rule: ofFirst},
		{name: "log.max", fold: kernel.Max, words: "log.max(x) or log.max(x, when)", takes: numbers, rule: ofFirst},
		{name: "log.mean", fold: kernel.Mean, words: "log.mean(x) or log.mean(x, when)", takes: when(takes(double, double), takes(double, whole)), rule: ofFirst},
		{name: "log.quantile", fold: kernel.Quantile, words: "log.quantile(x, 0.95) or log.quantile(x, 0.95, when)", takes: when(takes(double, double, double), takes(double, whole, double)), rule: ofQuantile},
		{name: "log.integral", fold: kernel.Integral, words: "log.integral(x) or log.integral(x, when)", takes: when(takes(double, double), takes(double, whole)), rule: timesSecond},
		{name: "log.first", fold: kernel.First, words: "log.first(x) or log.first(x, when)", takes: append(numbers, when(takes(truth, truth))...), rule: ofFirst},
		{name: "log.last", fold: kernel.Last, words: "log.last(x) or log.last(x, when)", takes: append(numbers, when(takes(truth, truth))...), rule: ofFirst},
		{name: "log.response", fold: kernel.Response, words: "log.response(trigger, reaction)", takes: []shape{takes(double, truth, truth)}, rule: always(second)},
		{name: "log.damage", words: "log.damage(x, curve)", takes: []shape{takes(double, double, curveType)}, rule: notYet},
	}
	for _, f := range all {
		f.use = aboutLog
	}
	return all
}

// lesser is the lesser of two numbers, or the greater one.
func lesser(a, b ref.Val, greater bool) ref.Val {
	if !isSpan(a) && !isSpan(b) {
		less, ok := compare(operators.Less, a, b).(types.Bool)
		switch {
		case !ok:
			return &open{why: notANumber}
		case bool(less) != greater:
			return a
		}
		return b
	}
	alo, ahi, _ := bounds(a)
	blo, bhi, _ := bounds(b)
	isWhole := isWholeNumber(a) && isWholeNumber(b)
	w := reason(a).and(reason(b))
	if greater {
		return number(max(alo, blo), max(ahi, bhi), isWhole, w)
	}
	return number(min(alo, blo), min(ahi, bhi), isWhole, w)
}

// unitFunctions give a plain number its unit: bar(3.8).
func unitFunctions() []*function {
	var all []*function
	for _, u := range units.Functions() {
		all = append(all, &function{
			name: u.Name, words: u.Name + "(3.0)", takes: []shape{takes(double, double), takes(double, whole)},
			rule:   func(s *surveyor, n *node) fact { return s.takes(n, u.Unit.Type, 0, units.Number) },
			number: func(x []float64) float64 { return u.Unit.SI(x[0]) },
		})
	}
	return all
}

func absolute(_ *frame, _ *node, args []ref.Val) ref.Val {
	switch x := args[0].(type) {
	case types.Double:
		return types.Double(math.Abs(float64(x)))
	case types.Int:
		if x == math.MinInt64 {
			return types.NewErr("integer overflow")
		}
		return max(x, -x)
	case *span:
		lo, hi := math.Abs(x.lo), math.Abs(x.hi)
		if x.lo < 0 && x.hi > 0 {
			return number(0, max(lo, hi), x.whole, x.why)
		}
		return number(min(lo, hi), max(lo, hi), x.whole, x.why)
	}
	return args[0]
}

// alongCurve reads a curve, straight lines between its points; outside them nothing is known.
func alongCurve(_ *frame, _ *node, args []ref.Val) ref.Val {
	c, ok := args[0].(*line)
	if !ok {
		return types.NewErr("not a curve")
	}
	pts := c.v.Points
	lo, hi, _ := bounds(args[1])
	w := reason(args[1])
	if len(pts) == 0 || math.IsNaN(lo) || lo < pts[0].X || hi > pts[len(pts)-1].X {
		return &open{why: w.and(missing(c.path, c.v.Pos, "outside the points of the curve"))}
	}
	y := func(x float64) float64 {
		i := 1
		for i < len(pts)-1 && pts[i].X < x {
			i++
		}
		if len(pts) == 1 || x == pts[i-1].X {
			return pts[i-1].Y
		}
		a, b := pts[i-1], pts[i]
		if x == b.X {
			return b.Y
		}
		return a.Y + (b.Y-a.Y)*((x-a.X)/(b.X-a.X))
	}
	least, most := hull(y(lo), y(hi))
	for _, p := range pts {
		if p.X > lo && p.X < hi {
			least, most = min(least, p.Y), max(most, p.Y)
		}
	}
	return number(least, most, false, w)
}

func daysBetween(_ *frame, _ *node, args []ref.Val) ref.Val {
	from, ok1 := args[0].(types.Timestamp)
	to, ok2 := args[1].(types.Timestamp)
	if !ok1 || !ok2 {
		return types.NewErr("not dates")
	}
	return types.Double(float64(to.Unix()-from.Unix()) + float64(to.Nanosecond()-from.Nanosecond())/1e9)
}

// atCorners works a function that is monotone in each argument out at the ends of all bounds.
func atCorners(fn func([]float64) float64, args []ref.Val, isWhole bool) ref.Val {
	var w *why
	lo, hi := math.Inf(1), math.Inf(-1)
	x := make([]float64, len(args))
	for _, a := range args {
		w = w.and(reason(a))
	}
	if w == nil {
		for i, a := range args {
			x[i], _, _ = bounds(a)
		}
		y := fn(x)
		if isWhole {
			return types.Int(y)
		}
		return types.Double(y)
	}
	for corner := range 1 << len(args) {
		for i, a := range args {
			l, h, _ := bounds(a)
			if x[i] = l; corner>>i&1 == 1 {
				x[i] = h
			}
		}
		y := fn(x)
		if math.IsNaN(y) {
			return &open{why: w}
		}
		lo, hi = min(lo, y), max(hi, y)
	}
	return number(lo, hi, isWhole, w)
}
