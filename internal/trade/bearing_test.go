package trade

import "testing"

func TestEquivalentLoad(t *testing.T) {
	// One load is itself, however it is cut up.
	near(t, "one load", EquivalentLoad([]float64{4000, 4000}, []float64{10, 90}, BallBearing), 4000, 1e-12)
	// By hand: half the turns at 2 kN, half at 4 kN: ((8+64)/2)^(1/3) = 3.30193 kN.
	near(t, "two loads, ball", EquivalentLoad([]float64{2000, 4000}, []float64{1, 1}, BallBearing), 3301.927, 1e-6)
	// A shaft at constant speed under 3 kN for a tenth of the time, 2 kN for two tenths, 1 kN for three and
	// no load else: 1.663 kN (R. S. Khurmi, J. K. Gupta, A Textbook of Machine Design, chapter 27; the
	// answer from memory).
	near(t, "four loads, ball", EquivalentLoad([]float64{3000, 2000, 1000, 0}, []float64{1, 2, 3, 4}, BallBearing), 1663, 2e-4)
	// The life used by a spectrum is the sum of the lives used by its steps (Palmgren, Miner).
	loads, turns := []float64{1500, 2500, 6000}, []float64{4e5, 2e5, 1e4}
	used := 0.0
	for i := range loads {
		used += turns[i] / BearingLife(30e3, loads[i], RollerBearing)
	}
	equal := (turns[0] + turns[1] + turns[2]) / BearingLife(30e3, EquivalentLoad(loads, turns, RollerBearing), RollerBearing)
	near(t, "share of life", equal, used, 1e-12)
	none(t, "no turns", EquivalentLoad([]float64{1000}, []float64{0}, BallBearing))
	none(t, "one load of two turns", EquivalentLoad([]float64{1000}, []float64{1, 2}, BallBearing))
	if got := EquivalentLoad([]float64{0, 1000}, []float64{1, 0}, BallBearing); got != 0 {
		t.Errorf("turned without load: %g, want 0", got)
	}
}
