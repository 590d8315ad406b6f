package kernel

import (
	"context"
	"math"
	"slices"
	"testing"
)

func TestSamples(t *testing.T) {
	nan := math.NaN()
	for _, c := range []struct {
		in, want []float64
		whole    bool
	}{
		{[]float64{1, 3, 2}, []float64{2, 6, 4}, true},
		{[]float64{1, 1, 1}, []float64{2}, true}, // what stands is told once
		{[]float64{1, nan, 2}, []float64{2, 4}, false},
		{[]float64{nan, nan, nan}, nil, false},
	} {
		log, err := FromRows([]float64{0, 1, 2}, 1, 1, map[string][]float64{"x": c.in})
		if err != nil {
			t.Fatal(err)
		}
		g := NewGraph()
		r := NewRunner(g, log, Options{})
		got, whole, err := r.Samples(t.Context(), g.Op(Mul, g.Channel("x"), g.Const(2)))
		if err != nil || !slices.Equal(got, c.want) || whole != c.whole {
			t.Errorf("%v: %v %v %v, want %v %v", c.in, got, whole, err, c.want, c.whole)
		}
		ctx, stop := context.WithCancel(t.Context())
		stop()
		if _, _, err := r.Samples(ctx, g.Channel("x")); err == nil {
			t.Error("it goes on after it was stopped")
		}
	}
}
