package kernel

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// A compare in the logger's unit says what it says in SI, to the last bit, and nearest the limit above all.
func TestLimitInLoggerUnits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		line := Line{
			rapid.SampledFrom([]float64{1, 1e5, 6894.757293168361, math.Pi / 30, 1.0 / 3.6, 5.0 / 9, 1e-3, 1e300, 5e-324}).Draw(t, "scale"),
			rapid.SampledFrom([]float64{0, 273.15, 101325, 459.67 * 5 / 9, -1e-300}).Draw(t, "offset"),
		}
		limit := rapid.Float64Range(-1e6, 1e6).Draw(t, "limit")
		if rapid.Bool().Draw(t, "on a value") {
			limit = line.SI(rapid.Float64Range(-1e4, 1e4).Draw(t, "value"))
		}
		least, most := line.firstFrom(limit), line.lastTo(limit)
		values := []float64{rapid.Float64Range(-1e7, 1e7).Draw(t, "v"), 0, limit, math.MaxFloat64, -math.MaxFloat64}
		for _, v := range []float64{least, most, (limit - line.Offset) / line.Scale} {
			for _, w := range []float64{v, math.Nextafter(v, plusInf), math.Nextafter(v, minusInf)} {
				values = append(values, w+0)
			}
		}
		for _, v := range values {
			if !finite(v) {
				continue
			}
			si := line.SI(v)
			if (si < limit) != (v < least) || (si > limit) != (v > most) {
				t.Fatalf("%v is %v in SI; limit %v, at least from %v, at most to %v", v, si, limit, least, most)
			}
		}
	})
}
