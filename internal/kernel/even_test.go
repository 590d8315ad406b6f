package kernel

import (
	"math"
	"slices"
	"testing"
)

func TestEvenTimes(t *testing.T) {
	for _, step := range []int64{1, 999, 1_000_000, 5_000_000, 12_500_000, 33_333_333, 999_999_999} {
		times := make([]float64, 5000)
		for i := range times {
			times[i] = float64(int64(i)*step) / 1e9
		}
		even := EvenTimes(times)
		if even == nil || even.Step != step {
			t.Fatalf("step %d ns: %+v", step, even)
		}
		for i, want := range times {
			if got := even.time(i); got != want {
				t.Fatalf("step %d ns: row %d at %v s, want %v s", step, i, got, want)
			}
		}
		kept := &Even{Rows: len(times), Step: step, Kept: func() []float64 { return times }}
		if !slices.Equal(even.times(), times) || &kept.times()[0] != &times[0] {
			t.Errorf("step %d ns: not the same times", step)
		}
		lost := &Even{Rows: len(times), Step: step, Kept: func() []float64 { return nil }}
		if !slices.Equal(lost.times(), times) {
			t.Errorf("step %d ns: times that are not kept are not worked out", step)
		}
		for _, at := range []int{1, 2, 4999} { // not even to the last bit
			off := slices.Clone(times)
			off[at] = math.Nextafter(off[at], 1e9)
			if even := EvenTimes(off); even != nil {
				t.Errorf("step %d ns, row %d off: %+v", step, at, even)
			}
		}
	}
	for _, times := range [][]float64{nil, {0}, {1, 2, 3}, {0, 0, 0}, {0, 2e9, 4e9}} {
		if even := EvenTimes(times); even != nil {
			t.Errorf("%v are even: %+v", times, even)
		}
	}
}
