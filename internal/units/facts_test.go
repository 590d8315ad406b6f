package units

import (
	"math"
	"testing"
)

// Facts of the trade, common practice: a wing that moves in 20 ms at 80 m/s has covered 1.6 m; 27 kW of
// drag power at 80 m/s is a force of 337.5 N; 0 to 100 km/h in 3.1 s is a mean of 8.96 m/s².
func TestFactsOfTheTrade(t *testing.T) {
	for _, f := range []struct {
		x, y  string
		of    func(x, y Type) (Type, error)
		value func(x, y float64) float64
		want  string
		near  float64
	}{
		{"20 ms", "80 m/s", Mul, func(x, y float64) float64 { return x * y }, "1.6 m", 1e-12},
		{"27 kW", "80 m/s", Div, func(x, y float64) float64 { return x / y }, "337.5 N", 1e-12},
		{"100 km/h", "3.1 s", Div, func(x, y float64) float64 { return x / y }, "8.96 m/s2", 5e-4},
		{"1.6 m", "80 m/s", Div, func(x, y float64) float64 { return x / y }, "0.02 s", 1e-12},
	} {
		x, err1 := Parse(f.x)
		y, err2 := Parse(f.y)
		want, err3 := Parse(f.want)
		is, err4 := f.of(x.Type, y.Type)
		if err1 != nil || err2 != nil || err3 != nil || err4 != nil {
			t.Fatal(f.x, f.y, err1, err2, err3, err4)
		}
		if err := Compare(is, want.Type); err != nil {
			t.Errorf("%s and %s: %v", f.x, f.y, err)
		}
		if got := f.value(x.SI, y.SI); math.Abs(got/want.SI-1) > f.near {
			t.Errorf("%s and %s make %g, want %s", f.x, f.y, got, f.want)
		}
	}
}
