package expr

import (
	"errors"
	"slices"
	"strings"

	"github.com/google/cel-go/common/operators"
	"github.com/google/cel-go/common/types"

	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
	"github.com/paintmark/paintmark/internal/units"
)

// fact is what is known of a sub-expression beyond its CEL type.
type fact struct {
	unit units.Type // of a number
	bad  bool       // a fault was reported: say nothing more about it
	sch  *schema.Type
	elem *fact // of a list or map
}

// surveyor gives every node its fact, and reports where they do not fit.
type surveyor struct {
	env    *Env
	faults *source.Faults
	locals []localFact
}

type localFact struct {
	name string
	fact fact
}

var second = units.Type{Dim: units.Dim{Time: 1}}

// factOf is the fact of a document's value.
func factOf(t *schema.Type) fact {
	f := fact{sch: t}
	switch t.Kind {
	case schema.Quantity:
		f.unit = t.Unit
	case schema.List, schema.Map:
		elem := factOf(t.Elem)
		f.elem = &elem
	}
	return f
}

func (s *surveyor) survey(n *node) fact {
	n.fact = s.fact(n)
	return n.fact
}

func (s *surveyor) fact(n *node) fact {
	switch n.kind {
	case litNode:
		return literalFact(n)
	case nameNode:
		switch n.means {
		case aLocal:
			for i := len(s.locals) - 1; i >= 0; i-- {
				if s.locals[i].name == n.name {
					return s.locals[i].fact
				}
			}
			return fact{}
		case aSpell:
			return s.env.spells[n.name].fact
		case aChannel:
			return fact{unit: s.env.scope.Channels[n.name].Unit}
		}
		if t := s.env.root(n.name); t != nil {
			return factOf(t)
		}
		return fact{}
	case fieldNode:
		of := s.survey(n.kids[0])
		switch {
		case of.elem != nil:
			return *of.elem
		case of.sch != nil && of.sch.Fields[n.name] != nil:
			return factOf(of.sch.Fields[n.name])
		}
		return fact{bad: of.bad}
	case listNode:
		return s.list(n.kids, n)
	case mapNode:
		var values []*node
		for i, k := range n.kids {
			if i%2 == 0 {
				s.survey(k)
			} else {
				values = append(values, k)
			}
		}
		return s.list(values, n)
	case foldNode:
		return s.fold(n.fold)
	}
	return s.call(n)
}

func literalFact(n *node) fact {
	if n.val == types.Double(0) || n.val == types.Int(0) {
		return fact{unit: units.Zero}
	}
	return fact{}
}

// list gives a list of values that must all be of one kind.
func (s *surveyor) list(kids []*node, n *node) fact {
	var elem *fact
	for _, k := range kids {
		f := s.survey(k)
		if elem == nil {
			elem = &f
			continue
		}
		if isNumber(k.typ) {
			joined := s.meet(k, *elem, f)
			elem = &joined
		}
	}
	return fact{elem: elem}
}

func (s *surveyor) fold(c *fold) fact {
	over := s.survey(c.over)
	item := fact{}
	if over.elem != nil {
		item = *over.elem
	}
	if c.over.typ.Kind() == types.MapKind && c.item2 == "" {
		item = fact{}
	}
	init := s.survey(c.init)
	depth := len(s.locals)
	if c.item2 != "" {
		s.locals = append(s.locals, localFact{c.sum, init}, localFact{c.item, fact{}}, localFact{c.item2, item})
	} else {
		s.locals = append(s.locals, localFact{c.sum, init}, localFact{c.item, item})
	}
	s.survey(c.while)
	sum := s.survey(c.step)
	s.locals = append(s.locals[:depth], localFact{c.sum, sum})
	result := s.survey(c.result)
	s.locals = s.locals[:depth]
	return result
}

func (s *surveyor) call(n *node) fact {
	for _, k := range n.kids {
		s.survey(k)
	}
	if n.fn != nil {
		if slices.ContainsFunc(n.kids, func(k *node) bool { return k.fact.bad }) {
			return fact{bad: true}
		}
		return n.fn.rule(s, n)
	}
	var a, b fact
	if len(n.kids) > 0 {
		a = n.kids[0].fact
	}
	if len(n.kids) > 1 {
		b = n.kids[1].fact
	}
	switch n.name {
	case operators.Conditional:
		b, c := n.kids[1].fact, n.kids[2].fact
		switch {
		case isNumber(n.typ):
			return s.meet(n.kids[2], b, c)
		case b.elem != nil && c.elem != nil && isNumber(elemType(n.typ)):
			elem := s.meet(n.kids[2], *b.elem, *c.elem)
			return fact{elem: &elem}
		case b.sch == nil && b.elem == nil:
			return c
		}
		return b
	case operators.Equals, operators.NotEquals:
		if isNumber(n.kids[0].typ) && isNumber(n.kids[1].typ) {
			s.meet(n.kids[1], a, b)
		}
		s.enum(n.kids[0], n.kids[1])
		s.enum(n.kids[1], n.kids[0])
	case operators.Less, operators.LessEquals, operators.Greater, operators.GreaterEquals:
		if isNumber(n.kids[0].typ) && isNumber(n.kids[1].typ) {
			s.meet(n.kids[1], a, b)
		}
	case operators.In:
		if b.elem != nil && isNumber(n.kids[0].typ) && n.kids[1].typ.Kind() == types.ListKind {
			s.meet(n.kids[0], a, *b.elem)
		}
		for _, k := range n.kids[1].kids {
			if n.kids[1].kind == listNode {
				s.enum(n.kids[0], k)
			}
		}
		if b.elem != nil && b.elem.sch != nil {
			s.enum(n.kids[1], n.kids[0])
		}
	case operators.Index:
		if a.elem != nil {
			return *a.elem
		}
		return fact{bad: a.bad}
	case operators.Negate:
		return s.of(n)(units.Neg(a.unit))
	case operators.Add, operators.Subtract, operators.Multiply, operators.Divide, operators.Modulo:
		return s.arith(n, a, b)
	case "double", "int":
		return fact{unit: a.unit, bad: a.bad}
	}
	return fact{}
}

func (s *surveyor) arith(n *node, a, b fact) fact {
	if n.typ.Kind() == types.ListKind {
		switch {
		case a.elem == nil:
			return b
		case b.elem != nil && isNumber(elemType(n.typ)):
			elem := s.meet(n.kids[1], *a.elem, *b.elem)
			return fact{elem: &elem}
		}
		return a
	}
	if !isNumber(n.typ) {
		return fact{}
	}
	if a.bad || b.bad {
		return fact{bad: true}
	}
	if d, ok := s.constant(n.kids[1]); ok && d == 0 && (n.name == operators.Divide || n.name == operators.Modulo) {
		return s.bad(n, "this divides by zero", "")
	}
	switch n.name {
	case operators.Add:
		return s.of(n.kids[1])(units.Add(a.unit, b.unit))
	case operators.Subtract:
		return s.of(n.kids[1])(units.Sub(a.unit, b.unit))
	case operators.Multiply:
		return s.of(n)(units.Mul(a.unit, b.unit))
	case operators.Divide:
		return s.of(n)(units.Div(a.unit, b.unit))
	}
	return fact{unit: a.unit}
}

// meet is the fact of two numbers that must be of one kind; a misfit is reported at the
// second of them.
func (s *surveyor) meet(at *node, a, b fact) fact {
	if a.bad || b.bad {
		return fact{bad: true}
	}
	return s.of(at)(units.Unify(a.unit, b.unit))
}

// of takes what units say of a node: its unit, or what is wrong.
func (s *surveyor) of(at *node) func(units.Type, error) fact {
	return func(t units.Type, err error) fact {
		if err == nil {
			return fact{unit: t}
		}
		f := source.Fault{Pos: at.home.where(at), What: err.Error()}
		var e *units.Error
		if errors.As(err, &e) {
			f.What, f.Remedy = e.What, e.Remedy
		}
		if at.kind == callNode && signs[at.name] != "" {
			f.Pos = at.home.nameAt(at)
		}
		*s.faults = append(*s.faults, f)
		return fact{bad: true}
	}
}

// enum refuses a text that an enum can never hold.
func (s *surveyor) enum(of, lit *node) {
	sch := of.fact.sch
	if of.fact.elem != nil {
		sch = of.fact.elem.sch
	}
	if sch == nil || sch.Kind != schema.Enum || lit.kind != litNode {
		return
	}
	word, ok := lit.val.(types.String)
	if !ok || slices.Contains(sch.Enum, string(word)) {
		return
	}
	remedy := "write one of " + strings.Join(sch.Enum, ", ")
	if near := source.Nearest(string(word), sch.Enum); near != "" {
		remedy = "did you mean " + near + "? It is one of " + strings.Join(sch.Enum, ", ")
	}
	s.faults.Add(lit.home.where(lit), of.home.written(of)+" is never `"+string(word)+"`", remedy)
}

func (s *surveyor) bad(n *node, what, remedy string) fact {
	s.faults.Add(n.home.nameAt(n), what, remedy)
	return fact{bad: true}
}

func isNumber(t *types.Type) bool {
	switch t.Kind() {
	case types.DoubleKind, types.IntKind, types.UintKind:
		return true
	}
	return false
}

func elemType(t *types.Type) *types.Type {
	if p := t.Parameters(); len(p) > 0 {
		return p[len(p)-1]
	}
	return types.DynType
}
