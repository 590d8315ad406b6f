package kernel

import (
	"context"
	"math"
	"testing"
)

// answer computes one aggregate over a log.
func answer(t testing.TB, g *Graph, l *Log, a Agg) Answer {
	t.Helper()
	ans, err := NewRunner(g, l, Options{}).Answer(context.Background(), a)
	if err != nil {
		t.Fatal(err)
	}
	return ans
}

func steps(t testing.TB, channels map[string][]Step) *Log {
	t.Helper()
	l, err := Steps(channels)
	if err != nil {
		t.Fatal(err)
	}
	if err := l.Check(); err != nil {
		t.Fatal(err)
	}
	return l
}

// The examples a rule author writes: exact steps, whatever the rule does with them.
func TestStepLogs(t *testing.T) {
	g := NewGraph()
	pressure, pulse := g.Channel("pressure"), g.IsTrue(g.Channel("pulse"))
	low := g.Op(Less, pressure, g.Const(105))
	absent := g.IsTrue(g.Channel("absent"))
	l := steps(t, map[string][]Step{
		"pressure": {{0, 180}, {30, 101}, {40, 118}},
		"pulse":    Pulses(0, 0.5, 31, 32, 33),
	})
	inf := math.Inf(1)
	for _, c := range []struct {
		name      string
		agg       Agg
		low, high float64
		at        float64
		empty     bool
	}{
		{"min under a filter", g.Aggregate(Min, 0, pressure, pulse), 101, 101, 31, false},
		{"min", g.Aggregate(Min, 0, pressure), 101, 101, 30, false},
		{"the last point states the end", g.Aggregate(Last, 0, pressure), 118, 118, 40, false},
		{"count", g.Aggregate(Count, 0, pulse), 3, 3, 31, false},
		{"count of what is not logged", g.Aggregate(Count, 0, absent), 0, inf, nowhere, false},
		{"total", g.Aggregate(Total, 0, low), 10, 10, 30, false},
		{"longest", g.Aggregate(Longest, 0, pulse), 0.5, 0.5, 31, false},
		{"mean", g.Aggregate(Mean, 0, pressure), (180*30 + 101*10) / 40., (180*30 + 101*10) / 40., nowhere, false},
		{"integral stands", g.Aggregate(Integral, 0, pressure), 180*30 + 101*10, 180*30 + 101*10, nowhere, false},
		{"held between rows", g.Aggregate(Total, 0, g.Held(low, 4)), 6, 6, 34, false},
		{"held too long", g.Aggregate(Ever, 0, g.Held(low, 10.5)), 0, 0, nowhere, false},
		{"delayed between rows", g.Aggregate(Total, 0, g.Op(And, low, g.Not(g.Delay(low, 3)))), 3, 3, 30, false},
		{"since meets its limit", g.Aggregate(Total, 0, g.Op(Less, g.Since(pulse), g.Const(2))), 4.5, 6.5, 31, false},
		{"response", g.Aggregate(Response, 0, low, pulse), 1, 1, 30, false},
		{"unanswered", g.Aggregate(Response, 0, pulse, g.Op(More, pressure, g.Const(150))), 9, inf, 31, false},
		{"no trigger", g.Aggregate(Response, 0, g.Op(More, pressure, g.Const(999)), pulse), 0, 0, nowhere, true},
		{"filter never true", g.Aggregate(Max, 0, pressure, g.Truth(false)), 0, 0, nowhere, true},
		{"filter perhaps true", g.Aggregate(Max, 0, pressure, absent), -inf, 180, 0, false},
		{"implication", g.Aggregate(Always, 0, g.Not(low), pulse), 0, 0, 31, false},
		{"unseen", g.Aggregate(Always, 0, absent), 0, 1, nowhere, false},
		{"median of samples", g.Aggregate(Quantile, 0.5, pressure), 118, 118, nowhere, false},
	} {
		a := answer(t, g, l, c.agg)
		if a.Empty != c.empty || !a.Empty && (a.Low != c.low || a.High != c.high) || !same(a.At, c.at) {
			t.Errorf("%s: got %+v, want %v..%v at %v, empty %v", c.name, a, c.low, c.high, c.at, c.empty)
		}
	}
}

func same(a, b float64) bool { return a == b || math.IsNaN(a) && math.IsNaN(b) }
