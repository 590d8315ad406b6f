package kernel

import (
	"fmt"
	"math"
	"slices"
	"sync"
)

// Graph is the set of all per-sample expressions and aggregates in use.
// Equal expressions are one node, whoever asked for them; operands of
// commutative operators are sorted. Safe for concurrent use.
type Graph struct {
	mu    sync.RWMutex
	nodes []node // an operand always comes before the node that uses it
	index map[ident]Node
	aggs  []aggregate
	folds map[aggregate]Agg
	wears map[string]*Wear // by their text
	keys  map[Node]string
}

// Kind says what a node is a row of.
type Kind uint8

// The kinds.
const (
	Number Kind = iota
	Truths
)

// Point is a corner of a curve.
type Point struct{ X, Y float64 }

type form uint8

const (
	channelForm form = iota
	rangeForm        // low, high
	truthForm        // low: 0 or 1
	unsureForm       // a truth that nobody knows
	addForm
	subForm
	mulForm
	divForm
	leastForm
	greatestForm
	lessForm
	equalForm
	andForm
	orForm
	notForm
	negForm
	absForm
	condForm
	curveForm
	slopeForm
	delayForm  // low: seconds
	smoothForm // low: seconds
	heldForm   // low: seconds
	sinceForm
)

type node struct {
	form      form
	kind      Kind
	a, b, c   Node    // operands; NoNode where there is none
	low, high float64 // parameters
	name      string  // of a channel
	curve     []Point
	channels  []string // beneath it, sorted
	memory    bool     // its value in a row depends on other rows
	restless  bool     // it may change in rows where no channel beneath it has an own sample
}

// ident is a node as a map key: equal nodes have equal idents.
type ident struct {
	form      form
	kind      Kind
	a, b, c   Node
	low, high uint64
	name      string // of a channel, or the curve in text
}

type aggregate struct {
	fold Fold
	x, y Node
	q    uint64 // bits of the quantile
	wear *Wear  // of a Damage
}

// NewGraph is an empty graph.
func NewGraph() *Graph {
	return &Graph{index: map[ident]Node{}, folds: map[aggregate]Agg{}, wears: map[string]*Wear{}, keys: map[Node]string{}}
}

// Channel is the logged channel of that name: its newest own sample, for as long as
// that stands. A log without the channel has it missing in every row.
func (g *Graph) Channel(name string) Node {
	return g.add(node{form: channelForm, name: name})
}

// Const is a number. A number that is not finite is unknown.
func (g *Graph) Const(v float64) Node {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return g.Unknown(Number)
	}
	return g.Range(v, v)
}

// Range is a number known only to lie between low and high, which may be infinite.
// Bounds that are no numbers, or the wrong way round, are unknown.
func (g *Graph) Range(low, high float64) Node {
	if !(low <= high) || math.IsInf(low, 1) || math.IsInf(high, -1) {
		low, high = math.Inf(-1), math.Inf(1)
	}
	return g.add(node{form: rangeForm, low: low + 0, high: high + 0})
}

// Unknown is a number or a truth that nobody knows.
func (g *Graph) Unknown(k Kind) Node {
	if k == Truths {
		return g.add(node{form: unsureForm, kind: Truths})
	}
	return g.Range(math.Inf(-1), math.Inf(1))
}

// Truth is true or false in every row.
func (g *Graph) Truth(b bool) Node {
	n := node{form: truthForm, kind: Truths}
	if b {
		n.low = 1
	}
	return g.add(n)
}

// Op is an operator on two nodes.
//
// Numbers: a result that is not finite (a division by zero, an overflow) is unknown.
// Where an operand is missing or known only within bounds, the result is bounded as
// far as the operands bound it: the least of a missing number and 3 is at most 3.
// Compares are true or false where every value within the bounds says so, else
// unknown. And, Or: three-valued (Kleene).
func (g *Graph) Op(op Op, a, b Node) Node {
	switch op {
	case And, Or:
		g.must(Truths, a, b)
		return g.logic(op, a, b)
	case Less:
		return g.compare(lessForm, a, b)
	case More:
		return g.compare(lessForm, b, a)
	case LessEq:
		return g.Not(g.compare(lessForm, b, a))
	case MoreEq:
		return g.Not(g.compare(lessForm, a, b))
	case Equal:
		return g.compare(equalForm, a, b)
	case NotEqual:
		return g.Not(g.compare(equalForm, a, b))
	}
	g.must(Number, a, b)
	f := map[Op]form{Add: addForm, Sub: subForm, Mul: mulForm, Div: divForm, Least: leastForm, Greatest: greatestForm}[op]
	if x, y := g.node(a), g.node(b); x.form == rangeForm && y.form == rangeForm {
		return g.Range(bounds2(f, x.low, x.high, y.low, y.high))
	}
	if (f == leastForm || f == greatestForm) && a == b {
		return a
	}
	if f != subForm && f != divForm && b < a {
		a, b = b, a
	}
	return g.add(node{form: f, a: a, b: b, c: NoNode})
}

func (g *Graph) compare(f form, a, b Node) Node {
	if g.Kind(a) == Truths && g.Kind(b) == Truths && f == equalForm {
		// both true or both false
		return g.logic(Or, g.logic(And, a, b), g.logic(And, g.Not(a), g.Not(b)))
	}
	g.must(Number, a, b)
	if x, y := g.node(a), g.node(b); x.form == rangeForm && y.form == rangeForm {
		t, f := compare2(f, x.low, x.high, y.low, y.high)
		if t || f {
			return g.Truth(t)
		}
		return g.Unknown(Truths)
	}
	if f == equalForm && b < a {
		a, b = b, a
	}
	return g.add(node{form: f, kind: Truths, a: a, b: b, c: NoNode})
}

func (g *Graph) logic(op Op, a, b Node) Node {
	yes, no := g.Truth(true), g.Truth(false)
	if op == Or {
		yes, no = no, yes
	}
	switch { // for And: yes is neutral, no decides
	case a == b, b == yes:
		return a
	case a == yes:
		return b
	case a == no, b == no:
		return no
	}
	if b < a {
		a, b = b, a
	}
	f := andForm
	if op == Or {
		f = orForm
	}
	return g.add(node{form: f, kind: Truths, a: a, b: b, c: NoNode})
}

// Not is true where a is false.
func (g *Graph) Not(a Node) Node {
	g.must(Truths, a)
	switch n := g.node(a); n.form {
	case notForm:
		return n.a
	case truthForm:
		return g.Truth(n.low == 0)
	case unsureForm:
		return a
	}
	return g.add(node{form: notForm, kind: Truths, a: a, b: NoNode, c: NoNode})
}

// Neg is minus a.
func (g *Graph) Neg(a Node) Node { return g.unary(negForm, a) }

// Abs is a without its sign.
func (g *Graph) Abs(a Node) Node { return g.unary(absForm, a) }

func (g *Graph) unary(f form, a Node) Node {
	g.must(Number, a)
	if n := g.node(a); n.form == rangeForm {
		return g.Range(bounds1(f, n.low, n.high))
	}
	return g.add(node{form: f, a: a, b: NoNode, c: NoNode})
}

// Cond is a where p is true and b where it is false. Where p is unknown it lies
// between the two, so it is known only where both sides agree. Both sides are
// numbers, or both are truths.
func (g *Graph) Cond(p, a, b Node) Node {
	g.must(Truths, p)
	g.must(g.Kind(a), b)
	if n := g.node(p); n.form == truthForm {
		if n.low == 1 {
			return a
		}
		return b
	}
	if a == b {
		return a
	}
	return g.add(node{form: condForm, kind: g.Kind(a), a: a, b: b, c: p})
}

// IsTrue is a yes-no channel, 0 or 1, as a truth: true where it is not 0.
func (g *Graph) IsTrue(x Node) Node { return g.Op(NotEqual, x, g.Const(0)) }

// CurveAt reads a curve at x, along straight lines between its points. Outside its
// points it is unknown: a curve is never extrapolated. The points must pass CheckCurve.
func (g *Graph) CurveAt(points []Point, x Node) Node {
	g.must(Number, x)
	if err := CheckCurve(points); err != nil {
		panic("kernel: " + err.Error())
	}
	n := node{form: curveForm, a: x, b: NoNode, c: NoNode, curve: slices.Clone(points)}
	for i, p := range n.curve {
		n.curve[i] = Point{X: p.X + 0, Y: p.Y + 0}
	}
	if r := g.node(x); r.form == rangeForm {
		return g.Range(curveBounds(n.curve, r.low, r.high))
	}
	return g.add(n)
}

// CheckCurve says what is wrong with a curve: it needs a point, finite numbers, and x increasing.
func CheckCurve(points []Point) error {
	if len(points) == 0 {
		return fmt.Errorf("a curve needs at least one point")
	}
	for i, p := range points {
		if math.IsNaN(p.X-p.X) || math.IsNaN(p.Y-p.Y) {
			return fmt.Errorf("point %d of the curve is not finite", i+1)
		}
		if i > 0 && p.X <= points[i-1].X {
			return fmt.Errorf("point %d of the curve does not lie beyond the one before: x must increase", i+1)
		}
	}
	return nil
}

// Slope is the rate of change of x per second, from its own samples: the difference to
// the sample before, or to the one after where there is none before (the first sample, or
// the first after missing ones). It stands until the next own sample. Where x is missing or
// known only within bounds it is unknown; readings that may be off bound it. The own samples of an expression are those of all
// its channels; of one with a delay, a mean or a spell in it, every row.
func (g *Graph) Slope(x Node) Node {
	g.must(Number, x)
	if g.scalar(x) {
		return g.Const(0)
	}
	return g.add(node{form: slopeForm, a: x, b: NoNode, c: NoNode, memory: true})
}

// Delay is what x, numbers or truths, was d seconds ago. In the first d seconds of a log it is unknown.
// A number or truth that is no signal is what it is at all times.
func (g *Graph) Delay(x Node, d float64) Node {
	if d = seconds(d); d == 0 || g.scalar(x) {
		return x
	}
	return g.add(node{form: delayForm, kind: g.Kind(x), a: x, b: NoNode, c: NoNode, low: d, memory: true})
}

// Smooth is the mean of x over the d seconds up to now, weighted by time; near the
// start of a log, over as many as there are. It is bounded as far as the values in the window are.
func (g *Graph) Smooth(x Node, d float64) Node {
	g.must(Number, x)
	if d = seconds(d); d == 0 || g.scalar(x) {
		return x
	}
	return g.add(node{form: smoothForm, a: x, b: NoNode, c: NoNode, low: d, memory: true})
}

// Held is true where p has been true, within the log, for at least d seconds without a break.
func (g *Graph) Held(p Node, d float64) Node {
	g.must(Truths, p)
	if d = seconds(d); d == 0 || p == g.Truth(false) {
		return p
	}
	return g.add(node{form: heldForm, kind: Truths, a: p, b: NoNode, c: NoNode, low: d, memory: true})
}

// Since is how many seconds ago p was last true: 0 where it is true. Before p was first
// true it is at least the time since the log began, and nothing bounds it above.
func (g *Graph) Since(p Node) Node {
	g.must(Truths, p)
	return g.add(node{form: sinceForm, a: p, b: NoNode, c: NoNode, memory: true})
}

// scalar: the same in every row, known or not.
func (g *Graph) scalar(x Node) bool {
	f := g.node(x).form
	return f == rangeForm || f == truthForm || f == unsureForm
}

// seconds refuses what is no length of time: a programmer's error.
func seconds(d float64) float64 {
	if !(d >= 0) || math.IsInf(d, 1) {
		panic(fmt.Sprintf("kernel: %v s is not a length of time", d))
	}
	return d + 0
}

// Aggregate folds one or two nodes over a log; see the folds for which. A second operand
// that is left out is NoNode or not there. q, from 0 to 1, is that of a Quantile; others ignore it.
func (g *Graph) Aggregate(f Fold, q float64, operands ...Node) Agg {
	a := aggregate{fold: f, x: operands[0], y: NoNode}
	if len(operands) > 1 {
		a.y = operands[1]
	}
	want := Truths
	switch f {
	case Min, Max, Mean, Quantile, Integral, First, Last:
		want = Number
	case Ever, Total, Longest, Count:
		if a.y != NoNode {
			panic(fmt.Sprintf("kernel: fold %d takes one operand", f))
		}
	}
	g.must(want, a.x)
	if f == Response || a.y != NoNode {
		g.must(Truths, a.y)
	}
	if f == Quantile {
		if !(q >= 0 && q <= 1) {
			panic(fmt.Sprintf("kernel: a quantile lies from 0 to 1, not at %v", q))
		}
		a.q = math.Float64bits(q + 0)
	}
	g.mu.Lock()
	defer g.mu.Unlock()
	return g.intern(a)
}

// Damage folds a node of numbers by a wear.
func (g *Graph) Damage(w Wear, x Node) Agg {
	g.must(Number, x)
	g.mu.Lock()
	defer g.mu.Unlock()
	if g.wears[w.Text] == nil {
		g.wears[w.Text] = &w
	}
	return g.intern(aggregate{fold: Damage, x: x, y: NoNode, wear: g.wears[w.Text]})
}

func (g *Graph) intern(a aggregate) Agg {
	if id, ok := g.folds[a]; ok {
		return id
	}
	id := Agg(len(g.aggs))
	g.aggs = append(g.aggs, a)
	g.folds[a] = id
	return id
}

// Kind says whether a node is numbers or truths.
func (g *Graph) Kind(n Node) Kind { return g.node(n).kind }

// Channels are the channels beneath an aggregate, sorted.
func (g *Graph) Channels(a Agg) []string {
	nodes, aggs := g.snapshot()
	return channelsOf(nodes, aggs[a])
}

func channelsOf(nodes []node, a aggregate) []string {
	all := slices.Clone(nodes[a.x].channels)
	if a.y != NoNode {
		all = append(all, nodes[a.y].channels...)
	}
	slices.Sort(all)
	return slices.Compact(all)
}

// must panics where an operand is of the wrong kind: the caller checks types.
func (g *Graph) must(k Kind, operands ...Node) {
	for _, n := range operands {
		if g.Kind(n) != k {
			panic(fmt.Sprintf("kernel: node %d is of the wrong kind", n))
		}
	}
}

func (g *Graph) node(n Node) node {
	g.mu.RLock()
	defer g.mu.RUnlock()
	return g.nodes[n]
}

// snapshot is what is in the graph now; nodes and aggregates never change.
func (g *Graph) snapshot() ([]node, []aggregate) {
	g.mu.RLock()
	defer g.mu.RUnlock()
	return g.nodes[:len(g.nodes):len(g.nodes)], g.aggs[:len(g.aggs):len(g.aggs)]
}

func (g *Graph) add(n node) Node {
	if n.form <= unsureForm {
		n.a, n.b, n.c = NoNode, NoNode, NoNode
	}
	key := ident{
		form: n.form, kind: n.kind, a: n.a, b: n.b, c: n.c,
		low: math.Float64bits(n.low), high: math.Float64bits(n.high), name: n.name,
	}
	if n.curve != nil {
		key.name = curveText(n.curve)
	}
	g.mu.Lock()
	defer g.mu.Unlock()
	if id, ok := g.index[key]; ok {
		return id
	}
	if n.form == channelForm {
		n.channels = []string{n.name}
	}
	n.restless = n.memory && n.form != slopeForm
	for _, x := range []Node{n.a, n.b, n.c} {
		if x != NoNode {
			n.channels = append(n.channels, g.nodes[x].channels...)
			n.restless = n.restless || g.nodes[x].restless
		}
	}
	slices.Sort(n.channels)
	n.channels = slices.Compact(n.channels)
	id := Node(len(g.nodes))
	g.nodes = append(g.nodes, n)
	g.index[key] = id
	return id
}
