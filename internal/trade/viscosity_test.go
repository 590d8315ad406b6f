package trade

import (
	"math"
	"testing"
)

// A public sheet that follows ASTM D341: 32 mm²/s at 40 °C and 5.4 at 100 °C give 8.5 at 80 °C
// (it prints two digits, and takes 273 for the zero).
// ar.scribd.com/document/361017004
func TestViscosity(t *testing.T) {
	got := Viscosity(32e-6, 273+40, 5.4e-6, 273+100, 273+80)
	near(t, "viscosity at 80 °C, m²/s", got, 8.5e-6, 0.006)
	near(t, "viscosity at its first point", Viscosity(32e-6, 313, 5.4e-6, 373, 313), 32e-6, 1e-12)
	near(t, "viscosity at its second point", Viscosity(32e-6, 313, 5.4e-6, 373, 373), 5.4e-6, 1e-12)
	none(t, "viscosity below what the relation holds for", Viscosity(1.5e-6, 313, 1.2e-6, 373, 350))
	none(t, "viscosity from one point", Viscosity(32e-6, 313, 32e-6, 313, 350))
	none(t, "viscosity at no temperature", Viscosity(32e-6, 313, 5.4e-6, 373, nan))
}

func TestEquivalentLoad(t *testing.T) {
	// One load is itself, however it is cut up.
	near(t, "one load", EquivalentLoad([]float64{4000, 4000}, []float64{10, 90}, BallBearing), 4000, 1e-12)
	// By hand: half the turns at 2 kN, half at 4 kN: ((8+64)/2)^(1/3) = 3.30193 kN.
	near(t, "two loads, ball", EquivalentLoad([]float64{2000, 4000}, []float64{1, 1}, BallBearing), 3301.927, 1e-6)
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

func TestVentTime(t *testing.T) {
	const (
		volume, ambient, temperature = 60e-6, 1e5, 293.15
		conductance                  = 2e-9 // m³/(s·Pa)
	)
	// Choked all the way, the pressure falls as an exponential: t = V/(C·p₀·ϑ)·ln(p₁/p₂), with
	// C·p₀ in m³/s of air at reference and ϑ = T/T₀ for an isothermal vessel at reference temperature.
	want := volume / (conductance * 1e5) * math.Log(10e5/5e5)
	near(t, "choked venting, s", VentTime(volume, 10e5, 5e5, ambient, conductance, 0.3, temperature), want, 1e-6)
	// It takes longer to the same pressure when the flow is no longer choked.
	if a, b := VentTime(volume, 10e5, 1.2e5, ambient, conductance, 0.3, temperature), volume/(conductance*1e5)*math.Log(10/1.2); !(a > b) {
		t.Errorf("venting to 1.2 bar takes %g s, must be more than choked %g s", a, b)
	}
	none(t, "venting below the ambient", VentTime(volume, 10e5, 0.9e5, ambient, conductance, 0.3, temperature))
	none(t, "no port", VentTime(volume, 10e5, 5e5, ambient, 0, 0.3, temperature))
	if got := VentTime(volume, 2e5, 5e5, ambient, conductance, 0.3, temperature); got != 0 {
		t.Errorf("already below: %g s, want 0", got)
	}
}
