package expr

import (
	"github.com/google/cel-go/common/types"
	"github.com/google/cel-go/common/types/ref"

	"github.com/paintmark/paintmark/internal/source"
)

// ask answers a log.* call.
func (f *frame) ask(n *node) ref.Val {
	agg, l, err := f.aggregate(n)
	if err != nil {
		if l.fault != nil {
			return l.fault
		}
		return &open{why: l.why}
	}
	c := Call{Text: n.home.written(n), Key: f.x.env.graph.Key(agg), Agg: agg, Operands: l.operands, node: n}
	var w *why
	if f.in.Log != nil {
		c.Answer, c.OK, err = f.in.Log.Answer(f.ctx, f.x.env.graph, agg)
		if err != nil {
			f.stop = err
			return &broken{at: n, what: err.Error()}
		}
	}
	f.calls = append(f.calls, c)
	switch {
	case !c.OK:
		for _, ch := range f.x.env.channelsUnder(n) {
			w = w.and(missing(ch.name, ch.home.where(ch), "no log"))
		}
		return &open{why: w}
	case c.Answer.Empty, c.Answer.MaybeEmpty, c.Answer.Low != c.Answer.High:
		w = l.why
		for _, m := range c.Answer.Missing {
			w = w.and(missing(m.Channel, f.x.env.channelPos(n, m.Channel), m.Why))
		}
		for _, v := range c.Answer.Vague {
			w = w.and(&why{gaps: []Gap{{Path: v.Channel, Pos: f.x.env.channelPos(n, v.Channel), Why: v.Said, Vague: true}}})
		}
	}
	if c.Answer.Empty || c.Answer.MaybeEmpty {
		if c.Answer.Empty && (w == nil || len(w.gaps) == 0) {
			w = w.and(&why{empty: true})
		}
		return &open{why: w}
	}
	lo, hi := c.Answer.Low, c.Answer.High
	if n.typ.Kind() == types.BoolKind {
		if lo == hi {
			return types.Bool(lo == 1)
		}
		return &open{why: w}
	}
	return number(lo, hi, n.typ.Kind() == types.IntKind, w)
}

// channelsUnder are the first mentions of each channel in a call, in its derived names too.
func (e *Env) channelsUnder(n *node) []*node {
	var found []*node
	seen := map[string]bool{}
	e.eachNode(n, func(k *node) {
		if k.kind == nameNode && k.means == aChannel && !seen[k.name] {
			seen[k.name] = true
			found = append(found, k)
		}
	})
	return found
}

func (e *Env) channelPos(n *node, channel string) source.Pos {
	for _, c := range e.channelsUnder(n) {
		if c.name == channel {
			return c.home.where(c)
		}
	}
	return n.home.where(n)
}
