package expr

import (
	"slices"

	"github.com/google/cel-go/checker"
	"github.com/google/cel-go/common"
	"github.com/google/cel-go/common/ast"
	"github.com/google/cel-go/common/types"

	"github.com/paintmark/paintmark/internal/source"
)

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
