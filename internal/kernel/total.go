package kernel

import "math/bits"

// total is a sum that carries what rounding loses: the error of each addition is found exactly, by
// the TwoSum of Knuth (The Art of Computer Programming 2, 4.2.2), and summed beside it.
type total struct{ sum, lost float64 }

func (t *total) add(x float64) {
	x = float64(x) // rounded, where a product is passed
	s := t.sum + x
	z := s - t.sum
	t.lost += (t.sum - (s - z)) + (x - z)
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
