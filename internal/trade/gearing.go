package trade

import "math"

// RoadSpeed is the speed in m/s of a car whose engine turns at a rate in rad/s, with a
// total ratio (gear times final drive, engine turns per wheel turn) and a rolling
// circumference in m, without slip. The form is that of truck makers' calculation
// booklets (MAN, 2000, formula 1).
func RoadSpeed(rotation, ratio, circumference float64) float64 {
	if !finite(rotation) || !positive(ratio, circumference) {
		return nan
	}
	return rotation / (2 * math.Pi) / ratio * circumference
}

// EngineSpeed is the rate in rad/s at which the engine turns at a road speed, the
// inverse of RoadSpeed.
func EngineSpeed(speed, ratio, circumference float64) float64 {
	if !finite(speed) || !positive(ratio, circumference) {
		return nan
	}
	return speed / circumference * ratio * 2 * math.Pi
}

// Circumference is π times a diameter: of the free tyre, or twice the loaded radius. The
// two differ by about 3 %, so a document must say which it gives.
func Circumference(diameter float64) float64 {
	if !positive(diameter) {
		return nan
	}
	return math.Pi * diameter
}
