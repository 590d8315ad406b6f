package pack

import (
	"context"
	"slices"

	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/expr"
	"github.com/paintmark/paintmark/internal/kernel"
	"github.com/paintmark/paintmark/internal/source"
	"github.com/paintmark/paintmark/internal/units"
)

// Explanation is one item with everything that went into it.
type Explanation struct {
	Result check.Result
	Log    *Log // that answered, nil for none
	Parts  []Part
	Limits []*Limit   // the named limits the rule reads
	Unit   units.Unit // the measure is read in; no Symbol where there is no measure
}

// Part is one expression of a rule with the value of each sub-expression in it.
type Part struct {
	Name  string // "applies", "seen", "measure", "fail below" ..
	Text  string
	Where source.Pos
	Steps []expr.Step // operands before what is made of them
}

// part is an expression with its name.
type part struct {
	name string
	expr *expr.Expr
}

// parts are the rule's expressions in the order they are asked.
func (r *Rule) parts() []part {
	all := []part{{"each", r.each}, {"applies", r.applies}, {"seen", r.seen}, {"measure", r.measure}, {"holds", r.holds}}
	for _, b := range []struct {
		name string
		*bound
	}{{"fail", r.fail}, {"warn", r.warn}, {"due", r.due}} {
		if b.bound != nil {
			all = append(all, part{b.name + " below", b.lo}, part{b.name + " above", b.hi})
		}
	}
	all = append(all, part{"cleared-by", r.cleared}, part{"cleared-by seen", r.lookedAt})
	if r.signed != nil {
		all = append(all, part{"torque", r.signed.torque})
	}
	for _, o := range []check.Outcome{check.Warn, check.Fail, check.NoData} {
		all = append(all, part{"accept " + string(o), r.accept.byValue[o]})
	}
	return slices.DeleteFunc(all, func(p part) bool { return p.expr == nil })
}

// Explain works out one item again, with every part shown. Position names the element
// of an `each`, "" where there is none; ok is false where there is no such element.
func (r *Rule) Explain(ctx context.Context, ev *Evidence, position string) (e Explanation, ok bool) {
	items, stopped := r.items(ctx, ev)
	if stopped != nil {
		return Explanation{Result: stopped.result()}, position == ""
	}
	i := slices.IndexFunc(items, func(it item) bool { return it.position == position })
	if i < 0 {
		return Explanation{}, false
	}
	j := r.judge(ctx, ev, items[i])
	e = Explanation{Result: j.result(), Log: j.log, Unit: r.scale.unit}
	in := expr.Inputs{Roots: items[i].roots}
	if j.log != nil {
		in.Log = j.log.Answers
	}
	for _, p := range r.parts() {
		if p.expr != r.each {
			e.Parts = append(e.Parts, Part{Name: p.name, Text: p.expr.Text(), Where: p.expr.Pos(), Steps: p.expr.Explain(ctx, in)})
		}
	}
	for _, l := range r.Pack.Limits {
		if slices.Contains(r.paths, "limits."+l.Name) {
			e.Limits = append(e.Limits, l)
		}
	}
	return e, true
}

// Asks lists the log.* calls that judging the rule by a log will make, as far as they can be
// told before any is answered, so that one pass over the log answers all rules.
func (r *Rule) Asks(ctx context.Context, ev *Evidence, log *Log) []expr.Ask {
	if !r.readLog || !slices.Contains(r.from, log.Kind) {
		return nil
	}
	items, stopped := r.items(ctx, ev)
	if stopped != nil {
		return nil
	}
	var out []expr.Ask
	for _, it := range items {
		for _, p := range r.parts() {
			out = append(out, p.expr.Asks(ctx, expr.Inputs{Roots: it.roots})...)
		}
	}
	return out
}

// Want lists what Asks asks for, each once.
func (r *Rule) Want(ctx context.Context, ev *Evidence, log *Log) []kernel.Agg {
	var out []kernel.Agg
	for _, a := range r.Asks(ctx, ev, log) {
		out = append(out, a.Agg)
	}
	slices.Sort(out)
	return slices.Compact(out)
}
