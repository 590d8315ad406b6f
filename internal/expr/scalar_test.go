package expr

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/cel-go/cel"
	"github.com/google/cel-go/common/types"
	"github.com/google/cel-go/common/types/ref"

	"github.com/paintmark/paintmark/internal/schema"
)

// scalars are roots of plain values: x and y numbers, i and j whole, p and q yes or no, s
// and u texts, t and v dates, xs and is lists. x, i, p, s, t and xs are sometimes unknown.
var scalars = map[string]*schema.Type{
	"x": {Kind: schema.Number}, "y": {Kind: schema.Number}, "i": {Kind: schema.Integer}, "j": {Kind: schema.Integer}, "p": {Kind: schema.YesNo}, "q": {Kind: schema.YesNo},
	"s": {Kind: schema.Text}, "u": {Kind: schema.Text}, "t": {Kind: schema.Date}, "v": {Kind: schema.Date},
	"xs": {Kind: schema.List, Elem: &schema.Type{Kind: schema.Number}}, "is": {Kind: schema.List, Elem: &schema.Type{Kind: schema.Integer}},
}

// Every expression without a log must come out as cel-go's own interpreter has it, with
// unknowns and with run-time errors.
func TestScalarsAgreeWithCEL(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 14))
	b, err := theBase()
	if err != nil {
		t.Fatal(err)
	}
	table := newTypeTable(b.types)
	opts := append(differFunctions(), cel.CrossTypeNumericComparisons(true))
	for name, st := range scalars {
		opts = append(opts, cel.Variable(name, table.celType(st)))
	}
	plainCEL, err := cel.NewEnv(opts...)
	if err != nil {
		t.Fatal(err)
	}
	e, faults := NewEnv(Scope{Roots: scalars})
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	count := map[string]int{}
	for range 1000 {
		g := &scalarMaker{perSample{rng}}
		expression := g.truth(4)
		x := compileUnlessZero(t, e, expression, Truth)
		if x == nil {
			continue
		}
		a, iss := plainCEL.Compile(expression)
		if iss.Err() != nil {
			t.Fatalf("%s: %v", expression, iss.Err())
		}
		prog, err := plainCEL.Program(a)
		if err != nil {
			t.Fatal(err)
		}
		for range 4 {
			roots, vars := scalarInputs(rng)
			got := x.Eval(context.Background(), Inputs{Roots: roots})
			want, _, err := prog.Eval(vars)
			var g, w string
			switch {
			case got.Fault != nil:
				g = "fault"
			case got.Open:
				g = "open"
			default:
				g = fmt.Sprint(got.Truth == True)
			}
			switch {
			case err != nil:
				w = "fault"
			case types.IsUnknown(want):
				w = "open"
			default:
				w = fmt.Sprint(want.Value())
			}
			count[w]++
			switch {
			case g == w:
			case g == "open" && got.Gaps != nil && slices.ContainsFunc(got.Gaps, func(g Gap) bool { return g.Why == notFinite }): // 1.0 / 0.0
			case g != "true" && g != "false" && w != "true" && w != "false": // both, in one expression: which is told first differs
				count["either"]++
			default:
				t.Fatalf("%s\nwith %v\n%v (%v %v), CEL %v %v", expression, vars, g, got.Gaps, got.Fault, want, err)
			}
		}
	}
	t.Log(count)
	for _, w := range []string{"true", "false", "open", "fault"} {
		if count[w] < 100 {
			t.Errorf("only %d came out %s", count[w], w)
		}
	}
	if count["either"] > 200 {
		t.Errorf("%d are both unknown and at fault", count["either"])
	}
}

// compileUnlessZero is nil for an expression that is refused because it divides by zero.
func compileUnlessZero(t *testing.T, e *Env, s string, want Want) *Expr {
	t.Helper()
	x, faults := e.Compile(plain(s), want)
	if len(faults) > 0 && faults[0].What != "this divides by zero" {
		t.Fatalf("%s: %v", s, faults)
	}
	return x
}

func scalarInputs(rng *rand.Rand) (map[string]*schema.Value, map[string]any) {
	roots, vars := map[string]*schema.Value{}, map[string]any{}
	for _, name := range []string{"x", "y", "i", "j", "p", "q", "s", "u", "t", "v", "xs", "is"} {
		st := scalars[name]
		if strings.Contains("x i p s t xs", name) && rng.IntN(4) == 0 {
			vars[name] = types.NewUnknown(1, nil)
			continue
		}
		roots[name], vars[name] = scalarValue(rng, st)
	}
	return roots, vars
}

func scalarValue(rng *rand.Rand, st *schema.Type) (*schema.Value, ref.Val) {
	v := &schema.Value{Type: st}
	switch st.Kind {
	case schema.Number:
		v.Low = float64(rng.IntN(15)-7) / 2
		v.High = v.Low
		return v, types.Double(v.Low)
	case schema.Integer:
		v.Int = int64(rng.IntN(9) - 4)
		if rng.IntN(12) == 0 {
			v.Int = math.MaxInt64
		}
		return v, types.Int(v.Int)
	case schema.YesNo:
		v.Bool = rng.IntN(2) == 0
		return v, types.Bool(v.Bool)
	case schema.Text:
		v.Text = []string{"", "a", "ab", "é", "b"}[rng.IntN(5)]
		return v, types.String(v.Text)
	case schema.Date:
		v.Time = time.Date(2026, 5, 10+rng.IntN(5), 0, 0, 0, 0, time.UTC)
		return v, types.Timestamp{Time: v.Time}
	}
	var items []ref.Val
	for range rng.IntN(4) {
		item, cv := scalarValue(rng, st.Elem)
		v.Items, items = append(v.Items, item), append(items, cv)
	}
	return v, types.NewRefValList(types.DefaultTypeAdapter, items)
}

// scalarMaker makes random expressions of all CEL.
type scalarMaker struct{ perSample }

func (g *scalarMaker) truth(depth int) string {
	if depth <= 0 {
		return g.one("p", "q", "p", "q", "true", "false")
	}
	d := depth - 1
	switch g.rng.IntN(15) {
	case 0, 1:
		return "(" + g.truth(d) + " && " + g.truth(d) + ")"
	case 2, 3:
		return "(" + g.truth(d) + " || " + g.truth(d) + ")"
	case 4:
		return "!(" + g.truth(d) + ")"
	case 5:
		return "(" + g.truth(d) + g.one(" == ", " != ") + g.truth(d) + ")"
	case 6:
		return "(" + g.whole(d) + g.one(" < ", " <= ", " > ", " >= ", " == ", " != ") + g.whole(d) + ")"
	case 7:
		return "(" + g.text(d) + g.one(" == ", " != ", " < ", " >= ") + g.text(d) + ")"
	case 8:
		return "(" + g.date() + g.one(" == ", " < ", " >= ") + g.date() + ")"
	case 9:
		return g.one("xs", g.numbers(d)) + g.one(".all", ".exists", ".exists_one") + "(e, e" + g.one(" < ", " >= ", " == ") + g.number(d) + ")"
	case 10:
		return "(" + g.whole(d) + " in " + g.one("is", "[1, 2, 3]", "[j, 0]", "is.map(e, e + 1)", "is.filter(e, e > j)") + ")"
	case 11:
		return g.text(d) + g.one(".contains", ".startsWith", ".endsWith", ".matches") + "(" + g.one("'a'", "'b'", "''") + ")"
	case 12:
		return "(" + g.truth(d) + " ? " + g.truth(d) + " : " + g.truth(d) + ")"
	case 13:
		return "(" + g.number(d) + g.one(" < ", " > ", " <= ", " >= ") + g.whole(d) + ")"
	}
	return "(" + g.number(d) + g.one(" < ", " <= ", " > ", " >= ", " == ", " != ") + g.number(d) + ")"
}

func (g *scalarMaker) number(depth int) string {
	if depth <= 0 {
		return g.one("x", "y", "x", "1.5", "0.0", "-2.0")
	}
	d := depth - 1
	switch g.rng.IntN(9) {
	case 0:
		return "(" + g.number(d) + g.one(" * ", " / ") + g.number(d) + ")"
	case 1:
		return "(" + g.truth(d) + " ? " + g.number(d) + " : " + g.number(d) + ")"
	case 2:
		return "double(" + g.whole(d) + ")"
	case 3:
		return g.one("abs(", "-(") + g.number(d) + ")"
	case 4:
		return g.one("least", "greatest") + "(" + g.number(d) + ", " + g.number(d) + ")"
	case 5:
		return g.numbers(d) + "[" + g.whole(0) + "]"
	case 6:
		return "{'a': y, 'b': 2.0}[" + g.one("'a'", "'b'", "u") + "]"
	}
	return "(" + g.number(d) + g.one(" + ", " - ") + g.number(d) + ")"
}

func (g *scalarMaker) whole(depth int) string {
	if depth <= 0 {
		return g.one("i", "j", "i", "0", "1", "2", "-3")
	}
	d := depth - 1
	switch g.rng.IntN(7) {
	case 0:
		return "size(" + g.one(g.text(d), g.numbers(d), "is") + ")"
	case 1:
		return "int(" + g.one("x", "y", "2.9") + ")"
	case 2:
		return g.date() + g.one(".getDayOfMonth()", ".getFullYear()", ".getDayOfWeek()")
	case 3:
		return "(" + g.truth(d) + " ? " + g.whole(d) + " : " + g.whole(d) + ")"
	case 4:
		return "abs(" + g.one("i", "j") + ")"
	}
	return "(" + g.whole(d) + g.one(" + ", " - ", " * ", " / ", " % ") + g.whole(d) + ")"
}

func (g *scalarMaker) text(depth int) string {
	if depth <= 0 {
		return g.one("s", "u", "'a'", `"b"`)
	}
	return g.one("("+g.text(depth-1)+" + "+g.text(depth-1)+")", "string("+g.whole(depth-1)+")", g.text(0))
}

func (g *scalarMaker) date() string {
	return g.one("t", "v", `timestamp("2026-05-12T00:00:00Z")`, `(v + duration("24h"))`)
}

// numbers is a list that is never written with an unknown element in it, and never too
// short by a document: ours knows more of such lists, and of maps, than CEL does.
func (g *scalarMaker) numbers(depth int) string {
	if depth <= 0 {
		return g.one("[1.0, 2.5]", "[y]", "[-1.0]", "[0.5, y, 3.0]")
	}
	return g.one("[y, 1.0].map(e, e * 2.0)", "[3.0, y].filter(e, e > "+g.number(depth-1)+")", "([y] + [1.0])", g.numbers(0))
}

// A value between bounds must hold every value that its inputs could have given.
func TestBoundsHoldEveryValue(t *testing.T) {
	rng := rand.New(rand.NewPCG(27, 18))
	number := &schema.Type{Kind: schema.Number}
	names := []string{"a", "b", "c", "d"}
	roots := map[string]*schema.Type{"l": {Kind: schema.Curve}}
	for _, n := range names {
		roots[n] = number
	}
	e, faults := NewEnv(Scope{Roots: roots})
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	curve := &schema.Value{Type: roots["l"], Points: []schema.Point{{X: -100, Y: 3}, {X: -1, Y: 8}, {X: 0, Y: -2}, {X: 2, Y: 5}, {X: 100, Y: 4}}}
	decided, bounded, open := 0, 0, 0
	for range 1500 {
		g := &boundsMaker{perSample{rng}}
		expression, want := g.number(4), Value
		if rng.IntN(2) == 0 {
			expression, want = g.truth(4), Truth
		}
		x := compileUnlessZero(t, e, expression, want)
		if x == nil {
			continue
		}
		within := map[string]*schema.Value{"l": curve}
		for _, n := range names {
			lo := float64(rng.IntN(13)-6) / 2
			within[n] = &schema.Value{Type: number, Low: lo, High: lo + float64(rng.IntN(4))/2}
		}
		all := x.Eval(context.Background(), Inputs{Roots: within})
		if all.Fault != nil {
			t.Fatalf("%s: %v", expression, all.Fault)
		}
		switch {
		case all.Open:
			open++
		case want == Truth:
			decided++
		default:
			bounded++
		}
		for range 12 {
			at := map[string]*schema.Value{"l": curve}
			for _, n := range names {
				w := within[n]
				v := []float64{w.Low, w.High, w.Low + rng.Float64()*(w.High-w.Low)}[rng.IntN(3)]
				at[n] = &schema.Value{Type: number, Low: v, High: v}
			}
			one := x.Eval(context.Background(), Inputs{Roots: at})
			if all.Open || one.Open {
				continue
			}
			if want == Truth && one.Truth != all.Truth || want == Value && !(all.Low <= one.Low && one.Low <= all.High) {
				t.Fatalf("%s: %+v lies outside %+v\nwith a %v b %v c %v d %v", expression, one, all, at["a"].Low, at["b"].Low, at["c"].Low, at["d"].Low)
			}
		}
	}
	t.Logf("%d decided, %d bounded, %d open", decided, bounded, open)
	if decided < 200 || bounded < 200 || open < 100 {
		t.Errorf("%d decided, %d bounded, %d open", decided, bounded, open)
	}
}

type boundsMaker struct{ perSample }

func (g *boundsMaker) truth(depth int) string {
	if depth <= 1 || g.rng.IntN(2) == 0 {
		return "(" + g.number(depth-1) + g.one(" < ", " <= ", " > ", " >= ", " == ", " != ") + g.number(depth-1) + ")"
	}
	return "(" + g.truth(depth-1) + g.one(" && ", " || ", " == ") + g.truth(depth-1) + ")"
}

func (g *boundsMaker) number(depth int) string {
	if depth <= 0 {
		return g.one("a", "b", "c", "d", "0.5", "-2.0")
	}
	d := depth - 1
	switch g.rng.IntN(8) {
	case 0:
		return g.one("abs", "-", "sqrt") + "(" + g.number(d) + ")"
	case 1:
		return g.one("least", "greatest") + "(" + g.number(d) + ", " + g.number(d) + ")"
	case 2:
		return "at(l, " + g.number(d) + ")"
	case 3:
		return "(" + g.number(d) + " / " + g.number(d) + ")"
	case 4:
		return "(" + g.truth(d) + " ? " + g.number(d) + " : " + g.number(d) + ")"
	}
	return "(" + g.number(d) + g.one(" + ", " - ", " * ") + g.number(d) + ")"
}
