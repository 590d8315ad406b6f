package expr

import (
	"errors"
	"math"

	"github.com/google/cel-go/common/operators"
	"github.com/google/cel-go/common/types"
	"github.com/google/cel-go/common/types/ref"

	"github.com/paintmark/paintmark/internal/kernel"
)

// lowering turns the arguments of one log.* call into nodes of the kernel's graph. What
// has one value for the whole log is worked out first and goes in as a constant, a
// range or an unknown.
type lowering struct {
	*frame
	g        *kernel.Graph
	operands []kernel.Node // of the call itself
	why      *why          // what made a scalar input open
	fault    ref.Val       // a *broken scalar input
}

// errOpen says that a scalar the kernel needs exactly, such as a time, is not known.
var errOpen = errors.New("open")

// aggregate lowers a log.* call.
func (f *frame) aggregate(n *node) (kernel.Agg, *lowering, error) {
	l := &lowering{frame: f, g: f.x.env.graph}
	args := n.kids
	q := 0.0
	if n.fn.fold == kernel.Quantile {
		share, err := l.exact(args[1])
		if err != nil {
			return 0, l, err
		}
		if !(share >= 0 && share <= 1) {
			l.fault = &broken{at: args[1], what: "the share of log.quantile lies outside 0 to 1"}
			return 0, l, errOpen
		}
		q = share
		args = append([]*node{args[0]}, args[2:]...)
	}
	if n.fn.fold == kernel.Damage {
		return l.damage(args[0], args[1])
	}
	operands := make([]kernel.Node, len(args))
	for i, a := range args {
		x, err := l.node(a)
		if err != nil {
			return 0, l, err
		}
		if i == 0 && l.g.Kind(x) == kernel.Truths && n.typ.Kind() == types.BoolKind && (n.fn.fold == kernel.First || n.fn.fold == kernel.Last) {
			x = l.g.Cond(x, l.g.Const(1), l.g.Const(0))
		}
		operands[i] = x
	}
	l.operands = operands
	return l.g.Aggregate(n.fn.fold, q, operands...), l, nil
}

// damage lowers log.damage(x, curve).
func (l *lowering) damage(x, curve *node) (kernel.Agg, *lowering, error) {
	v := l.eval(curve)
	if b, ok := v.(*broken); ok {
		l.fault = b
		return 0, l, errOpen
	}
	c, ok := v.(*line)
	if !ok {
		l.why = l.why.and(reason(v))
		return 0, l, errOpen
	}
	w, err := wear(c.v)
	if err != nil {
		l.fault = &broken{at: curve, what: err.Error()}
		return 0, l, errOpen
	}
	operand, err := l.node(x)
	if err != nil {
		return 0, l, err
	}
	l.operands = []kernel.Node{operand}
	return l.g.Damage(w, operand), l, nil
}

// exact is a scalar that must be known exactly.
func (l *lowering) exact(n *node) (float64, error) {
	v := l.eval(n)
	if b, ok := v.(*broken); ok {
		l.fault = b
		return 0, errOpen
	}
	lo, hi, ok := bounds(v)
	if !ok || lo != hi || math.IsInf(lo, 0) {
		w := reason(v)
		if w == nil {
			w = notANumber
		}
		l.why = l.why.and(w)
		return 0, errOpen
	}
	return lo, nil
}

// scalar puts a value that is the same all through the log into the graph.
func (l *lowering) scalar(n *node) (kernel.Node, error) {
	v := l.eval(n)
	if b, ok := v.(*broken); ok {
		l.fault = b
		return 0, errOpen
	}
	l.why = l.why.and(reason(v))
	if n.typ.Kind() == types.BoolKind {
		if b, ok := v.(types.Bool); ok {
			return l.g.Truth(bool(b)), nil
		}
		return l.g.Unknown(kernel.Truths), nil
	}
	lo, hi, ok := bounds(v)
	switch {
	case !ok:
		return l.g.Unknown(kernel.Number), nil
	case lo == hi:
		return l.g.Const(lo), nil
	}
	return l.g.Range(lo, hi), nil
}

var kernelOps = map[string]kernel.Op{
	operators.Add: kernel.Add, operators.Subtract: kernel.Sub, operators.Multiply: kernel.Mul, operators.Divide: kernel.Div,
	operators.Less: kernel.Less, operators.LessEquals: kernel.LessEq, operators.Greater: kernel.More, operators.GreaterEquals: kernel.MoreEq,
	operators.LogicalAnd: kernel.And, operators.LogicalOr: kernel.Or, "least": kernel.Least, "greatest": kernel.Greatest,
	operators.Equals: kernel.Equal, operators.NotEquals: kernel.NotEqual,
}

func (l *lowering) node(n *node) (kernel.Node, error) {
	if !n.sampled {
		return l.scalar(n)
	}
	if n.kind == nameNode {
		if n.means == aSpell {
			return l.spell(n.name)
		}
		ch := l.g.Channel(n.name)
		if n.typ.Kind() == types.BoolKind {
			ch = l.g.IsTrue(ch)
		}
		return ch, nil
	}
	switch n.name {
	case "delay", "smooth", "held":
		return l.over(n)
	case "at":
		return l.curve(n)
	case operators.In:
		return l.among(n)
	}
	kids := make([]kernel.Node, len(n.kids))
	for i, k := range n.kids {
		x, err := l.node(k)
		if err != nil {
			return 0, err
		}
		kids[i] = x
	}
	switch n.name {
	case "slope":
		return l.g.Slope(kids[0]), nil
	case "since":
		return l.g.Since(kids[0]), nil
	case "abs":
		return l.g.Abs(kids[0]), nil
	case "double":
		return kids[0], nil
	case operators.Negate:
		return l.g.Neg(kids[0]), nil
	case operators.LogicalNot:
		return l.g.Not(kids[0]), nil
	case operators.Conditional:
		return l.g.Cond(kids[0], kids[1], kids[2]), nil
	}
	return l.g.Op(kernelOps[n.name], kids[0], kids[1]), nil
}

// spell is a derived name: the same expression for all who name it.
func (l *lowering) spell(name string) (kernel.Node, error) {
	if x, ok := l.spells[name]; ok {
		l.why = l.why.and(x.why)
		return x.node, nil
	}
	before := l.why
	l.why = nil
	locals := l.locals
	l.locals = nil // a derived expression sees no names of all() or map()
	x, err := l.node(l.x.env.spells[name].root)
	l.locals = locals
	if err != nil {
		l.why = l.why.and(before)
		return 0, err
	}
	if l.spells == nil {
		l.spells = map[string]lowered{}
	}
	l.spells[name] = lowered{node: x, why: l.why}
	l.why = l.why.and(before)
	return x, nil
}

type lowered struct {
	node kernel.Node
	why  *why
}

// over is a function of a window of time.
func (l *lowering) over(n *node) (kernel.Node, error) {
	x, err := l.node(n.kids[0])
	if err != nil {
		return 0, err
	}
	d, err := l.exact(n.kids[1])
	switch {
	case err != nil:
		return 0, err
	case d < 0:
		l.fault = &broken{at: n.kids[1], what: "the time of " + n.name + "() is negative"}
		return 0, errOpen
	}
	switch n.name {
	case "delay":
		return l.g.Delay(x, d), nil
	case "smooth":
		return l.g.Smooth(x, d), nil
	}
	return l.g.Held(x, d), nil
}

func (l *lowering) curve(n *node) (kernel.Node, error) {
	x, err := l.node(n.kids[1])
	if err != nil {
		return 0, err
	}
	v := l.eval(n.kids[0])
	if b, ok := v.(*broken); ok {
		l.fault = b
		return 0, errOpen
	}
	c, ok := v.(*line)
	if !ok {
		l.why = l.why.and(reason(v))
		return l.g.Unknown(kernel.Number), nil
	}
	points := make([]kernel.Point, len(c.v.Points))
	for i, p := range c.v.Points {
		points[i] = kernel.Point(p)
	}
	if err := kernel.CheckCurve(points); err != nil {
		l.fault = &broken{at: n.kids[0], what: err.Error()}
		return 0, errOpen
	}
	return l.g.CurveAt(points, x), nil
}

// among is `x in [a, b]`.
func (l *lowering) among(n *node) (kernel.Node, error) {
	x, err := l.node(n.kids[0])
	if err != nil {
		return 0, err
	}
	found := l.g.Truth(false)
	for _, k := range n.kids[1].kids {
		y, err := l.node(k)
		if err != nil {
			return 0, err
		}
		found = l.g.Op(kernel.Or, found, l.g.Op(kernel.Equal, x, y))
	}
	return found, nil
}
