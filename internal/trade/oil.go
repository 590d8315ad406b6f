package trade

import (
	"fmt"
	"math"
)

// scaleUpTo[n] is the highest count per mL of ISO 4406 scale number n (1999, 2017, 2021).
var scaleUpTo = [...]float64{
	0.01, 0.02, 0.04, 0.08, 0.16, 0.32, 0.64, 1.3, 2.5, 5, 10, 20, 40, 80, 160, 320, 640, 1300, 2500, 5000,
	10000, 20000, 40000, 80000, 160000, 320000, 640000, 1300000, 2500000,
}

// ScaleNumber is the ISO 4406 scale number of a count per mL, from 0 to 28, 29 for more
// than the scale holds, -1 for no count at all (below zero or not a number).
func ScaleNumber(perMillilitre float64) int {
	if math.IsNaN(perMillilitre) || perMillilitre < 0 {
		return -1
	}
	for n, upTo := range scaleUpTo {
		if perMillilitre <= upTo {
			return n
		}
	}
	return len(scaleUpTo)
}

// CleanlinessCode is the ISO 4406 code of oil from its counts per mL of particles of at
// least 4, 6 and 14 µm(c), as in "16/14/11". A size without a count is "-", one beyond
// the scale ">28".
func CleanlinessCode(from4, from6, from14 float64) string {
	word := func(count float64) string {
		switch n := ScaleNumber(count); {
		case n < 0:
			return "-"
		case n >= len(scaleUpTo):
			return fmt.Sprintf(">%d", len(scaleUpTo)-1)
		default:
			return fmt.Sprint(n)
		}
	}
	return word(from4) + "/" + word(from6) + "/" + word(from14)
}

// BetaRatio is what a filter holds back at a size, ISO 16889: the count before it over the
// count behind it.
func BetaRatio(before, behind float64) float64 {
	if !positive(before) || !(behind >= 0) {
		return nan
	}
	return before / behind
}

// FilterEfficiency is the share of particles that a filter of a beta ratio holds back.
func FilterEfficiency(beta float64) float64 {
	if !(beta >= 1) {
		return nan
	}
	return 1 - 1/beta
}
