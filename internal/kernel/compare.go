package kernel

import "math"

// Compares of blocks of exact numbers, as any machine can do them.
//
// A compare is the sign of a difference, gathered without a branch: gradual underflow
// makes a-b negative exactly when a < b. Four accumulators of 16 rows make a word.

const signBit = 1 << 63

func gather(a, b, c, d uint64) uint64 {
	return a>>48 | b>>48<<16 | c>>48<<32 | d>>48<<48
}

// lessConstAnywhere marks the rows in which a < c.
func lessConstAnywhere(dst []uint64, a []float64, c float64) {
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

// moreConstAnywhere marks the rows in which a > c.
func moreConstAnywhere(dst []uint64, a []float64, c float64) {
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

// lessEachAnywhere marks the rows in which a < b.
func lessEachAnywhere(dst []uint64, a, b []float64) {
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

// equalConstAnywhere marks the rows in which a == c.
func equalConstAnywhere(dst []uint64, a []float64, c float64) {
	for w := range dst {
		part := a[w*64 : min(w*64+64, len(a))]
		m := uint64(0)
		for i, x := range part {
			m |= isZero(x-c) << i
		}
		dst[w] = m
	}
}

// equalEachAnywhere marks the rows in which a == b.
func equalEachAnywhere(dst []uint64, a, b []float64) {
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
