package trade

import "math"

// VentTime is how long a vessel takes to fall from one pressure to another through a port of
// a sonic conductance C (m³/(s·Pa)) and a critical pressure ratio b, into the air around it.
// The flow law is that of ISO 6358-1:2013 (from memory): q = C·p·ρ₀·√(T₀/T) where choked,
// times √(1 − ((p₂/p − b)/(1 − b))²) where not, with ρ₀ of air at 100 kPa and 20 °C. The gas
// is taken to keep its temperature T, K, which makes the time the longer one. Volume in m³,
// pressures absolute, Pa; the time is in s.
func VentTime(volume, from, to, ambient, conductance, critical, temperature float64) float64 {
	const referencePressure, reference = 1e5, 293.15 // Pa, K: ISO 8778
	if !positive(volume, from, to, ambient, conductance, temperature) || !(critical >= 0 && critical < 1) || to <= ambient {
		return nan
	}
	if from <= to {
		return 0
	}
	// dp/dt = −C·p·p₀·√(T/T₀)/V·ψ(p): time is the integral of 1 over that, in ln p.
	rate := conductance * referencePressure * math.Sqrt(temperature/reference) / volume
	psi := func(logp float64) float64 {
		r := ambient / math.Exp(logp)
		if r <= critical {
			return 1
		}
		x := (r - critical) / (1 - critical)
		return math.Sqrt(1 - x*x)
	}
	// Simpson in ln p; the integrand is smooth as long as the end lies above the ambient.
	const steps = 2000
	low, high := math.Log(to), math.Log(from)
	h := (high - low) / steps
	sum := 1/psi(low) + 1/psi(high)
	for i := 1; i < steps; i++ {
		weight := 4.0
		if i%2 == 0 {
			weight = 2
		}
		sum += weight / psi(low+float64(i)*h)
	}
	return sum * h / 3 / rate
}
