package expr

import (
	"cmp"
	"context"
	"fmt"
	"maps"
	"math"
	"slices"

	"github.com/google/cel-go/common/functions"
	"github.com/google/cel-go/common/operators"
	"github.com/google/cel-go/common/types"
	"github.com/google/cel-go/common/types/ref"
	"github.com/google/cel-go/common/types/traits"

	"github.com/paintmark/paintmark/internal/kernel"
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

func (f *frame) mapping(n *node) ref.Val {
	m := map[ref.Val]ref.Val{}
	for i := 0; i < len(n.kids); i += 2 {
		k, v := f.eval(n.kids[i]), f.eval(n.kids[i+1])
		if isBroken(k) {
			return k
		}
		if isBroken(v) {
			return v
		}
		if w, unsure := isOpen(k); unsure {
			return &open{why: w}
		}
		if _, twice := m[k]; twice {
			return &broken{at: n.kids[i], what: "the same key stands twice"}
		}
		m[k] = v
	}
	return types.NewRefValMap(types.DefaultTypeAdapter, m)
}

// folded is all, exists, map or filter.
func (f *frame) folded(c *fold) ref.Val {
	over := f.eval(c.over)
	if isBroken(over) {
		return over
	}
	if w, ok := isOpen(over); ok {
		return &open{why: w}
	}
	var items, keys []ref.Val
	switch over := over.(type) {
	case *doc:
		for _, k := range over.v.Keys {
			keys = append(keys, types.String(k))
			items = append(items, f.field(over, k, true))
		}
	case traits.Mapper:
		for it := over.Iterator(); it.HasNext() == types.True; {
			keys = append(keys, it.Next())
		}
		slices.SortFunc(keys, func(a, b ref.Val) int { return cmp.Compare(fmt.Sprint(a.Value()), fmt.Sprint(b.Value())) })
		for _, k := range keys {
			items = append(items, over.Get(k))
		}
	case traits.Lister:
		n, _ := over.Size().(types.Int)
		for i := types.Int(0); i < n; i++ {
			items = append(items, over.Get(i))
		}
	}
	depth := len(f.locals)
	f.locals = append(f.locals, local{c.sum, f.eval(c.init)})
	for i, item := range items {
		first := item
		switch {
		case c.item2 != "" && keys != nil:
			first = keys[i]
		case c.item2 != "":
			first = types.Int(i)
		case keys != nil:
			first = keys[i]
		}
		f.locals = append(f.locals, local{c.item, first})
		if c.item2 != "" {
			f.locals = append(f.locals, local{c.item2, item})
		}
		if !f.all && f.eval(c.while) == types.False {
			f.locals = f.locals[:depth+1]
			break
		}
		next := f.eval(c.step)
		f.locals = f.locals[:depth+1]
		f.locals[depth].value = next
		if f.steps > maxSteps || f.stop != nil {
			break
		}
	}
	result := f.eval(c.result)
	f.locals = f.locals[:depth]
	return result
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

func (f *frame) indexed(of, key ref.Val) ref.Val {
	if w, ok := isOpen(key); ok {
		return &open{why: w.and(reason(of))}
	}
	switch of := of.(type) {
	case *doc, *absent:
		switch key := key.(type) {
		case types.String:
			return f.field(of, string(key), true)
		case types.Int:
			if a, ok := of.(*absent); ok {
				return f.take(nil, a.t.Elem, fmt.Sprintf("%s[%d]", a.path, key), a.pos)
			}
		}
	case *docs:
		i, isInt := key.(types.Int)
		switch {
		case isInt && i < 0:
			return types.NewErr("index out of range: %d", i)
		case isInt && int(i) >= len(of.v.Items):
			return f.take(nil, of.t.Elem, fmt.Sprintf("%s[%d]", of.path, i), of.v.Pos)
		}
		return of.Get(key)
	case traits.Lister:
		if i, isInt := key.(types.Int); isInt && (i < 0 || i >= of.Size().(types.Int)) {
			return types.NewErr("index out of range: %d", i)
		}
		return of.Get(key)
	case traits.Mapper:
		return of.Get(key)
	}
	if w, ok := isOpen(of); ok {
		return &open{why: w}
	}
	return types.NewErr("no such element")
}

// isIn is `in`. A key that a document does not hold may still be true of the car.
func (f *frame) isIn(x, of ref.Val) ref.Val {
	switch of := of.(type) {
	case *doc:
		key, _ := x.(types.String)
		if v := of.v.Fields[string(key)]; v != nil && !v.Unknown {
			return types.True
		}
		return &open{why: missing(of.path+"["+string(key)+"]", of.v.Pos, "")}
	case traits.Mapper:
		return of.Contains(x)
	case traits.Lister:
		f.steps += int(of.Size().(types.Int))
		return within(x, of)
	}
	return types.NewErr("not a list")
}

// appended joins two lists into one flat one, as map() and filter() do once per element.
func (f *frame) appended(a, b traits.Lister) ref.Val {
	n, m := a.Size().(types.Int), b.Size().(types.Int)
	f.steps += int(n+m) / 2
	all := make([]ref.Val, 0, n+m)
	for i := types.Int(0); i < n; i++ {
		all = append(all, a.Get(i))
	}
	for i := types.Int(0); i < m; i++ {
		all = append(all, b.Get(i))
	}
	return types.NewRefValList(types.DefaultTypeAdapter, all)
}

func textLength(v ref.Val) int {
	switch v := v.(type) {
	case types.String:
		return len(v)
	case types.Bytes:
		return len(v)
	}
	return 0
}

// standard calls one of CEL's own functions.
func (f *frame) standard(n *node, args []ref.Val) ref.Val {
	for _, a := range args {
		f.steps += textLength(a) / 16
	}
	for i, a := range args {
		s, ok := a.(*span)
		if !ok {
			continue
		}
		switch {
		case n.name == "double":
			return number(s.lo, s.hi, false, s.why)
		case n.name == "int" && i == 0:
			return number(math.Trunc(s.lo), math.Trunc(s.hi), true, s.why)
		}
		return &open{why: s.why}
	}
	var o *functions.Overload
	if len(n.std) == 1 {
		o = f.x.env.calls[n.std[0]]
	}
	if o == nil {
		o = f.x.env.calls[n.name]
	}
	switch {
	case o == nil:
	case len(args) == 1 && o.Unary != nil:
		return o.Unary(args[0])
	case len(args) == 2 && o.Binary != nil:
		return o.Binary(args[0], args[1])
	case o.Function != nil:
		return o.Function(args...)
	}
	return types.NewErr("%s() cannot be worked out here", n.name)
}

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

func isBroken(v ref.Val) bool { _, ok := v.(*broken); return ok }

// Eval evaluates the expression.
func (x *Expr) Eval(ctx context.Context, in Inputs) (a Answer) {
	f := &frame{ctx: ctx, x: x, in: in}
	defer func() {
		if r := recover(); r != nil { // a slip of this program, or values of other types than the scope's
			a = Answer{Low: math.NaN(), High: math.NaN(), Open: true, Fault: &source.Fault{Pos: x.Pos(), What: fmt.Sprintf("the expression cannot be worked out: %v", r)}}
		}
	}()
	return f.answer(f.eval(x.root))
}

// Want announces the aggregates that Eval will ask for, as far as they can be told before
// any is answered, so that a Runner can find those of all rules in one pass over the log.
func (x *Expr) Want(ctx context.Context, in Inputs) []kernel.Agg {
	var aggs []kernel.Agg
	in.Log = nil
	for _, n := range x.logs {
		f := &frame{ctx: ctx, x: x, in: in}
		nested := false
		for _, k := range n.kids {
			visit(k, func(k *node) {
				nested = nested || k.kind == callNode && k.fn != nil && k.fn.use == aboutLog || k.kind == nameNode && k.means == aLocal
			})
		}
		if nested {
			continue
		}
		if agg, _, err := f.aggregate(n); err == nil {
			aggs = append(aggs, agg)
		}
	}
	return aggs
}

// answer turns the value of an evaluation into an Answer.
func (f *frame) answer(v ref.Val) Answer {
	a := Answer{Low: math.NaN(), High: math.NaN(), Calls: f.calls}
	slices.SortStableFunc(a.Calls, func(c, d Call) int { return c.node.home.from(c.node) - d.node.home.from(d.node) })
	for _, path := range slices.Sorted(maps.Keys(f.reads)) {
		a.Read = append(a.Read, Read{Path: path, Value: f.reads[path]})
	}
	if b, ok := v.(*broken); ok {
		what, remedy := evalWords(b.what)
		a.Open, a.Fault = true, &source.Fault{Pos: b.at.home.where(b.at), What: what, Remedy: remedy}
		return a
	}
	if w := reason(v); w != nil {
		a.Gaps, a.Empty, a.NotFitted = w.gaps, w.empty, w.notFitted
	}
	if _, ok := isOpen(v); ok {
		a.Open = true
		if f.x.want == Value {
			a.Low, a.High = math.Inf(-1), math.Inf(1)
		}
		return a
	}
	switch f.x.want {
	case Truth:
		a.Truth = False
		if v == types.True {
			a.Truth = True
		}
	case Value:
		a.Low, a.High, _ = bounds(v)
		a.Open = math.IsNaN(a.Low) || math.IsNaN(a.High) || math.IsInf(a.Low, 0) && math.IsInf(a.High, 0)
	case TextOf:
		s, _ := v.(types.String)
		a.Text = string(s)
	case ListOf:
		a.List = f.list(v)
	}
	return a
}

// list turns a list into schema values, for the elements of an `each`.
func (f *frame) list(v ref.Val) []*schema.Value {
	if d, ok := v.(*docs); ok {
		return d.v.Items
	}
	l, ok := v.(traits.Lister)
	if !ok {
		return nil
	}
	t := f.x.Type()
	var items []*schema.Value
	n, _ := l.Size().(types.Int)
	for i := types.Int(0); i < n; i++ {
		items = append(items, f.schemaValue(l.Get(i), t))
	}
	return items
}

func (f *frame) schemaValue(v ref.Val, t *schema.Type) *schema.Value {
	out := &schema.Value{Type: t, Pos: f.x.Pos()}
	switch v := v.(type) {
	case *doc:
		return v.v
	case types.String:
		out.Text = string(v)
	case types.Bool:
		out.Bool = bool(v)
	case types.Int:
		out.Int = int64(v)
	case types.Double:
		out.Low, out.High = float64(v), float64(v)
	case *span:
		out.Low, out.High = v.lo, v.hi
	case types.Timestamp:
		out.Time = v.Time
	default:
		out.Unknown = true
	}
	return out
}
