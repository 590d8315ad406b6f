package kernel

import (
	"math"
	"math/bits"
)

// total is a sum that carries what rounding loses (Neumaier 1974).
type total struct{ sum, lost float64 }

func (t *total) add(x float64) {
	s := t.sum + x
	if math.Abs(t.sum) >= math.Abs(x) {
		t.lost += (t.sum - s) + x
	} else {
		t.lost += (x - s) + t.sum
	}
	t.sum = s
}

func (t *total) value() float64 {
	if v := t.sum + t.lost; finite(v) {
		return v
	}
	return t.sum
}

func (t total) minus() total { return total{sum: -t.sum, lost: -t.lost} }

func trailing(x uint64) int { return bits.TrailingZeros64(x) }
