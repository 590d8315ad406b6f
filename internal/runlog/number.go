package runlog

import (
	"math"
	"strconv"
	"unsafe"
)

// A float64 holds every integer below 2^53 and every power of ten up to 10^22
// exactly, so one division of two such numbers is rounded once, as the
// nearest double of the decimal must be (W. D. Clinger, How to read floating
// point numbers accurately, 1990).
const exactMantissa = 1 << 53

var powersOfTen = [...]float64{
	1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11,
	1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22,
}

// parseNumber reads a decimal number: a sign, digits with at most one decimal
// mark, an exponent. Nothing else is a number: no hexadecimal, no thousands
// separators, no words. ok is false too where the number is too large for a
// double. Every result equals strconv.ParseFloat's, bit for bit.
func parseNumber(text []byte, mark byte) (v float64, ok bool) {
	i, n := 0, len(text)
	neg := false
	if n > 0 && (text[0] == '-' || text[0] == '+') {
		neg = text[0] == '-'
		i++
	}
	var mant uint64
	digits, frac, seen := 0, 0, -1 // seen: where the decimal mark stands
	markAt := -1
	for ; i < n; i++ {
		ch := text[i]
		if d := ch - '0'; d <= 9 {
			if digits < 19 {
				mant = mant*10 + uint64(d)
			}
			if mant != 0 || digits > 0 {
				digits++
			}
			if markAt >= 0 {
				frac++
			}
			seen = i
			continue
		}
		if ch == mark && markAt < 0 {
			markAt = i
			continue
		}
		break
	}
	if seen < 0 {
		return 0, false
	}
	exp := 0
	if i < n && (text[i] == 'e' || text[i] == 'E') {
		i++
		expNeg := false
		if i < n && (text[i] == '-' || text[i] == '+') {
			expNeg = text[i] == '-'
			i++
		}
		if i == n {
			return 0, false
		}
		for ; i < n; i++ {
			d := text[i] - '0'
			if d > 9 {
				return 0, false
			}
			if exp < 10000 {
				exp = exp*10 + int(d)
			}
		}
		if expNeg {
			exp = -exp
		}
	}
	if i != n {
		return 0, false
	}
	if exp -= frac; digits <= 19 && mant <= exactMantissa && exp >= -22 && exp <= 22 {
		v = float64(mant)
		if exp < 0 {
			v /= powersOfTen[-exp]
		} else {
			v *= powersOfTen[exp]
		}
		if neg {
			v = -v
		}
		return v, true
	}
	if mark != '.' && markAt >= 0 {
		clone := append([]byte(nil), text...)
		clone[markAt] = '.'
		text = clone
	}
	v, err := strconv.ParseFloat(unsafe.String(&text[0], len(text)), 64)
	return v, err == nil && !math.IsInf(v, 0)
}
