package kernel

// vague says that a column's readings are intervals in this plan.
func (p *plan) vague(v *view) bool { return !p.face && v.Within > 0 }

// vagueUnder says that one of a node's channels reads only within something.
func (g *grid) vagueUnder(n *node) bool {
	for _, name := range n.channels {
		if v := g.columns[name]; v != nil && v.Within > 0 {
			return true
		}
	}
	return false
}

// channel is a column in the rows its own samples stand in.
func (p *plan) channel(v *view, s *slot) {
	p.reading(v, s)
	if v == nil || len(v.Values) == 0 || !p.vague(v) {
		return
	}
	read, known := s.low, s.known // may be the column's own: not ours to change
	low, high := s.spaceLow(p.n), s.spaceHigh(p.n)
	for i, x := range read {
		low[i], high[i] = x-v.Within+0, x+v.Within+0
	}
	for w := range known {
		for m := rowsOf(p.n, w) &^ known[w]; m != 0; m &= m - 1 {
			i := w*64 + trailing(m)
			low[i], high[i] = minusInf, plusInf
		}
	}
	s.low, s.high, s.known = low, high, nil
}

// reading expands a column's own samples to the rows they stand in.
func (p *plan) reading(v *view, s *slot) {
	s.high, s.known = nil, nil
	if v == nil || len(v.Values) == 0 {
		s.low, s.known = s.spaceLow(p.n), s.spaceKnown(p.n)
		clear(s.low)
		clear(s.known)
		return
	}
	s.known = p.standing(v, s)
	if first, last := v.inBlock(p.from, p.n); last-first == p.n { // one in every row
		s.low = v.values(first, last, s)
		return
	}
	s.low = s.spaceLow(p.n)
	v.samples(p.from, p.n, func(k, from, to int) {
		x := v.Line.SI(v.Values[k])
		part := s.low[from:to]
		for i := range part {
			part[i] = x
		}
	})
}

// values are the own samples first <= k < last in SI, no more than a slot holds: the column's own, or in the
// slot's room.
func (v *view) values(first, last int, s *slot) []float64 {
	if v.Line.Scale == 0 {
		return v.Values[first:last]
	}
	s.low = s.spaceLow(last - first)
	v.Line.convert(s.low, v.Values[first:last])
	return s.low
}

// standing are the rows of the block in which a channel stands; nil: all.
func (p *plan) standing(v *view, s *slot) []uint64 {
	lapses := v.lapsesFrom(p.from)
	if v.Bad == nil && (len(lapses) == 0 || lapses[0].from >= p.from+p.n) {
		return nil
	}
	known := s.spaceKnown(p.n)
	for w := range known {
		known[w] = rowsOf(p.n, w)
	}
	if v.Bad != nil && v.rows == nil {
		any := uint64(0)
		for w, m := range v.Bad[p.from/64:][:len(known)] {
			known[w] &^= m
			any |= m
		}
		if any == 0 {
			return nil
		}
	} else if v.Bad != nil {
		v.samples(p.from, p.n, func(k, from, to int) {
			if v.bad(k) {
				clearBits(known, from, to)
			}
		})
	}
	for _, l := range lapses {
		if l.from >= p.from+p.n {
			break
		}
		clearBits(known, max(l.from-p.from, 0), min(l.to-p.from, p.n))
	}
	return known
}

// inBlock are the own samples first <= k < last that stand in n rows from a row on.
func (v *view) inBlock(from, n int) (first, last int) {
	if v.rows == nil {
		return from, from + n
	}
	first = max(v.standing(from), 0)
	return first, max(v.standing(from+n-1)+1, first+1)
}

// samples calls do for each own sample that stands in n rows from a row on, with those rows, counted from there.
func (v *view) samples(from, n int, do func(k, from, to int)) {
	at := 0
	for k := max(v.standing(from), 0); at < n; k++ {
		to := n
		if k+1 < len(v.rows) {
			to = min(n, int(v.rows[k+1])-from)
		}
		do(k, at, to)
		at = to
	}
}
