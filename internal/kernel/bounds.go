package kernel

import (
	"math"
	"sort"
)

// Bounds of numbers are pairs low <= high. A pair of infinities is an unknown number. Bounds
// are those of real numbers that are missing, so a missing number is never so large that
// a sum of it overflows; a result whose every value overflows is unknown.

var (
	minusInf = math.Inf(-1)
	plusInf  = math.Inf(1)
)

func settle(low, high float64) (float64, float64) {
	if !(low <= high) || low == plusInf || high == minusInf {
		return minusInf, plusInf
	}
	return low + 0, high + 0 // no -0
}

// bounds2 are the bounds of an operator's result on two numbers within bounds.
func bounds2(f form, alow, ahigh, blow, bhigh float64) (low, high float64) {
	switch f {
	case addForm:
		return settle(alow+blow, ahigh+bhigh)
	case subForm:
		return settle(alow-bhigh, ahigh-blow)
	case mulForm:
		return corners(product, alow, ahigh, blow, bhigh)
	case divForm:
		if blow <= 0 && bhigh >= 0 {
			return minusInf, plusInf
		}
		return corners(quotient, alow, ahigh, blow, bhigh)
	case leastForm:
		return min(alow, blow), min(ahigh, bhigh)
	default: // greatestForm
		return max(alow, blow), max(ahigh, bhigh)
	}
}

func corners(op func(a, b float64) float64, alow, ahigh, blow, bhigh float64) (low, high float64) {
	p, q, r, s := op(alow, blow), op(alow, bhigh), op(ahigh, blow), op(ahigh, bhigh)
	return settle(min(p, q, r, s), max(p, q, r, s))
}

// product of two bounds: 0 times anything finite is 0, however large.
func product(a, b float64) float64 {
	if a == 0 || b == 0 {
		return 0
	}
	return a * b
}

// quotient of two bounds: anything finite over an unbounded number goes to 0.
func quotient(a, b float64) float64 {
	if math.IsInf(b, 0) {
		return 0
	}
	return a / b
}

// bounds1 are the bounds of minus a number, or of its size.
func bounds1(f form, low, high float64) (float64, float64) {
	if f == negForm || high <= 0 {
		return -high + 0, -low + 0
	}
	if low >= 0 {
		return low, high
	}
	return 0, max(-low, high)
}

// compare2 is whether a < b, or a == b, surely or surely not.
func compare2(f form, alow, ahigh, blow, bhigh float64) (yes, no bool) {
	if f == lessForm {
		return ahigh < blow, alow >= bhigh
	}
	return alow == ahigh && blow == bhigh && alow == blow, ahigh < blow || bhigh < alow
}

// curveAt reads a curve; ok is false outside its points.
func curveAt(points []Point, x float64) (y float64, ok bool) {
	last := len(points) - 1
	if !(x >= points[0].X && x <= points[last].X) {
		return 0, false
	}
	i := sort.Search(last, func(i int) bool { return points[i+1].X > x })
	if i == last {
		return points[last].Y, true
	}
	return between(points[i], points[i+1], x), true
}

// between is the straight line from one point to the next. Halves keep a wide one from
// overflowing; the result does not stray beyond the ends.
func between(p, q Point, x float64) float64 {
	if x == p.X || p.Y == q.Y {
		return p.Y
	}
	w := (x/2 - p.X/2) / (q.X/2 - p.X/2)
	y := p.Y*(1-w) + q.Y*w
	if p.Y < q.Y {
		return max(p.Y, min(q.Y, y)) + 0
	}
	return max(q.Y, min(p.Y, y)) + 0
}

// curveBounds are the bounds of a curve over a span of x.
func curveBounds(points []Point, low, high float64) (float64, float64) {
	a, ok := curveAt(points, low)
	b, okb := curveAt(points, high)
	if !ok || !okb {
		return minusInf, plusInf
	}
	a, b = min(a, b), max(a, b)
	for _, p := range points {
		if p.X > low && p.X < high {
			a, b = min(a, p.Y), max(b, p.Y)
		}
	}
	return a, b
}
