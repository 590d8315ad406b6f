package kernel

import "math"

// Kernels over blocks of exact numbers. They need finite numbers and no -0, which columns
// and every result here keep; rows that are not known hold some finite number.
//
// A compare is the sign of a difference, gathered without a branch: gradual underflow
// makes a-b negative exactly when a < b. Four accumulators of 16 rows make a word.

const signBit = 1 << 63

func gather(a, b, c, d uint64) uint64 {
	return a>>48 | b>>48<<16 | c>>48<<32 | d>>48<<48
}

// lessConst marks the rows in which a < c.
func lessConst(dst []uint64, a []float64, c float64) {
	w := 0
	for ; len(a) >= 64; w++ {
		s := (*[64]float64)(a)
		var p, q, r, t uint64
		for i := range 16 {
			p = p>>1 | math.Float64bits(s[i]-c)&signBit
			q = q>>1 | math.Float64bits(s[i+16]-c)&signBit
			r = r>>1 | math.Float64bits(s[i+32]-c)&signBit
			t = t>>1 | math.Float64bits(s[i+48]-c)&signBit
		}
		dst[w] = gather(p, q, r, t)
		a = a[64:]
	}
	if len(a) > 0 {
		dst[w] = 0
		for i, x := range a {
			dst[w] |= math.Float64bits(x-c) >> 63 << i
		}
	}
}

// moreConst marks the rows in which a > c.
func moreConst(dst []uint64, a []float64, c float64) {
	w := 0
	for ; len(a) >= 64; w++ {
		s := (*[64]float64)(a)
		var p, q, r, t uint64
		for i := range 16 {
			p = p>>1 | math.Float64bits(c-s[i])&signBit
			q = q>>1 | math.Float64bits(c-s[i+16])&signBit
			r = r>>1 | math.Float64bits(c-s[i+32])&signBit
			t = t>>1 | math.Float64bits(c-s[i+48])&signBit
		}
		dst[w] = gather(p, q, r, t)
		a = a[64:]
	}
	if len(a) > 0 {
		dst[w] = 0
		for i, x := range a {
			dst[w] |= math.Float64bits(c-x) >> 63 << i
		}
	}
}

// lessEach marks the rows in which a < b.
func lessEach(dst []uint64, a, b []float64) {
	w := 0
	for ; len(a) >= 64; w++ {
		s, o := (*[64]float64)(a), (*[64]float64)(b)
		var p, q, r, t uint64
		for i := range 16 {
			p = p>>1 | math.Float64bits(s[i]-o[i])&signBit
			q = q>>1 | math.Float64bits(s[i+16]-o[i+16])&signBit
			r = r>>1 | math.Float64bits(s[i+32]-o[i+32])&signBit
			t = t>>1 | math.Float64bits(s[i+48]-o[i+48])&signBit
		}
		dst[w] = gather(p, q, r, t)
		a, b = a[64:], b[64:]
	}
	if len(a) > 0 {
		dst[w] = 0
		for i, x := range a {
			dst[w] |= math.Float64bits(x-b[i]) >> 63 << i
		}
	}
}

// equalConst marks the rows in which a == c.
func equalConst(dst []uint64, a []float64, c float64) {
	for w := range dst {
		part := a[w*64 : min(w*64+64, len(a))]
		m := uint64(0)
		for i, x := range part {
			m |= isZero(x-c) << i
		}
		dst[w] = m
	}
}

// equalEach marks the rows in which a == b.
func equalEach(dst []uint64, a, b []float64) {
	for w := range dst {
		part := a[w*64 : min(w*64+64, len(a))]
		other := b[w*64:][:len(part)]
		m := uint64(0)
		for i, x := range part {
			m |= isZero(x-other[i]) << i
		}
		dst[w] = m
	}
}

// isZero is 1 for +0 and -0, else 0.
func isZero(x float64) uint64 {
	b := math.Float64bits(x) << 1
	return ^(b | -b) >> 63
}

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
