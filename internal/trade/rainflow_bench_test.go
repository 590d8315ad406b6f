package trade

import (
	"fmt"
	"math"
	"testing"
)

// BenchmarkRainflow counts histories ten times as long each time: the cost of a sample must
// stay the same, since each is pushed once and taken off at most once.
func BenchmarkRainflow(b *testing.B) {
	for _, n := range []int{10_000, 100_000, 1_000_000} {
		history := make([]float64, n)
		for i := range history {
			history[i] = 100*math.Sin(float64(i)/7) + 40*math.Sin(float64(i)/1.3) + 30*math.Sin(float64(i)/900)
		}
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			for b.Loop() {
				Rainflow(history)
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(n), "ns/sample")
		})
	}
}
