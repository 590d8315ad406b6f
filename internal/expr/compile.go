package expr

import (
	"maps"
	"slices"
	"strings"

	"github.com/google/cel-go/checker"
	"github.com/google/cel-go/common"
	"github.com/google/cel-go/common/ast"
	"github.com/google/cel-go/common/types"

	"github.com/paintmark/paintmark/internal/kernel"
	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
	"github.com/paintmark/paintmark/internal/units"
)

// Expr is one expression, checked and ready. Safe for concurrent use.
type Expr struct {
	env  *Env
	text *text
	root *node
	want Want
	logs []*node // log.* calls, in order of position
}

// Compile checks an expression against the scope and against what its place wants.
func (e *Env) Compile(at *source.Node, want Want) (*Expr, source.Faults) {
	root, faults := e.tree(at)
	if len(faults) > 0 {
		return nil, faults.Sorted()
	}
	a := &analyst{env: e, faults: &faults}
	a.look(root)
	if len(faults) == 0 {
		if what, remedy := misses(want, root.typ); what != "" {
			faults.Add(root.home.where(root), what, remedy)
		}
	}
	if len(faults) > 0 {
		return nil, faults.Sorted()
	}
	slices.SortFunc(a.logs, func(m, n *node) int { return m.home.from(m) - n.home.from(n) })
	return &Expr{env: e, text: root.home, root: root, want: want, logs: a.logs}, nil
}

// tree parses, checks and surveys an expression.
func (e *Env) tree(at *source.Node) (*node, source.Faults) {
	var faults source.Faults
	written, fault := at.CELText()
	if fault != nil {
		return nil, source.Faults{*fault}
	}
	t := &text{at: at, src: []rune(written)}
	src := common.NewTextSource(written)
	var checked *ast.AST
	if parsed, ok := parseQuick(t, src); ok {
		c, errs := checker.Check(parsed, src, e.checks)
		if len(errs.GetErrors()) == 0 {
			checked = c
		}
	}
	if checked == nil {
		parsed, errs := e.parser.Parse(src)
		if len(errs.GetErrors()) > 0 {
			return nil, e.parseFaults(t, errs)
		}
		if checked, errs = checker.Check(parsed, src, e.checks); len(errs.GetErrors()) > 0 {
			return nil, e.checkFaults(t, checked, errs)
		}
	}
	p := &planter{env: e, ast: checked, text: t, faults: &faults}
	root := p.plant(checked.Expr())
	if len(faults) > 0 {
		return nil, faults
	}
	(&surveyor{env: e, faults: &faults}).survey(root)
	return root, faults
}

// misses says how a type misses what its place wants.
func misses(want Want, t *types.Type) (what, remedy string) {
	switch want {
	case Truth:
		if t.Kind() != types.BoolKind {
			return "a yes or no is wanted here, not " + aType(t), "compare it with something"
		}
	case Value:
		if !isNumber(t) || t.Kind() == types.UintKind {
			return "a number is wanted here, not " + aType(t), ""
		}
	case TextOf:
		if t.Kind() != types.StringKind {
			return "a text is wanted here, not " + aType(t), ""
		}
	case ListOf:
		if t.Kind() != types.ListKind {
			return "a list is wanted here, not " + aType(t), ""
		}
		switch elemType(t).Kind() {
		case types.StructKind, types.StringKind, types.DoubleKind, types.IntKind, types.BoolKind, types.TimestampKind:
		default:
			return "what is in this list is not one kind of value", "list objects, texts, numbers or dates"
		}
	}
	return "", ""
}

// Type is the type of the value; of a list, of its elements.
func (x *Expr) Type() *schema.Type {
	t, f := x.root.typ, x.root.fact
	if x.want == ListOf {
		t = elemType(t)
		if f.elem != nil {
			f = *f.elem
		} else {
			f = fact{}
		}
	}
	return x.env.schemaType(t, f)
}

// schemaType is a schema type for a CEL type with what is known of its values.
func (e *Env) schemaType(t *types.Type, f fact) *schema.Type {
	if f.sch != nil {
		return f.sch
	}
	switch t.Kind() {
	case types.StructKind:
		return e.table.schemaOf(t.TypeName())
	case types.BoolKind:
		return &schema.Type{Kind: schema.YesNo}
	case types.IntKind:
		return &schema.Type{Kind: schema.Integer}
	case types.DoubleKind:
		if f.unit == (units.Type{}) {
			return &schema.Type{Kind: schema.Number}
		}
		return &schema.Type{Kind: schema.Quantity, Unit: f.unit}
	case types.TimestampKind:
		return &schema.Type{Kind: schema.Instant}
	case types.ListKind:
		elem := fact{}
		if f.elem != nil {
			elem = *f.elem
		}
		return &schema.Type{Kind: schema.List, Elem: e.schemaType(elemType(t), elem)}
	}
	return &schema.Type{Kind: schema.Text}
}

// Unit is what a number is a number of. Its kind is Open for a bare unit such as
// bar(3.8), which takes the kind it meets, and for a literal 0.
func (x *Expr) Unit() units.Type { return x.root.fact.unit }

// Fits says whether the value may be compared with one of x; "" if so, else what is wrong
// and the remedy. A limit is held against its measure with this.
func (x *Expr) Fits(measure *Expr) (what, remedy string) {
	var faults source.Faults
	s := &surveyor{env: x.env, faults: &faults}
	s.meet(x.root, measure.root.fact, x.root.fact)
	if len(faults) > 0 {
		return faults[0].What, faults[0].Remedy
	}
	return "", ""
}

// Pos is where the expression starts.
func (x *Expr) Pos() source.Pos { return x.text.where(x.root) }

// Text is the expression as written, on one line.
func (x *Expr) Text() string { return strings.Join(strings.Fields(string(x.text.src)), " ") }

// Channels lists the channels it reads, also through derived names, sorted.
func (x *Expr) Channels() []string {
	found := map[string]bool{}
	x.env.eachNode(x.root, func(n *node) {
		if n.kind == nameNode && n.means == aChannel {
			found[n.name] = true
		}
	})
	return slices.Sorted(maps.Keys(found))
}

// Derived lists the derived names it uses, also through one another, sorted by name.
func (x *Expr) Derived() []Derived {
	found := map[string]*text{}
	x.env.eachNode(x.root, func(n *node) {
		if n.kind == nameNode && n.means == aSpell {
			found[n.name] = x.env.spells[n.name].root.home
		}
	})
	var all []Derived
	for _, name := range slices.Sorted(maps.Keys(found)) {
		all = append(all, Derived{Name: name, Text: found[name].at})
	}
	return all
}

// eachNode visits a tree and the derived expressions it names.
func (e *Env) eachNode(root *node, do func(*node)) {
	seen := map[string]bool{}
	var walk func(n *node)
	walk = func(n *node) {
		visit(n, func(n *node) {
			do(n)
			if n.kind == nameNode && n.means == aSpell && !seen[n.name] {
				seen[n.name] = true
				walk(e.spells[n.name].root)
			}
		})
	}
	walk(root)
}

// Paths lists the document values it may read, as far as they can be told without a
// car: "measured.brakes.pad" for measured.brakes.pad[corner.position]. Sorted.
func (x *Expr) Paths() []string {
	found := map[string]bool{}
	inner := map[*node]bool{} // operands of a longer path
	x.env.eachNode(x.root, func(n *node) {
		if n.kind == fieldNode || n.kind == callNode && n.name == "_[_]" {
			inner[n.kids[0]] = true
		}
	})
	x.env.eachNode(x.root, func(n *node) {
		if inner[n] {
			return
		}
		if p, ok := staticPath(n); ok {
			found[p] = true
		}
	})
	return slices.Sorted(maps.Keys(found))
}

// staticPath is the path of a chain of fields, up to its first index.
func staticPath(n *node) (string, bool) {
	switch {
	case n.kind == nameNode && n.means == aRoot:
		return n.name, true
	case n.kind == fieldNode:
		p, ok := staticPath(n.kids[0])
		if !ok || indexed(n.kids[0]) {
			return p, ok
		}
		return p + "." + n.name, true
	case n.kind == callNode && n.name == "_[_]":
		return staticPath(n.kids[0])
	}
	return "", false
}

func indexed(n *node) bool {
	return n.kind == callNode || n.kind == fieldNode && indexed(n.kids[0])
}

// UsesLog says whether it asks the log anything.
func (x *Expr) UsesLog() bool { return len(x.logs) > 0 }

// StaticCall is a log.* call as far as it can be told without a log.
type StaticCall struct {
	Text string
	Fold kernel.Fold
	// Conditional: it has a filter or a trigger that may never come true, so that its answer may be Empty.
	Conditional bool
}

// Calls lists the log.* calls, in order of position.
func (x *Expr) Calls() []StaticCall {
	calls := make([]StaticCall, len(x.logs))
	for i, n := range x.logs {
		calls[i] = StaticCall{Text: n.home.written(n), Fold: n.fn.fold, Conditional: conditional(n)}
	}
	return calls
}

// Conditional says whether some log.* call has a filter or a trigger that may never come true.
func (x *Expr) Conditional() bool { return slices.ContainsFunc(x.logs, conditional) }

func conditional(n *node) bool {
	return n.fn.fold == kernel.Response || when(n) != nil
}

// when is the filter of a log call, or nil.
func when(n *node) *node {
	last := n.kids[len(n.kids)-1]
	switch n.fn.fold {
	case kernel.Response, kernel.Ever, kernel.Total, kernel.Longest, kernel.Count:
		return nil
	case kernel.Quantile:
		if len(n.kids) == 3 {
			return last
		}
	default:
		if len(n.kids) == 2 {
			return last
		}
	}
	return nil
}
