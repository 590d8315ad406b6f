package trade

import "math"

// The exponents of the life equation of rolling bearings, ISO 281.
const (
	BallBearing   = 3.0
	RollerBearing = 10.0 / 3
)

// BearingLife is the basic rating life in revolutions, which 9 of 10 bearings reach: one
// million times (dynamic load rating / equivalent load) to the exponent. ISO 281:2007.
func BearingLife(rating, load, exponent float64) float64 {
	if !positive(rating, load, exponent) {
		return nan
	}
	return 1e6 * math.Pow(rating/load, exponent)
}

// BearingTime is BearingLife in seconds at a rate in rad/s.
func BearingTime(rating, load, exponent, rotation float64) float64 {
	if !positive(rotation) {
		return nan
	}
	return BearingLife(rating, load, exponent) * 2 * math.Pi / rotation
}

// EquivalentLoad is the steady load that uses a bearing up as a spectrum does: the mean of the
// loads to the exponent, weighed by the revolutions turned under each (ISO 281 with the sum of
// Palmgren and Miner). Loads in one unit, which is the answer's.
func EquivalentLoad(loads, revolutions []float64, exponent float64) float64 {
	if len(loads) != len(revolutions) || !positive(exponent) {
		return nan
	}
	sum, turned := 0.0, 0.0
	for i, load := range loads {
		if !(load >= 0) || !(revolutions[i] >= 0) {
			return nan
		}
		sum += math.Pow(load, exponent) * revolutions[i]
		turned += revolutions[i]
	}
	if turned == 0 {
		return nan
	}
	return math.Pow(sum/turned, 1/exponent)
}
