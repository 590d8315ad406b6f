package trade

import "math"

// Viscosity is the kinematic viscosity of an oil at a temperature, from what it is at two
// others: log log (ν + 0.7) falls on a straight line over log T, ν in mm²/s and T in K. ASTM
// D341, Ubbelohde-Walther. Viscosities in m²/s, temperatures in K; the relation is made for
// the range between pour point and about 150 °C, above 2 mm²/s, and is refused below that.
func Viscosity(low, lowAt, high, highAt, at float64) float64 {
	const square = 1e-6 // m² in mm², per second
	if !positive(low, lowAt, high, highAt, at) || lowAt == highAt {
		return nan
	}
	y := func(v float64) float64 { return math.Log10(math.Log10(v/square + 0.7)) }
	if low < 2*square || high < 2*square {
		return nan
	}
	slope := (y(high) - y(low)) / (math.Log10(highAt) - math.Log10(lowAt))
	v := math.Pow(10, math.Pow(10, y(low)+slope*(math.Log10(at)-math.Log10(lowAt)))) - 0.7
	if !(v >= 2) {
		return nan
	}
	return v * square
}
