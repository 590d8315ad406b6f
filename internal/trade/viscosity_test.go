package trade

import "testing"

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
