package demo

// discs holds the heat of the front discs.
type discs struct{ temp float64 } // °C

// step puts in a power (W) and takes out what the air at speed v carries off; ducts is the
// share of the cooling air that arrives.
func (d *discs) step(power, heat, v, ambient, ducts float64) {
	cooling := 14 + 2.6*v*ducts // W/K, both discs
	d.temp += (power - cooling*(d.temp-ambient)) / heat * step
}
