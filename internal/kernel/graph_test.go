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

// A spell of sampled yes-no is known to one period at each end, unless it begins with the log; what is
// never true lasts nothing, and exact times are exact.
func TestSpellsAreKnownToTheirPeriod(t *testing.T) {
	pulses := func(rows int, from, to int) *Log {
		l := &Log{Columns: map[string]*Column{}, End: float64(rows) * 5}
		c := &Column{Period: 5, Hold: 15} // ms, for figures that are exact
		for i := range rows {
			l.Times = append(l.Times, float64(i)*5)
			c.Values = append(c.Values, truthOf(i >= from && i < to))
		}
		l.Columns["p"] = c
		return l
	}
	exact, err := Steps(map[string][]Step{"p": Pulses(0, 80, 20)})
	if err != nil {
		t.Fatal(err)
	}
	g := NewGraph()
	p := g.IsTrue(g.Channel("p"))
	for _, c := range []struct {
		what      string
		log       *Log
		asRead    bool
		low, high float64
	}{
		{"80 ms in the middle", pulses(40, 4, 20), false, 75, 85},
		{"the log begins with it", pulses(40, 0, 16), false, 75, 80},
		{"the log ends with it", pulses(40, 24, 40), false, 75, 85},
		{"all the time", pulses(40, 0, 40), false, 195, 200},
		{"one sample", pulses(40, 7, 8), false, 0, 10},
		{"never", pulses(40, 0, 0), false, 0, 0},
		{"exact times", exact, false, 80, 80},
		{"as read", pulses(40, 4, 20), true, 80, 80},
	} {
		for _, f := range []Fold{Longest, Total} {
			got, err := NewRunner(g, c.log, Options{AsRead: c.asRead}).Answer(t.Context(), g.Aggregate(f, 0, p))
			if err != nil || !near(got.Low, c.low) || !near(got.High, c.high) {
				t.Errorf("%s: %s lies in %v to %v, %v; want %v to %v", c.what, foldNames[f], got.Low, got.High, err, c.low, c.high)
			}
		}
	}
}

// A reading that may be off bounds what is made of it, is named where it matters, and is still drawn as logged.
func TestReadingsWithin(t *testing.T) {
	l, err := FromRows([]float64{0, 1, 2, 3}, 1, 3, map[string][]float64{"x": {10, 12, 16, 14}})
	if err != nil {
		t.Fatal(err)
	}
	l.Columns["x"].Within, l.Columns["x"].Said = 0.5, "reads within 0.5 bar"
	g := NewGraph()
	x := g.Channel("x")
	for _, c := range []struct {
		fold      Fold
		of        []Node
		low, high float64
	}{
		{Min, []Node{x}, 9.5, 10.5},
		{Max, []Node{x}, 15.5, 16.5},
		{Mean, []Node{x}, 12.5, 13.5},
		{Quantile, []Node{x, NoNode}, 12.5, 13.5},
		{Integral, []Node{x}, 52, 56}, // trapezoids of 11, 14 and 15, and 14 for the last second; 0.5 either way for 4 s
		{First, []Node{x}, 9.5, 10.5},
		{Max, []Node{g.Slope(x)}, 3, 5},
		{Max, []Node{g.Smooth(x, 2)}, 13.5, 14.5}, // of 12 and 16
		{Ever, []Node{g.Op(More, x, g.Const(16.4))}, 0, 1},
		{Ever, []Node{g.Op(More, x, g.Const(16.6))}, 0, 0},
		{Ever, []Node{g.Op(More, x, g.Const(15.4))}, 1, 1},
		{Count, []Node{g.Op(More, x, g.Const(12.2))}, 1, 1}, // at 1 s or at 2 s
	} {
		a, err := NewRunner(g, l, Options{}).Answer(t.Context(), g.Aggregate(c.fold, 0.5, c.of...))
		if err != nil || !near(a.Low, c.low) || !near(a.High, c.high) || len(a.Missing) > 0 {
			t.Errorf("%s of %v: %+v, %v; want %v to %v", foldNames[c.fold], c.of, a, err, c.low, c.high)
		}
		if a.Low != a.High && (len(a.Vague) != 1 || a.Vague[0] != (Vague{"x", "reads within 0.5 bar"})) {
			t.Errorf("%s of %v does not name the channel: %+v", foldNames[c.fold], c.of, a.Vague)
		}
	}
	r := NewRunner(g, l, Options{})
	if low, high, known := r.Sample(x, 2); !known || low != 16 || high != 16 {
		t.Errorf("drawn as %v to %v", low, high)
	}
	if b, err := r.Values(x, 0, 4, 4); err != nil || b[2].Low != 16 || b[2].Missing {
		t.Errorf("%+v, %v", b, err)
	}
}
