// Package trade is the physics, counting and statistics of the job, on plain
// doubles in SI: pascals absolute unless a name says gauge, kelvins, metres,
// kilograms, radians. Each function names its published source.
//
// A function gives NaN where its input is none that can be (a gas at 0 K, a
// negative absolute pressure, a part of an empty sample), so that a slip in a
// document turns into an unknown, never into a number that looks right.
package trade

import "math"

var nan = math.NaN()

// positive says that every value is a finite number above zero.
func positive(values ...float64) bool {
	for _, v := range values {
		if !(v > 0) || math.IsInf(v, 1) {
			return false
		}
	}
	return true
}

// finite says that every value is a finite number.
func finite(values ...float64) bool {
	for _, v := range values {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return false
		}
	}
	return true
}
