package trade

import "math"

// ToAbsolute is a gauge pressure over vacuum, given the station pressure (that of the
// air around the gauge, absolute). All in Pa.
func ToAbsolute(gauge, station float64) float64 {
	if !positive(station) || gauge < -station {
		return nan
	}
	return gauge + station
}

// ToGauge is an absolute pressure over the station pressure. All in Pa.
func ToGauge(absolute, station float64) float64 {
	if !positive(station) || absolute < 0 {
		return nan
	}
	return absolute - station
}

// GasAt is the absolute pressure in Pa that an enclosed gas of constant volume has at
// temperature `to` when it has pressure at temperature `from`, both in K: the ideal gas
// law (Gay-Lussac). A nitrogen charge follows it to about 200 bar.
//
// Applied to gauge readings it is wrong by the station pressure's own share (0.035 bar in
// 10 K), so it takes absolute pressures only; GaugeAt goes through the station pressure.
func GasAt(pressure, from, to float64) float64 {
	if !positive(pressure, from, to) {
		return nan
	}
	return pressure * to / from
}

// GaugeAt is GasAt for a gauge pressure, given the station pressure at both times.
func GaugeAt(gauge, station, from, to float64) float64 {
	return ToGauge(GasAt(ToAbsolute(gauge, station), from, to), station)
}

// Polytropic is the volume of a gas brought from one absolute pressure to another, in the
// unit of the volume given: p·V^n is constant. n is 1 for a slow change at constant
// temperature and 1.4 for a fast one of nitrogen.
func Polytropic(volume, from, to, n float64) float64 {
	if !positive(volume, from, to, n) {
		return nan
	}
	return volume * math.Pow(from/to, 1/n)
}

// AccumulatorGives is the volume of oil that a gas accumulator gives between two absolute
// pressures, high and low, in the unit of its gas volume at precharge. Below the precharge
// there is no oil left. Exponent n as in Polytropic.
func AccumulatorGives(volume, precharge, low, high, n float64) float64 {
	if !positive(volume, precharge, low, high, n) || low > high {
		return nan
	}
	return Polytropic(volume, precharge, max(low, precharge), n) - Polytropic(volume, precharge, max(high, precharge), n)
}

// AccumulatorSize is the gas volume at precharge that gives a volume of oil between two
// absolute pressures, the inverse of AccumulatorGives.
func AccumulatorSize(need, precharge, low, high, n float64) float64 {
	per := AccumulatorGives(1, precharge, low, high, n)
	if !positive(need, per) {
		return nan
	}
	return need / per
}

// LeakRate is what an enclosed gas loses, in mol/s, between two readings of absolute
// pressure and temperature: 40 CFR 1065 has the form. The temperatures matter more than
// the leak when a bottle stands overnight.
func LeakRate(volume, p1, t1, p2, t2, seconds float64) float64 {
	const r = 8.314472
	if !positive(volume, p1, t1, t2, seconds) || p2 < 0 {
		return nan
	}
	return volume / r * (p1/t1 - p2/t2) / seconds
}

// CylinderForce is the thrust in N of a cylinder at a pressure over the surrounding air,
// without friction: area of the bore, less that of the rod on the side it takes up
// (0 for the other side). Diameters in m. Common practice.
func CylinderForce(pressure, bore, rod float64) float64 {
	if !finite(pressure) || !positive(bore) || rod < 0 || rod >= bore {
		return nan
	}
	return pressure * math.Pi / 4 * (bore*bore - rod*rod)
}
