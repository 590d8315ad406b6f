package pack

import (
	"context"
	"math"
	"slices"

	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/expr"
)

func (j *judgement) measure(ctx context.Context, in expr.Inputs) {
	j.measured(ctx, in, j.r.measure.Eval(ctx, in))
}

// measured holds a value against the limits.
func (j *judgement) measured(ctx context.Context, in expr.Inputs, ans expr.Answer) {
	j.took(ans)
	j.rests(ans)
	if j.undecided(ans) {
		return
	}
	v := interval{ans.Low, ans.High}
	if v.open() {
		j.noData(reason(ans))
		return
	}
	limits := map[*bound]*edges{}
	var gaps []string
	for _, b := range []*bound{j.r.fail, j.r.warn, j.r.due} {
		if b == nil {
			continue
		}
		e, gap, ok := j.edges(ctx, in, b)
		if !ok {
			return
		}
		if gap != "" && b != j.r.due && !slices.Contains(gaps, gap) {
			gaps = append(gaps, gap)
		}
		limits[b] = e
	}
	unit := j.r.scale.one()
	j.res.Outcome = decide(v, limits[j.r.fail], limits[j.r.warn], unit)
	if j.r.Lenient && j.res.Outcome == check.NoData && atLeastWarn(v, limits[j.r.warn], unit) {
		card := *j.ownCard()
		card.Lenient = false // a warn at the least: that stays open
		j.card = &card
	}
	j.res.Measured = j.r.scale.measured(v)
	j.when(ans)
	j.limit(v, limits)
	if e := limits[j.r.due]; e != nil && e.passed(v, unit) == expr.True {
		due := j.asLimit(j.r.due, e, check.Pass)
		j.res.Due = &due
	}
	j.say(v, ans, gaps)
}

// edges evaluates a limit. gap says what is missing of it; ok is false where it broke.
func (j *judgement) edges(ctx context.Context, in expr.Inputs, b *bound) (e *edges, gap string, ok bool) {
	e = &edges{}
	for _, side := range []struct {
		prog *expr.Expr
		to   **interval
	}{{b.lo, &e.lo}, {b.hi, &e.hi}} {
		if side.prog == nil {
			continue
		}
		ans := side.prog.Eval(ctx, in)
		j.took(ans)
		if ans.Fault != nil {
			j.broke(ans.Fault)
			return nil, "", false
		}
		i := interval{ans.Low, ans.High}
		if ans.Open || ans.Empty || ans.NotFitted || i.open() {
			i, gap = interval{math.Inf(-1), math.Inf(1)}, reason(ans)
		}
		*side.to = &i
	}
	return e, gap, true
}

// limit names the limit that decided, or the nearest one where none was passed.
func (j *judgement) limit(v interval, limits map[*bound]*edges) {
	type candidate struct {
		b      *bound
		means  check.Outcome
		margin float64
	}
	var best *candidate
	for _, c := range []candidate{{j.r.fail, check.Fail, 0}, {j.r.warn, check.Warn, 0}} {
		e := limits[c.b]
		if c.b == nil || e == nil {
			continue
		}
		c.margin = e.inHand(v.value())
		switch decided := j.res.Outcome; {
		case math.IsInf(c.margin, 0) || math.IsNaN(c.margin):
			continue
		case (decided == check.Fail || decided == check.Warn) && c.means != decided:
			continue
		case decided == check.NoData && e.passed(v, j.r.scale.one()) != expr.Unknown:
			continue
		case best == nil || c.margin < best.margin:
			best = &c
		}
	}
	if best == nil {
		return
	}
	l := j.asLimit(best.b, limits[best.b], best.means)
	j.res.Limit = &l
	margin := j.r.scale.difference(best.margin)
	j.res.Margin = &margin
}

// asLimit is a limit in the rule's unit, with the source of the named limit it came
// from, else the rule's own.
func (j *judgement) asLimit(b *bound, e *edges, means check.Outcome) check.Limit {
	l := check.Limit{Unit: j.r.scale.unit.Symbol, Source: j.r.Source, Where: b.where, Outcome: means}
	switch {
	case e.lo != nil && e.hi != nil:
		l.Kind, l.Value, l.Upper = "a to b", j.r.scale.point(e.lo.value()), j.r.scale.point(e.hi.value())
	case e.lo != nil:
		l.Kind, l.Value = "min", j.r.scale.point(e.lo.value())
	default:
		l.Kind, l.Value = "max", j.r.scale.point(e.hi.value())
	}
	if named := b.limit; named != nil {
		l.Source, l.Where = named.Source, named.Where
		if named.Overridden.Line != 0 {
			l.Where = named.Overridden
		}
	}
	return l
}
