package demo

import (
	"math"
	"testing"
)

// The demonstration cars are invented, and near what such cars have. The figures to compare with are facts
// of the trade, common practice.
func TestTern3IsNearFactsOfTheTrade(t *testing.T) {
	c := Tern3()
	bars := 1 / bar
	for _, f := range []struct {
		what               string
		has, fact, percent float64
	}{
		{"pressure below which no shift is safe, bar: shift hydraulics near 100 bar", c.Hydraulic.PumpOn * bars, 100, 20},
		{"air to the wing, bar: supplied near 10 bar", c.Wing.Supply * bars, 10, 15},
		{"oil pressure at 5,000 rpm, bar: a dry sump holds about 4.5 bar", c.OilLine.At(5000) * bars, 4.5, 10},
		{"turbocharger, rpm: turns at about 120,000 rpm", c.Engine.Turbo, 120_000, 20},
	} {
		if off := 100 * math.Abs(f.has/f.fact-1); off > f.percent {
			t.Errorf("%s: %g is %.0f %% away", f.what, f.has, off)
		}
	}
}
