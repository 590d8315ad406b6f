package expr

import (
	"context"

	"github.com/google/cel-go/common/operators"
	"github.com/google/cel-go/common/types"
	"github.com/google/cel-go/common/types/ref"
	"github.com/google/cel-go/common/types/traits"

	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
)

// frame is one evaluation.
type frame struct {
	ctx    context.Context
	x      *Expr
	in     Inputs
	locals []local
	reads  map[string]*schema.Value
	calls  []Call
	spells map[string]lowered
	steps  int
	trace  func(*node, ref.Val)
	all    bool  // evaluate every operand, for the sake of trace
	stop   error // the context's, or of the log
}

type local struct {
	name  string
	value ref.Val
}

// The bounds on one evaluation, well under a second. They are counted in nodes and
// bytes, not in time, so that the same inputs always end the same way.
const (
	maxSteps = 500_000
	maxText  = 20_000 // bytes of a text put together
)

// eval gives a node its value. Faults of the expression come back as *broken.
func (f *frame) eval(n *node) ref.Val {
	f.steps++
	if f.steps > maxSteps {
		return &broken{at: n, what: "the expression takes too long to work out"}
	}
	if f.steps&1023 == 0 && f.stop == nil {
		f.stop = f.ctx.Err()
	}
	if f.stop != nil {
		return &broken{at: n, what: f.stop.Error()}
	}
	v := f.value(n)
	if err, ok := v.(*types.Err); ok {
		v = &broken{at: n, what: err.Error()}
	}
	if f.trace != nil {
		f.trace(n, v)
	}
	return v
}

func (f *frame) value(n *node) ref.Val {
	switch n.kind {
	case litNode:
		return n.val
	case nameNode:
		return f.named(n)
	case fieldNode:
		of := f.eval(n.kids[0])
		if m, ok := of.(traits.Mapper); ok { // a map written in the expression
			return m.Get(types.String(n.name))
		}
		return f.field(of, n.name, false)
	case listNode:
		items := make([]ref.Val, len(n.kids))
		for i, k := range n.kids {
			items[i] = f.eval(k)
			if isBroken(items[i]) {
				return items[i]
			}
		}
		return types.NewRefValList(types.DefaultTypeAdapter, items)
	case mapNode:
		return f.mapping(n)
	case foldNode:
		return f.folded(n.fold)
	}
	return f.call(n)
}

func (f *frame) named(n *node) ref.Val {
	if n.means == aLocal {
		for i := len(f.locals) - 1; i >= 0; i-- {
			if f.locals[i].name == n.name {
				return f.locals[i].value
			}
		}
		return &broken{at: n, what: "no value for `" + n.name + "`"}
	}
	t := f.x.env.root(n.name)
	if t == nil { // a channel is never evaluated by itself
		return &broken{at: n, what: "no value for `" + n.name + "`"}
	}
	return f.take(f.in.Roots[n.name], t, n.name, source.Pos{})
}

func (f *frame) call(n *node) ref.Val {
	switch n.name {
	case operators.LogicalAnd:
		return f.joined(n, types.False)
	case operators.LogicalOr:
		return f.joined(n, types.True)
	case operators.Conditional:
		return f.chosen(n)
	case operators.NotStrictlyFalse:
		return types.Bool(f.eval(n.kids[0]) != types.False)
	}
	if n.fn != nil && n.fn.use == aboutLog {
		return f.ask(n)
	}
	args := make([]ref.Val, len(n.kids))
	for i, k := range n.kids {
		args[i] = f.eval(k)
	}
	for _, a := range args {
		if isBroken(a) {
			return a
		}
	}
	if n.name == operators.Index {
		return f.indexed(args[0], args[1])
	}
	var w *why
	isAnyOpen := false
	for _, a := range args {
		if v, ok := isOpen(a); ok {
			w, isAnyOpen = w.and(v), true
		}
	}
	if isAnyOpen {
		return &open{why: w}
	}
	if n.fn != nil {
		if n.fn.value != nil {
			return finite(n, n.fn.value(f, n, args))
		}
		return finite(n, atCorners(n.fn.number, args, false))
	}
	switch n.name {
	case operators.Equals:
		return equal(args[0], args[1])
	case operators.NotEquals:
		return not(equal(args[0], args[1]))
	case operators.LogicalNot:
		return not(args[0])
	case operators.Less, operators.LessEquals, operators.Greater, operators.GreaterEquals:
		return compare(n.name, args[0], args[1])
	case operators.Negate:
		return negate(args[0])
	case operators.In:
		return f.isIn(args[0], args[1])
	case operators.Add:
		if l, ok := args[0].(traits.Lister); ok {
			return f.appended(l, args[1].(traits.Lister))
		}
		if long := textLength(args[0]) + textLength(args[1]); long > maxText {
			return types.NewErr("the text is too long")
		}
		return finite(n, arith(n.name, args[0], args[1]))
	case operators.Subtract, operators.Multiply, operators.Divide, operators.Modulo:
		return finite(n, arith(n.name, args[0], args[1]))
	case "size":
		if d, ok := args[0].(*doc); ok {
			return types.Int(len(d.v.Keys))
		}
	}
	return finite(n, f.standard(n, args))
}

// joined is && or ||: one operand that decides is enough, whatever the other is.
func (f *frame) joined(n *node, decides types.Bool) ref.Val {
	var w *why
	var fault ref.Val
	isAnyOpen := false
	for i, k := range n.kids {
		v := f.eval(k)
		switch v := v.(type) {
		case types.Bool:
			if v == decides {
				if f.all { // the others are looked at all the same
					for _, k := range n.kids[i+1:] {
						f.eval(k)
					}
				}
				return v
			}
		case *broken:
			if fault == nil {
				fault = v
			}
		default:
			w, isAnyOpen = w.and(reason(v)), true
		}
	}
	switch {
	case isAnyOpen:
		return &open{why: w}
	case fault != nil:
		return fault
	}
	return !decides
}

func (f *frame) chosen(n *node) ref.Val {
	c := f.eval(n.kids[0])
	if f.all {
		a, b := f.eval(n.kids[1]), f.eval(n.kids[2])
		switch c {
		case types.True:
			return a
		case types.False:
			return b
		}
	}
	switch c {
	case types.True:
		return f.eval(n.kids[1])
	case types.False:
		return f.eval(n.kids[2])
	}
	if w, ok := isOpen(c); ok {
		return &open{why: w}
	}
	return c
}

func isBroken(v ref.Val) bool { _, ok := v.(*broken); return ok }
