package expr

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/google/cel-go/common"
	"github.com/google/cel-go/common/ast"
	"github.com/google/cel-go/common/decls"
	"github.com/google/cel-go/common/operators"
	"github.com/google/cel-go/common/types"

	"github.com/paintmark/paintmark/internal/source"
)

var (
	undeclared = source.Form(`^undeclared reference to '(.*)' \(in container`)
	noField    = source.Form(`^undefined field '(.*)'$`)
	noOverload = source.Form(`^found no matching overload for '(.*?)' applied to '`)
	mismatch   = source.Form(`^expected type '(.*)' but found '(.*)'$`)
	noFields   = source.Form(`^type '.*' does not support field selection$`)
	noRange    = source.Form(`^expression of type '.*' cannot be range`)
)

// checkFaults rewrites what CEL's checker says, each with its remedy. Of the faults that
// one slip causes only the first stays.
func (e *Env) checkFaults(t *text, checked *ast.AST, errs *common.Errors) source.Faults {
	byID := map[int64]ast.Expr{}
	parents := map[int64]ast.Expr{}
	ast.PreOrderVisit(checked.Expr(), ast.NewExprVisitor(func(x ast.Expr) {
		byID[x.ID()] = x
		for _, k := range children(x) {
			parents[k.ID()] = x
		}
	}))
	var faults source.Faults
	list := slices.Clone(errs.GetErrors())
	covered := map[int64]bool{} // sub-expressions a fault was already told of
	cover := func(x ast.Expr) {
		ast.PreOrderVisit(x, ast.NewExprVisitor(func(k ast.Expr) { covered[k.ID()] = true }))
	}
	// A misspelt log.alwys is an unknown name `log` and an unknown function: one fault, of the function.
	for _, err := range list {
		m := undeclared().FindStringSubmatch(err.Message)
		x := byID[err.ExprID]
		if m == nil || x == nil || x.Kind() != ast.CallKind || !x.AsCall().IsMemberFunction() {
			continue
		}
		call := x.AsCall()
		if prefix, ok := dotted(call.Target()); ok && e.isNamespace(prefix) {
			name := prefix + "." + call.FunctionName()
			n := &node{kind: callNode, off: offset(checked, x)}
			faults.Add(t.pos(t.callName(n)), "there is no function "+name, nearest(name, e.functionsOf(prefix)))
			cover(call.Target())
			covered[x.ID()] = true
		}
	}
	for _, err := range list {
		x := byID[err.ExprID]
		if x == nil || covered[err.ExprID] {
			if x == nil {
				faults.Add(t.pos(0), err.Message, "")
			}
			continue
		}
		pos, what, remedy := e.checkWords(t, checked, x, parents, err.Message)
		if what != "" {
			faults.Add(pos, what, remedy)
		}
	}
	return faults
}

func (e *Env) checkWords(t *text, checked *ast.AST, x ast.Expr, parents map[int64]ast.Expr, msg string) (pos source.Pos, what, remedy string) {
	n := &node{kind: exprKind(x), off: offset(checked, x), member: x.Kind() == ast.CallKind && x.AsCall().IsMemberFunction()}
	pos = t.nameAt(n)
	typeOf := func(x ast.Expr) *types.Type {
		if ct := checked.GetType(x.ID()); ct != nil {
			return ct
		}
		return types.DynType
	}
	if m := undeclared().FindStringSubmatch(msg); m != nil {
		name := m[1]
		if x.Kind() == ast.CallKind {
			switch name {
			case "has", "type", "dyn":
				return pos, name + "() is not used in rules: it could switch one off", "write the value itself: an absent one gives no data"
			}
			if len(e.names()) > 0 && slices.Contains(e.names(), name) {
				return pos, "`" + name + "` is a name, not a function", "leave out the brackets"
			}
			return pos, "there is no function " + name, nearest(name, e.base.names)
		}
		if name == "log" {
			return pos, "`log` by itself is no value", "ask it: log.max(x), log.always(p) and the like"
		}
		if f := functionsByName()[name]; f != nil {
			return pos, "`" + name + "` is a function", "write " + f.words
		}
		if e.failed[name] {
			return pos, "derived `" + name + "` has a fault of its own", "put that right first"
		}
		return pos, "there is no name `" + name + "`", nearest(name, append(e.names(), locals(x, parents)...))
	}
	if m := noField().FindStringSubmatch(msg); m != nil {
		sel := x.AsSelect()
		of := typeOf(sel.Operand())
		fields := []string{}
		if s := e.table.schemaOf(of.TypeName()); s != nil {
			fields = fieldNames(s)
		}
		return pos, typeWords(of) + " has no `" + m[1] + "`", nearest(m[1], fields)
	}
	if noFields().MatchString(msg) {
		sel := x.AsSelect()
		of := typeOf(sel.Operand())
		if of.Kind() == types.ListKind {
			return pos, "a list has no `" + sel.FieldName() + "`", "name one element, such as [0], or use all(), exists()"
		}
		return pos, "" + aType(of) + " has no `" + sel.FieldName() + "`", ""
	}
	if noRange().MatchString(msg) {
		return t.pos(start(t, checked, x)), "" + aType(typeOf(x)) + " is not a list that all(), exists(), map() or filter() could go through", ""
	}
	if m := mismatch().FindStringSubmatch(msg); m != nil {
		pos = t.pos(start(t, checked, x))
		switch m[1] {
		case "bool":
			return pos, "a yes or no is wanted here, not " + aType(typeOf(x)), "compare it with something"
		}
		if p := parents[x.ID()]; p != nil && p.Kind() == ast.ListKind {
			return pos, "the elements of a list must be of one type", numberHint("", typeOf(p.AsList().Elements()[0]), typeOf(x), t, checked, p.AsList().Elements()[0], x)
		}
		return pos, "this is " + aType(typeOf(x)) + ", not a value of the type before it", ""
	}
	if noOverload().MatchString(msg) {
		return e.overloadWords(t, checked, x, pos, typeOf)
	}
	return pos, strings.ToLower(msg[:1]) + msg[1:], ""
}

// signs are the operators as they are written.
var signs = map[string]string{
	operators.Add: "+", operators.Subtract: "-", operators.Multiply: "*", operators.Divide: "/", operators.Modulo: "%",
	operators.Equals: "==", operators.NotEquals: "!=", operators.Less: "<", operators.LessEquals: "<=", operators.Greater: ">", operators.GreaterEquals: ">=",
	operators.In: "in", operators.Negate: "-", operators.LogicalNot: "!",
}

func (e *Env) overloadWords(t *text, checked *ast.AST, x ast.Expr, pos source.Pos, typeOf func(ast.Expr) *types.Type) (source.Pos, string, string) {
	call := x.AsCall()
	args := call.Args()
	if call.IsMemberFunction() {
		args = append([]ast.Expr{call.Target()}, args...)
	}
	for _, a := range args {
		if typeOf(a).Kind() == types.ErrorKind {
			return pos, "", "" // its own fault is told already
		}
	}
	name := call.FunctionName()
	switch {
	case name == operators.Conditional:
		if typeOf(args[0]).Kind() != types.BoolKind {
			return t.pos(start(t, checked, args[0])), "a yes or no is wanted before ?, not " + aType(typeOf(args[0])), "compare it with something"
		}
		return pos, "the two answers of ? : are " + aType(typeOf(args[1])) + " and " + aType(typeOf(args[2])), numberHint("", typeOf(args[1]), typeOf(args[2]), t, checked, args[1], args[2])
	case name == operators.Index:
		if k := typeOf(args[0]).Kind(); k != types.ListKind && k != types.MapKind {
			return pos, "" + aType(typeOf(args[0])) + " has no elements", ""
		}
		return t.pos(start(t, checked, args[1])), "an element of " + aType(typeOf(args[0])) + " is not found by " + aType(typeOf(args[1])), ""
	case signs[name] != "" && len(args) == 2:
		a, b := typeOf(args[0]), typeOf(args[1])
		return pos, typeWords(a) + " " + signs[name] + " " + typeWords(b) + " does not go together", numberHint(name, a, b, t, checked, args[0], args[1])
	case signs[name] != "" && len(args) == 1:
		return pos, signs[name] + " does not go with " + aType(typeOf(args[0])), ""
	}
	given := make([]string, len(args))
	for i, a := range args {
		given[i] = typeWords(typeOf(a))
	}
	what := name + "() does not take (" + strings.Join(given, ", ") + ")"
	if len(args) == 0 {
		what = name + "() wants something in its brackets"
	}
	if f := functionsByName()[name]; f != nil {
		for i, a := range args {
			if typeOf(a).Kind() == types.IntKind && i < len(f.takes[0].args) && f.takes[0].args[i].Kind() == types.DoubleKind {
				return pos, what, "write " + asDouble(t, checked, a)
			}
		}
		return pos, what, "write " + f.words
	}
	if f := e.declared[name]; f != nil {
		if !call.IsMemberFunction() && !slices.ContainsFunc(f.OverloadDecls(), func(o *decls.OverloadDecl) bool { return !o.IsMemberFunction() }) {
			return pos, what, "write x." + name + "(...)"
		}
	}
	return pos, what, ""
}

// numberHint says how an int and a double come together; "" where that is not the trouble.
func numberHint(op string, a, b *types.Type, t *text, checked *ast.AST, x, y ast.Expr) string {
	if a.Kind() == types.DoubleKind && b.Kind() == types.IntKind {
		a, b, x, y = b, a, y, x
	}
	switch {
	case a.Kind() == types.IntKind && b.Kind() == types.DoubleKind && x.Kind() != ast.LiteralKind && y.Kind() == ast.LiteralKind && (op == operators.Equals || op == operators.NotEquals):
		if d := float64(y.AsLiteral().(types.Double)); d == math.Trunc(d) {
			return "write " + strconv.FormatFloat(d, 'f', -1, 64)
		}
		return "write " + asDouble(t, checked, x)
	case a.Kind() == types.IntKind && b.Kind() == types.DoubleKind:
		return "write " + asDouble(t, checked, x)
	}
	return ""
}

// asDouble is how a whole number is written where a number with a decimal point is wanted.
func asDouble(t *text, checked *ast.AST, x ast.Expr) string {
	if x.Kind() == ast.LiteralKind {
		off := offset(checked, x)
		return decimal(string(t.src[off:t.literalEnd(off)]))
	}
	return "double(" + spanText(t, checked, x) + ")"
}

// decimal writes a whole number as CEL's double.
func decimal(text string) string {
	if strings.ContainsAny(text, ".eE") {
		return text
	}
	return text + ".0"
}
