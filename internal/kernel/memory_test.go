package kernel

import (
	"context"
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"
)

// Expressions that look at other rows, in every row of logs with nothing missing, against their definition.
func TestMemoryByDefinition(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := drawLog(t, nil, false)
		w, missing := lay(l)
		if len(missing) > 0 {
			t.Fatal("something is missing")
		}
		g := NewGraph()
		au := &author{t: t, g: g, numbers: []string{"a", "b"}, truths: []string{"p", "q"}}
		x, p := au.simplified(au.number(1)), au.simplified(au.truth(1))
		if g.scalar(x.node) || g.scalar(p.node) {
			t.Skip("no signal")
		}
		d := float64(rapid.IntRange(1, 12).Draw(t, "d")) / 4
		r := NewRunner(g, l, Options{})
		for i, now := range w.times[:w.n()] {
			if i == w.n()-1 && w.times[i] == w.times[i+1] {
				continue // Sample finds the row that stands; both do
			}
			check := func(what string, n Node, low, high float64) {
				l, h, known := r.Sample(n, now)
				if !near(l, low) || !near(h, high) || known != (low == high) {
					t.Fatalf("%s of %s and %s over %v s at %v: got %v..%v, want %v..%v", what, x.text, p.text, d, now, l, h, low, high)
				}
			}
			then := -1
			for j := range w.n() {
				if w.times[j] <= now-d {
					then = j
				}
			}
			if then < 0 {
				check("delay", g.Delay(x.node, d), math.Inf(-1), math.Inf(1))
				check("delay", g.Delay(p.node, d), 0, 1)
			} else {
				check("delay", g.Delay(x.node, d), x.number(w, then), x.number(w, then))
				check("delay", g.Delay(p.node, d), truthOf(p.truth(w, then)), truthOf(p.truth(w, then)))
			}
			mean := meanBefore(w, i, d, x.number)
			check("smooth", g.Smooth(x.node, d), mean, mean)
			low, high := now-w.times[0], math.Inf(1)
			for j := 0; j < i; j++ {
				if p.truth(w, j) {
					low, high = now-w.times[j+1], now-w.times[j+1]
				}
			}
			if p.truth(w, i) {
				low, high = 0, 0
			}
			check("since", g.Since(p.node), low, high)
			var own []int
			for j := range w.n() {
				if x.ownRow(w, j) {
					own = append(own, j)
				}
			}
			k := 0 // the newest own sample
			for k+1 < len(own) && own[k+1] <= i {
				k++
			}
			low, high = math.Inf(-1), math.Inf(1)
			if k == 0 {
				k = 1
			}
			if k < len(own) {
				low = (x.number(w, own[k]) - x.number(w, own[k-1])) / (w.times[own[k]] - w.times[own[k-1]])
				high = low
			}
			check("slope", g.Slope(x.node), low, high)
		}
	})
}

// A trapezoid between own samples under a filter that may be missing, against sums over pieces.
func TestIntegralByDefinition(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := drawLog(t, map[string]bool{"p": true, "q": true}, false)
		g := NewGraph()
		au := &author{t: t, g: g, numbers: []string{"a", "b"}, truths: []string{"p", "q"}}
		x := au.simplified(au.number(1))
		operands := []Node{x.node}
		var y *sampled
		if rapid.Bool().Draw(t, "filtered") {
			e := au.simplified(au.truth(2))
			y = &e
			operands = append(operands, e.node)
		}
		w, missing := lay(l)
		for i := range missing { // any row may be missing or not by itself
			missing[i].together = false
		}
		var want hull
		fillings(w, missing, fillingsOf, func() {
			sum, any := 0.0, false
			for i := range w.n() {
				if y != nil && !y.truth(w, i) {
					continue
				}
				any = true
				a, b := i, i+1 // own samples before and after
				for a > 0 && !x.ownRow(w, a) {
					a--
				}
				for b < w.n() && !x.ownRow(w, b) {
					b++
				}
				at := func(time float64) float64 {
					if b == w.n() || w.times[a] == w.times[b] {
						return x.number(w, a)
					}
					return x.number(w, a) + (x.number(w, b)-x.number(w, a))*(time-w.times[a])/(w.times[b]-w.times[a])
				}
				sum += (at(w.times[i]) + at(w.times[i+1])) / 2 * (w.times[i+1] - w.times[i])
			}
			want.add(sum, sum, any)
		})
		got, err := NewRunner(g, l, Options{}).Answer(context.Background(), g.Aggregate(Integral, 0, operands...))
		if err != nil {
			t.Fatal(err)
		}
		if got.Empty != !want.any {
			t.Fatalf("empty: got %+v, want %+v", got, want)
		}
		if want.any && (!near(got.High, math.Max(want.high, zeroIf(want.none))) || !near(got.Low, math.Min(want.low, -zeroIf(want.none)))) {
			t.Fatalf("integral of %s: got %+v, want %+v", x.text, got, want)
		}
	})
}

// zeroIf: no rows at all integrate to nothing.
func zeroIf(none bool) float64 {
	if none {
		return 0
	}
	return math.Inf(-1)
}

func ExampleGraph_Key() {
	g := NewGraph()
	rpm, oil := g.Channel("rpm"), g.Channel("oil_pressure")
	low := g.Op(Or, g.Op(Less, rpm, g.Const(50)), g.Op(More, oil, g.Const(380000)))
	fmt.Println(g.Key(g.Aggregate(Count, 0, low)))
	// Output: count(||(<("rpm" 0x1.9p+05) <(0x1.7318p+18 "oil_pressure")))
}
