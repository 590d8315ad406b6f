package kernel

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// The compares this machine does many at a time must find what the plain ones find, and both what a loop finds.
func TestCompares(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 4))
	edges := []float64{0, 1, -1, math.SmallestNonzeroFloat64, -math.SmallestNonzeroFloat64, math.MaxFloat64, -math.MaxFloat64, 300, 0x1p-1022}
	number := func() float64 {
		if random.IntN(2) == 0 {
			return edges[random.IntN(len(edges))]
		}
		return random.NormFloat64()
	}
	const past = 0xfeed
	for turn := range 3000 {
		n := random.IntN(300)
		if turn%10 == 0 {
			n = blockRows
		}
		a, b := make([]float64, n+1)[turn%2:][:n], make([]float64, n) // not always in step with 16 bytes
		for i := range a {
			if a[i], b[i] = number(), number(); random.IntN(3) == 0 {
				b[i] = a[i]
			}
		}
		c := number()
		for _, way := range []struct {
			name         string
			here, anyway func(dst []uint64)
			want         func(i int) bool
		}{
			{"less than a number", func(d []uint64) { lessConst(d, a, c) }, func(d []uint64) { lessConstAnywhere(d, a, c) }, func(i int) bool { return a[i] < c }},
			{"more than a number", func(d []uint64) { moreConst(d, a, c) }, func(d []uint64) { moreConstAnywhere(d, a, c) }, func(i int) bool { return a[i] > c }},
			{"equal to a number", func(d []uint64) { equalConst(d, a, c) }, func(d []uint64) { equalConstAnywhere(d, a, c) }, func(i int) bool { return a[i] == c }},
			{"less than another", func(d []uint64) { lessEach(d, a, b) }, func(d []uint64) { lessEachAnywhere(d, a, b) }, func(i int) bool { return a[i] < b[i] }},
			{"equal to another", func(d []uint64) { equalEach(d, a, b) }, func(d []uint64) { equalEachAnywhere(d, a, b) }, func(i int) bool { return a[i] == b[i] }},
		} {
			want := make([]uint64, words(n)+1)
			for i := range n {
				if way.want(i) {
					setBit(want, i)
				}
			}
			want[words(n)] = past
			for _, do := range []func([]uint64){way.here, way.anyway} {
				room := slices.Repeat([]uint64{past}, words(n)+1) // what stood there before is overwritten, what stands behind is not
				if do(room[:words(n)]); !slices.Equal(room, want) {
					t.Fatalf("%s, of %d rows, c = %v: %x, want %x", way.name, n, c, room, want)
				}
			}
		}
	}
}
