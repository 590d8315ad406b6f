package trade

import "math"

const (
	zeroCelsius = 273.15    // K
	gravity     = 9.80665   // m/s2, standard
	dryAir      = 287.05287 // J/(kg K): 8314.32/28.9644, ISO 2533
)

// AirDensity is the density of moist air in kg/m3 at an absolute pressure in Pa, a
// temperature in K and a relative humidity from 0 to 1.
//
// CIPM-2007: Picard, Davis, Gläser, Fujii, Metrologia 45 (2008) 149-155, at 400 µmol/mol
// of carbon dioxide. Its own range is 600 to 1100 hPa and 15 to 27 °C; beyond it the same
// formula goes on, within 1 part in 10 000 of a printed table at 40 °C.
func AirDensity(pressure, temperature, humidity float64) float64 {
	if !positive(pressure, temperature) || !(humidity >= 0 && humidity <= 1) {
		return nan
	}
	const (
		r     = 8.314472    // J/(mol K)
		air   = 28.96546e-3 // kg/mol
		water = 18.01528e-3 // kg/mol
	)
	p, t, c := pressure, temperature, temperature-zeroCelsius
	saturation := math.Exp(1.2378847e-5*t*t - 1.9121316e-2*t + 33.93711047 - 6.3431645e3/t)
	enhancement := 1.00062 + 3.14e-8*p + 5.6e-7*c*c
	x := humidity * enhancement * saturation / p // mole fraction of vapour
	if x > 1 {
		return nan // it boils
	}
	z := 1 - p/t*(1.58123e-6-2.9331e-8*c+1.1043e-10*c*c+(5.707e-6-2.051e-8*c)*x+(1.9898e-4-2.376e-6*c)*x*x) +
		p*p/(t*t)*(1.83e-11-0.765e-8*x*x)
	return p * air / (z * r * t) * (1 - x*(1-water/air))
}

// SaturationPressure is the pressure in Pa at which water vapour stands over water of a
// temperature in K. Buck 1996 (A. L. Buck, J. Appl. Meteorol. 20 (1981) 1527, as revised
// in the maker's manual of 1996); within 0.05 % from 0 to 50 °C.
func SaturationPressure(temperature float64) float64 {
	t := temperature - zeroCelsius
	if !(t > -80 && t < 100) {
		return nan
	}
	return 611.21 * math.Exp((18.678-t/234.5)*(t/(257.14+t)))
}

// Atmosphere is the air of the International Standard Atmosphere at a geopotential
// height in m from -2000 to 20 000: temperature in K, pressure in Pa, density in kg/m3.
// ISO 2533:1975. For a height above the sea by tape or map use Geopotential first.
func Atmosphere(height float64) (temperature, pressure, density float64) {
	const (
		t0, p0 = 288.15, 101325.0
		lapse  = 0.0065
		tropo  = 11000.0
	)
	if !(height >= -2000 && height <= 20000) {
		return nan, nan, nan
	}
	temperature = t0 - lapse*min(height, tropo)
	pressure = p0 * math.Pow(temperature/t0, gravity/(dryAir*lapse))
	if height > tropo {
		pressure *= math.Exp(-gravity * (height - tropo) / (dryAir * temperature))
	}
	return temperature, pressure, pressure / (dryAir * temperature)
}

// Geopotential is the geopotential height in m of a geometric one, ISO 2533.
func Geopotential(height float64) float64 {
	const earth = 6356766.0
	return earth * height / (earth + height)
}
