package expr

import (
	"strings"

	"github.com/google/cel-go/common/ast"
	"github.com/google/cel-go/common/operators"
	"github.com/google/cel-go/common/types"
	"github.com/google/cel-go/common/types/ref"

	"github.com/paintmark/paintmark/internal/source"
)

// node is one sub-expression of a checked expression. Everything after the check
// (units, lowering, evaluation, explaining) works on this tree, not on CEL's.
type node struct {
	kind   kind
	off    int    // in characters, where CEL says it stands
	name   string // of a name, a field, a function or operator
	means  means  // of a name
	member bool   // x.f(y), not f(x, y)
	kids   []*node
	val    ref.Val // of a literal
	typ    *types.Type
	fact   fact      // what a number is a number of, what a list holds
	fn     *function // of a call to one of ours
	std    []string  // of any other call: CEL's overloads
	fold   *fold
	home   *text

	sampled  bool // has a value for each sample, not one for the whole log
	channels bool // reads a channel
	refused  bool // a fault of it is told
}

type kind uint8

const (
	litNode kind = iota
	nameNode
	fieldNode
	callNode
	listNode
	mapNode // kids: key, value, key, value
	foldNode
)

// means is what a name stands for.
type means uint8

const (
	aLocal means = iota
	aRoot
	aChannel
	aSpell // a derived name
)

// fold is what CEL makes of all, exists, map and filter.
type fold struct {
	over, init, while, step, result *node
	item, item2, sum                string
}

// planter turns CEL's checked tree into ours, and refuses on the way what rules may not say.
type planter struct {
	env    *Env
	ast    *ast.AST
	text   *text
	locals []string
	faults *source.Faults
}

func (p *planter) plant(e ast.Expr) *node {
	at, _ := p.ast.SourceInfo().GetOffsetRange(e.ID())
	n := &node{off: int(at.Start), home: p.text, typ: p.ast.GetType(e.ID())}
	switch e.Kind() {
	case ast.LiteralKind:
		n.kind, n.val = litNode, e.AsLiteral()
		if n.val == types.NullValue {
			p.refuse(n, "null is not used here", "leave it out: an absent value gives no data by itself")
		}
	case ast.IdentKind:
		n.kind, n.name = nameNode, e.AsIdent()
		p.resolve(n)
	case ast.SelectKind:
		sel := e.AsSelect()
		n.kind, n.name, n.kids = fieldNode, sel.FieldName(), []*node{p.plant(sel.Operand())}
		if sel.IsTestOnly() {
			p.refuse(n, "has() is not used in rules: it could switch one off", "write the value itself: an absent one gives no data")
		}
	case ast.CallKind:
		p.call(n, e)
	case ast.ListKind:
		n.kind = listNode
		for _, k := range e.AsList().Elements() {
			n.kids = append(n.kids, p.plant(k))
		}
		p.alike(n.kids, "the elements of a list")
	case ast.MapKind:
		n.kind = mapNode
		var keys, values []*node
		for _, entry := range e.AsMap().Entries() {
			m := entry.AsMapEntry()
			k, v := p.plant(m.Key()), p.plant(m.Value())
			n.kids = append(n.kids, k, v)
			keys, values = append(keys, k), append(values, v)
		}
		p.alike(keys, "the keys of a map")
		p.alike(values, "the values of a map")
	case ast.ComprehensionKind:
		p.comprehension(n, e.AsComprehension())
	default:
		p.refuse(n, "an object cannot be made here", "")
	}
	return n
}

// alike refuses values of several types in one list: CEL would lose sight of what they are.
func (p *planter) alike(kids []*node, what string) {
	for _, k := range kids {
		first := kids[0]
		if k.typ.IsExactType(first.typ) {
			continue
		}
		remedy := ""
		switch {
		case k.typ == types.IntType && first.typ == types.DoubleType:
			remedy = "write " + k.asDouble()
		case k.typ == types.DoubleType && first.typ == types.IntType:
			remedy = "write " + first.asDouble()
		}
		p.faults.Add(p.text.where(k), what+" must be of one type, not "+aType(first.typ)+" and "+aType(k.typ), remedy)
		return
	}
}

// asDouble is how a whole number is written where a number with a decimal point is wanted.
func (n *node) asDouble() string {
	if n.kind == litNode {
		return decimal(n.home.written(n))
	}
	return "double(" + n.home.written(n) + ")"
}

func (p *planter) call(n *node, e ast.Expr) {
	call := e.AsCall()
	n.kind, n.name, n.member = callNode, call.FunctionName(), call.IsMemberFunction()
	if n.member {
		n.kids = append(n.kids, p.plant(call.Target()))
	}
	for _, k := range call.Args() {
		n.kids = append(n.kids, p.plant(k))
	}
	n.std = p.ast.GetOverloadIDs(e.ID())
	if f, ok := functionsByName()[n.name]; ok && !n.member {
		n.fn = f
	}
	switch n.name {
	case operators.Equals, operators.NotEquals:
		if !comparable(n.kids[0].typ) && n.kids[1].val != types.NullValue {
			p.refuse(n, aType(n.kids[0].typ)+" cannot be compared as a whole", "compare what they hold")
		}
	case operators.In:
		if !comparable(n.kids[0].typ) {
			p.refuse(n, aType(n.kids[0].typ)+" cannot be compared as a whole", "compare what it holds, with exists()")
		}
	case operators.Subtract:
		if n.kids[0].typ.Kind() == types.TimestampKind && n.kids[1].typ.Kind() == types.TimestampKind {
			p.refuse(n, "dates are not subtracted", "write days("+p.text.written(n.kids[1])+", "+p.text.written(n.kids[0])+")")
		}
	}
}

// comparable says that == can be decided: objects and maps may lack parts.
func comparable(t *types.Type) bool {
	switch t.Kind() {
	case types.StructKind, types.OpaqueKind, types.MapKind:
		return false
	case types.ListKind:
		return comparable(elemType(t))
	}
	return true
}

func (p *planter) comprehension(n *node, c ast.ComprehensionExpr) {
	n.kind = foldNode
	over := p.plant(c.IterRange())
	if over.typ.Kind() == types.MapKind && over.kind != mapNode {
		p.refuse(n, "all(), exists(), map() and filter() would pass over the keys that a map lacks", "go through the list that names them, such as car.corners.all(c, measured.pad[c.position] > mm(3.0))")
	}
	f := &fold{over: over, init: p.plant(c.AccuInit()), item: c.IterVar(), item2: c.IterVar2(), sum: c.AccuVar()}
	p.locals = append(p.locals, f.sum, f.item, f.item2)
	f.while, f.step = p.plant(c.LoopCondition()), p.plant(c.LoopStep())
	p.locals = p.locals[:len(p.locals)-2]
	f.result = p.plant(c.Result())
	p.locals = p.locals[:len(p.locals)-1]
	n.fold = f
	n.kids = []*node{f.over, f.init, f.while, f.step, f.result}
}

// resolve says what a name stands for.
func (p *planter) resolve(n *node) {
	name := strings.TrimPrefix(n.name, ".")
	if name == n.name {
		for i := len(p.locals) - 1; i >= 0; i-- {
			if p.locals[i] == name {
				n.means = aLocal
				return
			}
		}
	}
	n.name = name
	switch {
	case p.env.spells[name] != nil:
		n.means, n.sampled, n.channels = aSpell, true, p.env.spells[name].channels
	case p.env.isChannel(name):
		n.means, n.sampled, n.channels = aChannel, true, true
	default:
		n.means = aRoot
		if n.typ.Kind() == types.TypeKind {
			p.refuse(n, "`"+name+"` is the name of a type, not a value", "")
		}
	}
}

func (p *planter) refuse(n *node, what, remedy string) {
	pos := p.text.nameAt(n)
	if n.kind == fieldNode || n.kind == foldNode { // has(x.y) stands at its bracket
		pos = p.text.pos(p.text.callName(n))
	}
	p.faults.Add(pos, what, remedy)
}

// visit goes through a tree, operands first.
func visit(n *node, do func(*node)) {
	for _, k := range n.kids {
		visit(k, do)
	}
	do(n)
}
