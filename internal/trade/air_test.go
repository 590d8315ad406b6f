package trade

import (
	"testing"

	"pgregory.net/rapid"
)

func TestAirDensity(t *testing.T) {
	const mmHg = 133.322387415
	for _, tt := range []struct {
		what        string
		t, p, rh    float64
		want, share float64
	}{
		{"mass metrology appendix, CIPM-2007, p. 205", 10, 730 * mmHg, 0.40, 1.19569, 1e-5},
		{"the same", 40, 760 * mmHg, 0.40, 1.11497, 1e-4},
		{"NIST SOP appendix B, example 1 (Jones 1978)", 22.3, 748.1 * mmHg, 0.37, 1.17194, 1e-4},
		{"the same place, approximate formula", 25, 760 * mmHg, 0.40, 1.1787, 1e-4},
		{"CIPM-2007 worked out apart from this code", 20, 101325, 0.50, 1.199314, 1e-6},
		{"the same, dry", 20, 101325, 0, 1.204557, 1e-6},
		{"ideal gas with Buck's vapour, apart from this code", 20, 101325, 0.50, 1.198866, 1e-3},
	} {
		near(t, tt.what, AirDensity(tt.p, celsius(tt.t), tt.rh), tt.want, tt.share)
	}
	none(t, "air over 100 %", AirDensity(101325, 293, 1.01))
	none(t, "air at no pressure", AirDensity(0, 293, 0.5))
	none(t, "air that boils", AirDensity(1000, celsius(60), 1))
}

// Warmer, thinner and wetter air is always lighter.
func TestAirDensityFalls(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := rapid.Float64Range(60e3, 108e3).Draw(t, "p")
		temp := rapid.Float64Range(celsius(-20), celsius(45)).Draw(t, "t")
		rh := rapid.Float64Range(0, 0.98).Draw(t, "rh")
		rho := AirDensity(p, temp, rh)
		if !(AirDensity(p, temp+1, rh) < rho && AirDensity(p-100, temp, rh) < rho && AirDensity(p, temp, rh+0.02) < rho) {
			t.Errorf("at %g Pa, %g K, %g", p, temp, rh)
		}
	})
}

// The encyclopedic table of vapour pressure over water, which Buck 1996 meets within 0.05 %.
func TestSaturationPressure(t *testing.T) {
	for c, hPa := range map[float64]float64{0: 6.113, 10: 12.281, 20: 23.388, 25: 31.690, 30: 42.455, 35: 56.267, 40: 73.814, 50: 123.440} {
		near(t, "vapour pressure", SaturationPressure(celsius(c)), hPa*100, 5e-4)
	}
	// Buck 1996 itself, worked out apart from this code.
	for c, hPa := range map[float64]float64{0: 6.1121, 10: 12.2786, 20: 23.3834, 25: 31.6853, 30: 42.4513, 40: 73.8236, 50: 123.494} {
		near(t, "vapour pressure", SaturationPressure(celsius(c)), hPa*100, 1e-5)
	}
	// 40 CFR 86.344-79(d), Wexler and Greenspan.
	for c, pa := range map[float64]float64{10: 1227.57, 20: 2338.34, 25: 3168.62, 30: 4245.15, 40: 7381.29} {
		near(t, "vapour pressure", SaturationPressure(celsius(c)), pa, 5e-4)
	}
	none(t, "vapour pressure of steam", SaturationPressure(celsius(101)))
}

// ISO 2533, ICAO Doc 7488, US Standard Atmosphere 1976, by geopotential height.
func TestAtmosphere(t *testing.T) {
	for _, tt := range [][4]float64{
		{0, 288.15, 101325, 1.2250},
		{500, 284.90, 95460.8, 1.16727},
		{1000, 281.65, 89874.6, 1.11164},
		{1500, 278.40, 84556.0, 1.05807},
		{2000, 275.15, 79495.2, 1.00649},
		{2500, 271.90, 74682.5, 0.956859},
		{3000, 268.65, 70108.5, 0.909122},
		{4000, 262.15, 61640.2, 0.819129},
		{4302, 260.187, 59252.6, 0.793341}, // worked out apart from this code
		{5000, 255.65, 54019.9, 0.736116},
		{8000, 236.15, 35599.8, 0.525167}, // one public table misprints 35600.5
		{10000, 223.15, 26436.3, 0.412706},
		{11000, 216.65, 22632.1, 0.363918},
		{15000, 216.65, 12044.6, 0.193674},
		{20000, 216.65, 5474.89, 0.0880349},
	} {
		temperature, pressure, density := Atmosphere(tt[0])
		near(t, "temperature", temperature, tt[1], 1e-6)
		near(t, "pressure", pressure, tt[2], 5e-6)
		near(t, "density", density, tt[3], 5e-6)
	}
	for z, want := range map[float64][3]float64{1000: {999.843, 89876.3, 1.11166}, 2000: {1999.371, 79501.4, 1.00655}, 3000: {2998.585, 70121.1, 0.909254}} {
		h := Geopotential(z)
		near(t, "geopotential height", h, want[0], 1e-6)
		_, pressure, density := Atmosphere(h)
		near(t, "pressure", pressure, want[1], 1e-6)
		near(t, "density", density, want[2], 5e-6)
	}
	temperature, _, _ := Atmosphere(25000)
	none(t, "temperature above the table", temperature)
}
