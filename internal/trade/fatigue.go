package trade

import (
	"cmp"
	"math"
	"slices"
)

// Life is how many cycles of a fully reversed stress amplitude a part stands: +Inf at or
// under its endurance limit, NaN outside what its curve covers.
type Life func(amplitude float64) float64

// Basquin is the life of amplitude = strength·(2N)^exponent, with N in cycles, not
// reversals: strength is the fatigue strength coefficient, the exponent is negative.
// limit is the endurance limit, 0 for none. (O. H. Basquin, Proc. ASTM 10 (1910) 625;
// today's form is from memory, the arithmetic is checked.)
func Basquin(strength, exponent, limit float64) Life {
	return func(amplitude float64) float64 {
		switch {
		case !(amplitude >= 0) || !positive(strength) || !(exponent < 0):
			return nan
		case amplitude <= limit || amplitude == 0:
			return math.Inf(1)
		}
		return 0.5 * math.Pow(amplitude/strength, 1/exponent)
	}
}

// SNPoint is one point of a stress-life curve.
type SNPoint struct{ Cycles, Amplitude float64 }

// SNCurve is the life along straight lines between points on paper that is logarithmic
// in both cycles and stress. It is not extended: above its highest stress, and below its
// lowest but above the endurance limit, the life is NaN. limit is 0 for none.
func SNCurve(points []SNPoint, limit float64) Life { return snCurve(points, limit, math.Log) }

// SNCurveSemiLog is SNCurve on paper that is logarithmic in cycles only.
func SNCurveSemiLog(points []SNPoint, limit float64) Life {
	return snCurve(points, limit, func(x float64) float64 { return x })
}

func snCurve(points []SNPoint, limit float64, scale func(float64) float64) Life {
	points = slices.Clone(points)
	slices.SortFunc(points, func(a, b SNPoint) int { return cmp.Compare(a.Amplitude, b.Amplitude) })
	return func(amplitude float64) float64 {
		if amplitude >= 0 && amplitude <= limit || amplitude == 0 {
			return math.Inf(1)
		}
		i, exact := slices.BinarySearchFunc(points, amplitude, func(p SNPoint, s float64) int { return cmp.Compare(p.Amplitude, s) })
		switch {
		case exact:
			return points[i].Cycles
		case i == 0 || i == len(points):
			return nan
		}
		a, b := points[i-1], points[i]
		share := (scale(amplitude) - scale(a.Amplitude)) / (scale(b.Amplitude) - scale(a.Amplitude))
		return math.Exp(math.Log(a.Cycles) + share*(math.Log(b.Cycles)-math.Log(a.Cycles)))
	}
}

// A MeanStress correction gives the fully reversed amplitude that does the damage of a
// cycle with a mean.
type MeanStress func(amplitude, mean float64) float64

// Goodman is the modified Goodman correction for a tensile strength: amplitude/(1 - mean/strength).
// A mean in compression earns no credit. (Shigley, 9th ed., 6-12.)
func Goodman(strength float64) MeanStress {
	return correction(strength, func(share float64) float64 { return 1 - share })
}

// Gerber is the Gerber correction, amplitude/(1 - (mean/strength)^2), with no credit for
// compression.
func Gerber(strength float64) MeanStress {
	return correction(strength, func(share float64) float64 { return 1 - share*share })
}

func correction(strength float64, left func(float64) float64) MeanStress {
	return func(amplitude, mean float64) float64 {
		switch {
		case !positive(strength) || !(amplitude >= 0) || math.IsNaN(mean):
			return nan
		case mean <= 0 || amplitude == 0:
			return amplitude
		case mean >= strength:
			return math.Inf(1)
		}
		return amplitude / left(mean/strength)
	}
}

// SmithWatsonTopper is the correction √((amplitude+mean)·amplitude), which needs no
// strength; a cycle wholly in compression does no damage by it. (K. N. Smith, P. Watson,
// T. H. Topper, J. Materials 5 (1970) 767.)
func SmithWatsonTopper(amplitude, mean float64) float64 {
	if !(amplitude >= 0) || math.IsNaN(mean) {
		return nan
	}
	return math.Sqrt(max(amplitude+mean, 0) * amplitude)
}

// Damage is the share of life that cycles have used, by the linear rule (A. Palmgren, Z.
// VDI 68 (1924) 339; M. A. Miner, J. Appl. Mech. 12 (1945) A159). correct may be nil
// where the curve was taken at the means in use. It is NaN where a cycle lies outside
// the curve.
func Damage(cycles []Cycle, life Life, correct MeanStress) float64 {
	damage := 0.0
	for _, c := range cycles {
		amplitude := c.Range / 2
		if correct != nil {
			amplitude = correct(amplitude, c.Mean)
		}
		damage += c.Count / life(amplitude)
	}
	return damage
}
