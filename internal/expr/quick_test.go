package expr

import (
	"testing"

	"github.com/google/cel-go/common"
	"github.com/google/cel-go/common/ast"
	"pgregory.net/rapid"
)

// sameTree says where two parsed trees differ; "" where they do not.
func sameTree(a, b *ast.AST, x, y ast.Expr) string {
	at := func(t *ast.AST, e ast.Expr) ast.OffsetRange { r, _ := t.SourceInfo().GetOffsetRange(e.ID()); return r }
	if x.Kind() != y.Kind() || at(a, x).Start != at(b, y).Start {
		return "kind or place"
	}
	switch x.Kind() {
	case ast.LiteralKind:
		if x.AsLiteral().Type() != y.AsLiteral().Type() || x.AsLiteral().Value() != y.AsLiteral().Value() {
			return "literal"
		}
	case ast.IdentKind:
		if x.AsIdent() != y.AsIdent() {
			return "name"
		}
	case ast.SelectKind:
		if x.AsSelect().FieldName() != y.AsSelect().FieldName() {
			return "field"
		}
	case ast.CallKind:
		if x.AsCall().FunctionName() != y.AsCall().FunctionName() || x.AsCall().IsMemberFunction() != y.AsCall().IsMemberFunction() {
			return "function"
		}
	}
	xs, ys := children(x), children(y)
	if len(xs) != len(ys) {
		return "number of operands"
	}
	for i := range xs {
		if d := sameTree(a, b, xs[i], ys[i]); d != "" {
			return d
		}
	}
	return ""
}

// checkQuick holds the quick parser to CEL's on one text; it may give up, not differ.
func checkQuick(t interface{ Fatalf(string, ...any) }, written string) (took bool) {
	b, err := theBase()
	if err != nil {
		t.Fatalf("%v", err)
	}
	src := common.NewTextSource(written)
	mine, ok := parseQuick(&text{src: []rune(written)}, src)
	if !ok {
		return false
	}
	theirs, errs := b.parser.Parse(src)
	if len(errs.GetErrors()) > 0 {
		t.Fatalf("%q: parsed, but CEL says %s", written, errs.ToDisplayString())
	}
	if d := sameTree(mine, theirs, mine.Expr(), theirs.Expr()); d != "" {
		t.Fatalf("%q: another tree than CEL's: %s", written, d)
	}
	return true
}

func TestQuickParserGivesCELsTree(t *testing.T) {
	for _, s := range append(benchTexts(),
		"a", "a.b.c", "-3.5", "- 3", "a - 3", "a -3", "-a.b", "!a && !b.c(d)", "a && b && c && d && e", "a || b && c || d", "a ? b : c ? d : e", "(a ? b : c) ? d : e",
		"a < b == c", "x in [1, 2, 3]", "index > 2", "a[b[0]].c", "f()", "f(a)(", "[]", "[[1], []]", `"a b"`, `'it "is"'`, "true && falsehood", "log.min(a.b, c)", "a\n  + b\n* c",
		"1 - -2", "a--b", "1.5.f()", "a.f(1).g[2]", "2 * (3 + 4) % 5", "°", "a in b in c", "- (a)", "-a[0]", "double(3)", "a // b", "a /b", "((((a))))", "r'x'", "a . b ( c )",
	) {
		checkQuick(t, s)
	}
	rapid.Check(t, func(t *rapid.T) {
		pieces := rapid.SliceOfN(rapid.SampledFrom([]string{
			"a", "b.c", "f(", "(", ")", "[", "]", ",", "1", "2.5", "-", "+", "*", "/", "%", "<", "<=", "==", "!=", "in", "&&", "||", "!", "?", ":", " ", "'t'", ".x", ".f(", "true", "\n",
		}), 1, 14).Draw(t, "pieces")
		s := ""
		for _, p := range pieces {
			s += p
			if rapid.IntRange(0, 3).Draw(t, "space") > 0 {
				s += " "
			}
		}
		checkQuick(t, s)
	})
}

// The quick parser is only of use if it takes most of what rules say.
func TestQuickParserTakesRules(t *testing.T) {
	for _, s := range benchTexts() {
		if !checkQuick(t, s) {
			t.Errorf("%s: left to CEL's parser", s)
		}
	}
}
