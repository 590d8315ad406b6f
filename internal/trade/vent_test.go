package trade

import (
	"math"
	"testing"
)

func TestVentTime(t *testing.T) {
	const (
		volume, ambient, temperature = 60e-6, 1e5, 293.15
		conductance                  = 2e-9 // m³/(s·Pa)
	)
	// Choked all the way, the pressure falls as an exponential: t = V/(C·p₀·ϑ)·ln(p₁/p₂), with
	// C·p₀ in m³/s of air at reference and ϑ = T/T₀ for an isothermal vessel at reference temperature.
	want := volume / (conductance * 1e5) * math.Log(10e5/5e5)
	near(t, "choked venting, s", VentTime(volume, 10e5, 5e5, ambient, conductance, 0.3, temperature), want, 1e-6)
	// Warm gas leaves faster: four times the temperature, half the time.
	near(t, "choked venting at four times the temperature, s", VentTime(volume, 10e5, 5e5, ambient, conductance, 0.3, 4*temperature), want/2, 1e-6)
	// Down to where it is not choked, against stepping the flow law through time.
	p, stepped := 10e5, 0.0
	for dt := 1e-6; p > 1.2e5; stepped += dt {
		psi := 1.0
		if r := ambient / p; r > 0.3 {
			psi = math.Sqrt(1 - (r-0.3)*(r-0.3)/(0.7*0.7))
		}
		p -= conductance * p * 1e5 / volume * psi * dt
	}
	near(t, "venting to 1.2 bar, s", VentTime(volume, 10e5, 1.2e5, ambient, conductance, 0.3, temperature), stepped, 1e-4)
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
