package trade

import (
	"math"
	"testing"
)

// near fails unless got is want within a share of it.
func near(t *testing.T, what string, got, want, share float64) {
	t.Helper()
	if !(math.Abs(got-want) <= share*math.Abs(want)) {
		t.Errorf("%s is %.10g, want %.10g", what, got, want)
	}
}

func none(t *testing.T, what string, got float64) {
	t.Helper()
	if !math.IsNaN(got) {
		t.Errorf("%s is %g, want no number", what, got)
	}
}

func celsius(t float64) float64 { return t + 273.15 }

func rpm(n float64) float64 { return n * 2 * math.Pi / 60 }
