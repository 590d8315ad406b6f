package expr

import (
	"context"
	"math"

	"github.com/google/cel-go/common/types"
	"github.com/google/cel-go/common/types/ref"

	"github.com/paintmark/paintmark/internal/kernel"
	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
)

// Step is one sub-expression with its value, for a person who asks why.
type Step struct {
	Text  string // as written, on one line
	Pos   source.Pos
	Value *schema.Value // its Type tells what it is; Unknown where it is not decided
	Gaps  []Gap         // what left it undecided, or within bounds
	Call  *Call         // of a log.* call
	// Samples are the channels of a log.* call where its answer stands, if it stands
	// somewhere and the log is at hand.
	Samples []Sample
}

// Sample is a channel at one time.
type Sample struct {
	Channel   string
	Unit      *schema.Type
	Low, High float64 // SI; a yes-or-no is 0 or 1
	Known     bool
}

// sampler is a source of answers that can also show single samples.
type sampler interface {
	Sample(n kernel.Node, t float64) (low, high float64, known bool)
}

// Explain evaluates every part of the expression, also those that Eval would not need,
// and gives their values, operands before what is made of them. Numbers and texts as
// written are left out, and so are the samples inside a log call.
func (x *Expr) Explain(ctx context.Context, in Inputs) []Step {
	values := map[*node]ref.Val{}
	f := &frame{ctx: ctx, x: x, in: in, all: true}
	f.trace = func(n *node, v ref.Val) { values[n] = v }
	f.eval(x.root)
	calls := map[*node]*Call{}
	for i := range f.calls {
		calls[f.calls[i].node] = &f.calls[i]
	}
	var steps []Step
	seen := map[string]bool{}
	for _, n := range shown(x.root) {
		v, ok := values[n]
		written := n.home.written(n)
		if !ok || seen[written] {
			continue
		}
		t := x.env.schemaType(n.typ, n.fact)
		switch t.Kind {
		case schema.Object, schema.Map, schema.List, schema.Curve:
			continue
		}
		seen[written] = true
		s := Step{Text: written, Pos: n.home.where(n), Value: f.schemaValue(v, t), Call: calls[n]}
		if w := reason(v); w != nil {
			s.Gaps = w.gaps
		}
		if s.Call != nil && s.Call.OK {
			s.Samples = f.samples(n, s.Call.Answer.At)
		}
		steps = append(steps, s)
	}
	return steps
}

// shown lists the parts of an expression worth showing, in order.
func shown(n *node) []*node {
	var all []*node
	switch {
	case n.kind == litNode, n.fn != nil && n.fn.number != nil && n.kids[0].kind == litNode: // 3.0 or bar(3.0)
		return nil
	case n.kind == foldNode:
		all = shown(n.fold.over)
	case n.sampled: // inside a log call: only what has one value
		for _, k := range n.kids {
			all = append(all, shown(k)...)
		}
		return all
	case n.kind == fieldNode: // the path as a whole says it
		for base := n.kids[0]; ; base = base.kids[0] {
			if base.kind != fieldNode {
				if base.kind != nameNode {
					all = shown(base)
				}
				break
			}
		}
	default:
		for _, k := range n.kids {
			all = append(all, shown(k)...)
		}
	}
	return append(all, n)
}

// samples are the channels beneath a log call at one time.
func (f *frame) samples(n *node, at float64) []Sample {
	log, ok := f.in.Log.(sampler)
	if !ok || math.IsNaN(at) {
		return nil
	}
	g := f.x.env.graph
	var all []Sample
	for _, c := range f.x.env.channelsUnder(n) {
		s := Sample{Channel: c.name, Unit: f.x.env.schemaType(c.typ, c.fact)}
		ch := g.Channel(c.name)
		if c.typ.Kind() == types.BoolKind {
			ch = g.IsTrue(ch)
		}
		s.Low, s.High, s.Known = log.Sample(ch, at)
		all = append(all, s)
	}
	return all
}
