package kernel

import (
	"context"
	"math"
	"strings"
	"sync"
	"testing"
)

func TestEqualExpressionsAreOneNode(t *testing.T) {
	g := NewGraph()
	a, b, p, q := g.Channel("a"), g.Channel("b"), g.IsTrue(g.Channel("p")), g.IsTrue(g.Channel("q"))
	curve := []Point{{0, 1}, {2, 3}}
	for _, c := range [][2]Node{
		{g.Op(Add, a, b), g.Op(Add, b, a)},
		{g.Op(More, a, b), g.Op(Less, b, a)},
		{g.Op(MoreEq, a, b), g.Not(g.Op(Less, a, b))},
		{g.Op(NotEqual, a, b), g.Not(g.Op(Equal, b, a))},
		{g.Op(And, p, q), g.Op(And, q, p)},
		{g.Op(Or, p, g.Truth(false)), p},
		{g.Op(And, p, g.Truth(false)), g.Truth(false)},
		{g.Not(g.Not(p)), p},
		{g.Const(0), g.Const(math.Copysign(0, -1))},
		{g.Const(math.NaN()), g.Unknown(Number)},
		{g.Op(Mul, g.Const(6), g.Const(7)), g.Const(42)},
		{g.Op(Div, g.Const(6), g.Const(0)), g.Unknown(Number)},
		{g.Op(Less, g.Range(0, 1), g.Const(2)), g.Truth(true)},
		{g.Op(Less, g.Range(0, 3), g.Const(2)), g.Unknown(Truths)},
		{g.CurveAt(curve, a), g.CurveAt([]Point{{0, 1}, {2, 3}}, a)},
		{g.CurveAt(curve, g.Const(1)), g.Const(2)},
		{g.CurveAt(curve, g.Const(2.5)), g.Unknown(Number)},
		{g.Cond(g.Truth(true), a, b), a},
		{g.Delay(a, 0), a},
	} {
		if c[0] != c[1] {
			t.Errorf("%s and %s are two nodes", g.key(c[0]), g.key(c[1]))
		}
	}
	if g.Op(Sub, a, b) == g.Op(Sub, b, a) || g.Delay(a, 1) == g.Delay(a, 2) || g.CurveAt(curve, a) == g.CurveAt(curve[:1], a) {
		t.Error("different expressions are one node")
	}
	if x, y := g.Aggregate(Min, 0.5, a), g.Aggregate(Min, 0, a, NoNode); x != y {
		t.Error("equal aggregates are two")
	}
}

func TestKeyDoesNotDependOnOrder(t *testing.T) {
	build := func(first, second string) string {
		g := NewGraph()
		x, y := g.Channel(first), g.Channel(second)
		if first > second {
			x, y = y, x
		}
		low := g.Op(Less, x, g.Op(Mul, g.Const(0.1), y))
		return g.Key(g.Aggregate(Quantile, 0.9, g.Cond(low, x, g.Op(Add, y, x)), g.Op(Or, g.Held(low, 0.3), low)))
	}
	if a, b := build("rpm", "oil"), build("oil", "rpm"); a != b {
		t.Errorf("two keys for one aggregate:\n%s\n%s", a, b)
	}
}

// An expression that uses itself over and over must not grow a key without end.
func TestKeyStaysShort(t *testing.T) {
	g := NewGraph()
	x := g.Channel("x")
	for range 200 {
		x = g.Op(Sub, x, g.Neg(x))
	}
	y := g.Op(Add, x, g.Const(1))
	k, other := g.Key(g.Aggregate(Max, 0, x)), g.Key(g.Aggregate(Max, 0, y))
	if len(k) > 2*longestKey || k == other || !strings.Contains(k, "#") {
		t.Errorf("key of %d characters: %s", len(k), k)
	}
}

func TestGraphIsSafeForConcurrentUse(t *testing.T) {
	g := NewGraph()
	l := rowsLog(t, map[string][]float64{"a": {1, 2, 3}, "b": {3, 2, 1}})
	r := NewRunner(g, l, Options{})
	var wg sync.WaitGroup
	for w := range 8 {
		wg.Go(func() {
			for i := range 50 {
				x := g.Op(Add, g.Channel("a"), g.Const(float64(i)))
				a := g.Aggregate(Max, 0, g.Op(Greatest, x, g.Channel("b")))
				r.Want(a)
				ans, err := r.Answer(context.Background(), a)
				if err != nil || ans.Low != float64(3+i) {
					t.Errorf("worker %d: %+v, %v", w, ans, err)
				}
				if g.Key(a) == "" || len(g.Channels(a)) != 2 {
					t.Error("no key or channels")
				}
				if low, _, known := r.Sample(x, 1); low != float64(2+i) || !known {
					t.Errorf("sample %v", low)
				}
			}
		})
	}
	wg.Wait()
}

func TestCurvesAreChecked(t *testing.T) {
	for _, c := range []struct {
		points []Point
		want   string
	}{
		{nil, "at least one"},
		{[]Point{{0, 1}, {0, 2}}, "point 2"},
		{[]Point{{0, 1}, {math.NaN(), 2}}, "point 2"},
		{[]Point{{0, math.Inf(1)}}, "point 1"},
	} {
		if err := CheckCurve(c.points); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%v: %v, want %q", c.points, err, c.want)
		}
	}
}
