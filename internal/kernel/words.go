package kernel

import "math"

// Kernels over blocks of exact numbers. They need finite numbers and no -0, which columns
// and every result here keep; rows that are not known hold some finite number.

// wild has bit 11 set where a number is not finite.
func wild(x float64) uint64 { return math.Float64bits(x)>>52&0x7ff + 1 }

const wildBit = 1 << 11

// exactArithmetic computes an operator on exact numbers; ok is false where a result is not finite.
func exactArithmetic(f form, dst, a, b []float64) (ok bool) {
	a, b = a[:len(dst)], b[:len(dst)]
	var flag uint64
	switch f {
	case addForm:
		for i, x := range a {
			z := x + b[i]
			dst[i] = z
			flag |= wild(z)
		}
	case subForm:
		for i, x := range a {
			z := x - b[i]
			dst[i] = z
			flag |= wild(z)
		}
	case mulForm:
		for i, x := range a {
			z := x*b[i] + 0 // no -0
			dst[i] = z
			flag |= wild(z)
		}
	case divForm:
		for i, x := range a {
			z := x/b[i] + 0
			dst[i] = z
			flag |= wild(z)
		}
	case leastForm:
		for i, x := range a {
			if y := b[i]; y < x {
				x = y
			}
			dst[i] = x
		}
	case greatestForm:
		for i, x := range a {
			if y := b[i]; y > x {
				x = y
			}
			dst[i] = x
		}
	}
	return flag&wildBit == 0
}

// extremes are the least and the greatest of some finite numbers.
func extremes(a []float64) (least, most float64) {
	l0, l1, m0, m1 := a[0], a[0], a[0], a[0]
	for len(a) >= 2 {
		x, y := a[0], a[1]
		if x < l0 {
			l0 = x
		}
		if x > m0 {
			m0 = x
		}
		if y < l1 {
			l1 = y
		}
		if y > m1 {
			m1 = y
		}
		a = a[2:]
	}
	if len(a) > 0 {
		l0, m0 = min(l0, a[0]), max(m0, a[0])
	}
	return min(l0, l1), max(m0, m1)
}

// pick is a where the mask is set, else b.
func pick(dst []float64, m []uint64, a, b []float64) {
	for w, bits := range m {
		from, to := w*64, min(w*64+64, len(dst))
		switch bits {
		case 0:
			copy(dst[from:to], b[from:to])
		case ^uint64(0):
			copy(dst[from:to], a[from:to])
		default:
			for i := from; i < to; i++ {
				take := -(bits >> (i & 63) & 1)
				dst[i] = math.Float64frombits(math.Float64bits(a[i])&take | math.Float64bits(b[i])&^take)
			}
		}
	}
}
