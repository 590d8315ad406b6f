package expr

import (
	"math"
	"slices"
	"sync"

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
		{name: "log.damage", words: "log.damage(x, curve)", fold: kernel.Damage, takes: []shape{takes(double, double, curveType), takes(double, whole, curveType)}, rule: ofDamage},
	}
	for _, f := range all {
		f.use = aboutLog
	}
	return all
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
