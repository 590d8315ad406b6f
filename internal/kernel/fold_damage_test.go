package kernel

import (
	"math"
	"testing"
)

// What reads only within something widens the bounds; what was not seen leaves the least of what was.
func TestDamage(t *testing.T) {
	for _, c := range []struct {
		values         []float64
		within         float64
		low, high      float64
		missing, vague int
	}{
		{[]float64{0, 10, 0}, 0, 20, 20, 0, 0},
		{[]float64{0, 10, 0}, 1, 16, 24, 0, 1}, // each way up or down by up to 2 more or less
		{[]float64{4, 10, math.NaN(), 0}, 0, 10, math.Inf(1), 1, 0},
		{[]float64{math.NaN(), math.NaN()}, 0, 0, math.Inf(1), 1, 0},
	} {
		times := []float64{0, 1, 2, 3}[:len(c.values)]
		log, err := FromRows(times, 1, 1, map[string][]float64{"x": c.values})
		if err != nil {
			t.Fatal(err)
		}
		log.Columns["x"].Within = c.within
		g := NewGraph()
		got, err := NewRunner(g, log, Options{}).Answer(t.Context(), g.Damage(travel, g.Channel("x")))
		if err != nil || got.Low != c.low || got.High != c.high || len(got.Missing) != c.missing || len(got.Vague) != c.vague {
			t.Errorf("%v within %v: %+v, %v", c.values, c.within, got, err)
		}
	}
}
