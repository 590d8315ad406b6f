package kernel

import "math/bits"

// blockRows is how many rows are evaluated at a time: small enough for the cache.
const (
	blockRows  = 2048
	blockWords = blockRows / 64
)

// numbers is a block of numbers. With high nil, low is exact in the rows of known (nil:
// all rows), and the other rows are unbounded. Else low and high bound every row.
type numbers struct {
	low, high []float64
	known     []uint64
}

// truths is a block of truths: a row is true, false or, in neither, unknown. Bits
// beyond the block's rows are in neither.
type truths struct{ yes, no []uint64 }

// slot is what a node is in the block at hand, with buffers to write it into.
type slot struct {
	rows int // room
	numbers
	truths
	bufLow, bufHigh         []float64
	bufKnown, bufYes, bufNo []uint64
}

// at bounds one row.
func (x *numbers) at(i int) (low, high float64) {
	if x.high != nil {
		return x.low[i], x.high[i]
	}
	if x.known != nil && x.known[i>>6]>>(i&63)&1 == 0 {
		return minusInf, plusInf
	}
	return x.low[i], x.low[i]
}

// exact is a word of the rows whose number is known exactly.
func (x *numbers) exact(w int, valid uint64) uint64 {
	if x.high == nil {
		if x.known == nil {
			return valid
		}
		return x.known[w]
	}
	var m uint64
	for i := w * 64; i < min(w*64+64, len(x.low)); i++ {
		if x.low[i] == x.high[i] {
			m |= 1 << (i & 63)
		}
	}
	return m
}

// newSlot has room for a block of a grid: a short log needs little.
func newSlot(g *grid) *slot { return &slot{rows: min(blockRows, g.n)} }

func (s *slot) spaceLow(n int) []float64 {
	if s.bufLow == nil {
		s.bufLow = make([]float64, s.rows)
	}
	return s.bufLow[:n]
}

func (s *slot) spaceHigh(n int) []float64 {
	if s.bufHigh == nil {
		s.bufHigh = make([]float64, s.rows)
	}
	return s.bufHigh[:n]
}

func (s *slot) spaceKnown(n int) []uint64 {
	if s.bufKnown == nil {
		s.bufKnown = make([]uint64, words(s.rows))
	}
	return s.bufKnown[:words(n)]
}

// spaceTruths makes room for truths and makes them the slot's value.
func (s *slot) spaceTruths(n int) (yes, no []uint64) {
	if s.bufYes == nil {
		s.bufYes, s.bufNo = make([]uint64, words(s.rows)), make([]uint64, words(s.rows))
	}
	s.yes, s.no = s.bufYes[:words(n)], s.bufNo[:words(n)]
	return s.yes, s.no
}

// rowsOf is a word of ones for the rows a block of n has in word w.
func rowsOf(n, w int) uint64 {
	if left := n - w*64; left < 64 {
		return 1<<left - 1
	}
	return ^uint64(0)
}

// setBits sets the bits from <= i < to.
func setBits(m []uint64, from, to int) {
	if from >= to {
		return
	}
	a, b := from>>6, (to-1)>>6
	first, last := ^uint64(0)<<(from&63), ^uint64(0)>>(63-(to-1)&63)
	if a == b {
		m[a] |= first & last
		return
	}
	m[a] |= first
	for w := a + 1; w < b; w++ {
		m[w] = ^uint64(0)
	}
	m[b] |= last
}

// clearBits clears the bits from <= i < to.
func clearBits(m []uint64, from, to int) {
	for from < to {
		w, end := from>>6, min(to, from|63+1)
		m[w] &^= (^uint64(0) << (from & 63)) & (^uint64(0) >> (63 - (end-1)&63))
		from = end
	}
}

// spansOf calls do for each unbroken run of set bits.
func spansOf(m []uint64, n int, do func(from, to int)) {
	open := -1
	for w, x := range m {
		base := w * 64
		for i := 0; i < 64; {
			if open < 0 {
				rest := x >> i
				if rest == 0 {
					break
				}
				i += bits.TrailingZeros64(rest)
				open = base + i
			} else {
				rest := ^x >> i
				if rest == 0 {
					break
				}
				i += bits.TrailingZeros64(rest)
				do(open, base+i)
				open = -1
			}
		}
	}
	if open >= 0 {
		do(open, n)
	}
}

func isSet(m []uint64, i int) bool { return m[i>>6]>>(i&63)&1 != 0 }

func setBit(m []uint64, i int) { m[i>>6] |= 1 << (i & 63) }

// nextSet is the first set bit from i on; n if there is none.
func nextSet(m []uint64, i, n int) int {
	for ; i < n; i = (i | 63) + 1 {
		if x := m[i>>6] >> (i & 63); x != 0 {
			return min(i+trailing(x), n)
		}
	}
	return n
}
