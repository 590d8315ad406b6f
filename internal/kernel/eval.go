package kernel

import (
	"math"
	"math/bits"
)

// settleBlock writes a block of results: exact ones where it can.
func (p *plan) settleBlock(s *slot, f func(i int) (low, high float64)) {
	low, high, known := s.spaceLow(p.n), s.spaceHigh(p.n), s.spaceKnown(p.n)
	clear(known)
	bounded, all := false, true
	for i := range low {
		l, h := f(i)
		low[i], high[i] = l, h
		if l == h {
			known[i>>6] |= 1 << (i & 63)
			continue
		}
		all = false
		if l != minusInf || h != plusInf {
			bounded = true
		}
	}
	s.low, s.high, s.known = low, nil, known
	switch {
	case bounded:
		s.high, s.known = high, nil
	case all:
		s.known = nil
	default:
		for w, m := range known { // unknown rows hold a harmless number
			for m = rowsOf(p.n, w) &^ m; m != 0; m &= m - 1 {
				low[w*64+bits.TrailingZeros64(m)] = 0
			}
		}
	}
}

func (p *plan) unary(st *step, s *slot) {
	a := &st.x.numbers
	if a.high != nil || a.known != nil && st.form == absForm { // the size of a missing number is not below 0
		p.settleBlock(s, func(i int) (float64, float64) {
			low, high := a.at(i)
			return bounds1(st.form, low, high)
		})
		return
	}
	s.low, s.high, s.known = s.spaceLow(p.n), nil, a.known
	if st.form == absForm {
		for i, x := range a.low {
			s.low[i] = math.Abs(x)
		}
		return
	}
	for i, x := range a.low {
		s.low[i] = 0 - x // no -0
	}
}

// curve reads a curve; neighbouring rows mostly lie between the same two of its points.
func (p *plan) curve(st *step, s *slot) {
	a := &st.x.numbers
	points := st.curve
	if a.high != nil {
		p.settleBlock(s, func(i int) (float64, float64) {
			low, high := a.at(i)
			return curveBounds(points, low, high)
		})
		return
	}
	s.low, s.high, s.known = s.spaceLow(p.n), nil, a.known
	last := len(points) - 1
	off := false
	at := 0 // x was last seen from this point on
	for i, x := range a.low {
		if !(x >= points[0].X && x <= points[last].X) {
			off = true
			s.low[i] = 0
			continue
		}
		for at > 0 && x < points[at].X {
			at--
		}
		for at < last && x >= points[at+1].X {
			at++
		}
		if at == last {
			s.low[i] = points[last].Y
		} else {
			s.low[i] = between(points[at], points[at+1], x)
		}
	}
	if off {
		known := s.spaceKnown(p.n)
		for w := range known {
			known[w] = a.exact(w, rowsOf(p.n, w))
		}
		for i, x := range a.low {
			if !(x >= points[0].X && x <= points[last].X) {
				known[i>>6] &^= 1 << (i & 63)
			}
		}
		s.known = known
	}
}

func (p *plan) arithmetic(f form, s *slot, a, b *numbers) {
	// the least or greatest of a missing number is still bounded on one side, and 0 times it is 0
	bounded := (f == leastForm || f == greatestForm || f == mulForm) && (a.known != nil || b.known != nil)
	if a.high == nil && b.high == nil && !bounded {
		s.low = s.spaceLow(p.n)
		if exactArithmetic(f, s.low, a.low, b.low) {
			s.high, s.known = nil, s.bothKnown(p.n, a.known, b.known)
			return
		}
	}
	p.settleBlock(s, func(i int) (float64, float64) {
		al, ah := a.at(i)
		bl, bh := b.at(i)
		return bounds2(f, al, ah, bl, bh)
	})
}

// bothKnown are the rows in which two numbers are known; nil: all.
func (s *slot) bothKnown(n int, a, b []uint64) []uint64 {
	if a == nil {
		return b
	}
	if b == nil {
		return a
	}
	known := s.spaceKnown(n)
	for w := range known {
		known[w] = a[w] & b[w]
	}
	return known
}

func (p *plan) compare(f form, s *slot, a, b *numbers) {
	yes, no := s.spaceTruths(p.n)
	if a.high == nil && b.high == nil {
		if f == lessForm {
			lessEach(yes, a.low, b.low)
		} else {
			equalEach(yes, a.low, b.low)
		}
		p.divide(yes, no, a.known)
		if b.known != nil {
			for w, m := range b.known {
				yes[w] &= m
				no[w] &= m
			}
		}
		return
	}
	clear(yes)
	clear(no)
	for i := range p.n {
		al, ah := a.at(i)
		bl, bh := b.at(i)
		y, n := compare2(f, al, ah, bl, bh)
		if y {
			yes[i>>6] |= 1 << (i & 63)
		}
		if n {
			no[i>>6] |= 1 << (i & 63)
		}
	}
}

// divide makes truths of the outcome of a compare, where it is known; nil: everywhere.
func (p *plan) divide(yes, no, known []uint64) {
	no = no[:len(yes)]
	if known != nil {
		known = known[:len(yes)]
		for w, y := range yes {
			yes[w], no[w] = y&known[w], known[w]&^y
		}
		return
	}
	for w, y := range yes {
		no[w] = ^y
	}
	last := len(yes) - 1
	no[last] &= rowsOf(p.n, last)
}

func (p *plan) cond(st *step, s *slot) {
	q := st.p.truths
	if st.kind == Truths {
		a, b := st.x.truths, st.y.truths
		yes, no := s.spaceTruths(p.n)
		for w := range yes {
			yes[w] = q.yes[w]&a.yes[w] | q.no[w]&b.yes[w] | a.yes[w]&b.yes[w]
			no[w] = q.yes[w]&a.no[w] | q.no[w]&b.no[w] | a.no[w]&b.no[w]
		}
		return
	}
	a, b := &st.x.numbers, &st.y.numbers
	decided := true
	for w, yes := range q.yes {
		decided = decided && yes|q.no[w] == rowsOf(p.n, w)
	}
	if decided && a.high == nil && b.high == nil {
		s.low, s.high, s.known = s.spaceLow(p.n), nil, nil
		pick(s.low, q.yes, a.low, b.low)
		if a.known != nil || b.known != nil {
			s.known = s.spaceKnown(p.n)
			for w, yes := range q.yes {
				valid := rowsOf(p.n, w)
				s.known[w] = yes&a.exact(w, valid) | q.no[w]&b.exact(w, valid)
			}
		}
		return
	}
	p.settleBlock(s, func(i int) (float64, float64) {
		w, bit := i>>6, uint64(1)<<(i&63)
		switch {
		case q.yes[w]&bit != 0:
			return a.at(i)
		case q.no[w]&bit != 0:
			return b.at(i)
		}
		al, ah := a.at(i)
		bl, bh := b.at(i)
		return min(al, bl), max(ah, bh)
	})
}

// whole evaluates one node over the whole log.
func (p *plan) whole(id Node) *series {
	s := &series{}
	n := p.grid.n
	if p.nodes[id].kind == Truths {
		s.yes, s.no = make([]uint64, words(n)), make([]uint64, words(n))
		for from := 0; from < n; from += blockRows {
			p.load(from)
			copy(s.yes[from/64:], p.slots[id].yes)
			copy(s.no[from/64:], p.slots[id].no)
		}
		return s
	}
	s.low, s.known = make([]float64, n), make([]uint64, words(n))
	for from := 0; from < n; from += blockRows {
		p.load(from)
		x := &p.slots[id].numbers
		copy(s.low[from:], x.low)
		if x.high != nil && s.high == nil { // from here on bounds are needed
			s.high = make([]float64, n)
			for i := range from {
				s.low[i], s.high[i] = (&numbers{low: s.low, known: s.known}).at(i)
			}
		}
		if s.high != nil {
			for i := range p.n {
				s.low[from+i], s.high[from+i] = x.at(i)
			}
			continue
		}
		for w := range words(p.n) {
			s.known[from/64+w] = x.exact(w, rowsOf(p.n, w))
		}
	}
	if s.high != nil {
		s.known = nil
	}
	return s
}

func finite(x float64) bool { return !math.IsNaN(x - x) }
