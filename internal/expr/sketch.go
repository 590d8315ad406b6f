package expr

import (
	"github.com/google/cel-go/common/ast"
)

func spanText(t *text, checked *ast.AST, x ast.Expr) string { return t.written(sketch(checked, x)) }

func start(t *text, checked *ast.AST, x ast.Expr) int { return t.from(sketch(checked, x)) }

// sketch is a node good enough to find the place of an expression that does not check.
func sketch(checked *ast.AST, x ast.Expr) *node {
	n := &node{kind: exprKind(x), off: offset(checked, x), member: x.Kind() == ast.CallKind && x.AsCall().IsMemberFunction()}
	for _, k := range children(x) {
		n.kids = append(n.kids, sketch(checked, k))
	}
	if n.kind == foldNode {
		n.fold = &fold{over: n.kids[0]}
	}
	return n
}

func exprKind(x ast.Expr) kind {
	switch x.Kind() {
	case ast.LiteralKind:
		return litNode
	case ast.IdentKind:
		return nameNode
	case ast.SelectKind:
		return fieldNode
	case ast.ListKind:
		return listNode
	case ast.MapKind, ast.StructKind:
		return mapNode
	case ast.ComprehensionKind:
		return foldNode
	}
	return callNode
}

func children(x ast.Expr) []ast.Expr {
	switch x.Kind() {
	case ast.SelectKind:
		return []ast.Expr{x.AsSelect().Operand()}
	case ast.CallKind:
		c := x.AsCall()
		if c.IsMemberFunction() {
			return append([]ast.Expr{c.Target()}, c.Args()...)
		}
		return c.Args()
	case ast.ListKind:
		return x.AsList().Elements()
	case ast.MapKind:
		var all []ast.Expr
		for _, entry := range x.AsMap().Entries() {
			all = append(all, entry.AsMapEntry().Key(), entry.AsMapEntry().Value())
		}
		return all
	case ast.StructKind:
		var all []ast.Expr
		for _, f := range x.AsStruct().Fields() {
			all = append(all, f.AsStructField().Value())
		}
		return all
	case ast.ComprehensionKind:
		c := x.AsComprehension()
		return []ast.Expr{c.IterRange(), c.AccuInit(), c.LoopCondition(), c.LoopStep(), c.Result()}
	}
	return nil
}

// locals are the names that all(), exists(), map() and filter() make around an expression.
func locals(x ast.Expr, parents map[int64]ast.Expr) []string {
	var names []string
	for p := parents[x.ID()]; p != nil; p = parents[p.ID()] {
		if p.Kind() == ast.ComprehensionKind {
			names = append(names, p.AsComprehension().IterVar())
		}
	}
	return names
}

func offset(checked *ast.AST, x ast.Expr) int {
	r, _ := checked.SourceInfo().GetOffsetRange(x.ID())
	return int(r.Start)
}

// dotted is the text of a chain of names such as `log` or `a.b`.
func dotted(x ast.Expr) (string, bool) {
	switch x.Kind() {
	case ast.IdentKind:
		return x.AsIdent(), true
	case ast.SelectKind:
		if p, ok := dotted(x.AsSelect().Operand()); ok {
			return p + "." + x.AsSelect().FieldName(), true
		}
	}
	return "", false
}
