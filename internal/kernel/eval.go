package kernel

import (
	"math"
	"math/bits"
)

// plan evaluates a set of nodes over a grid, block by block.
type plan struct {
	grid   *grid
	nodes  []node
	order  []Node  // operands first
	slots  []*slot // by node; nil where not in the plan
	series map[Node]*series
	from   int // first row of the block at hand
	n      int // rows in it
}

// series is a node over the whole log: those whose rows depend on one another are kept so.
type series struct {
	numbers
	truths
}

// newPlan orders what the wanted nodes need. The operands of a node with memory are not among it: its series must be there.
func newPlan(g *grid, nodes []node, all map[Node]*series, wanted ...Node) *plan {
	p := &plan{grid: g, nodes: nodes, slots: make([]*slot, len(nodes)), series: all}
	var visit func(id Node)
	visit = func(id Node) {
		if id == NoNode || p.slots[id] != nil {
			return
		}
		n := &nodes[id]
		if all[id] == nil {
			visit(n.a)
			visit(n.b)
			visit(n.c)
		}
		p.slots[id] = &slot{}
		p.order = append(p.order, id)
	}
	for _, id := range wanted {
		visit(id)
	}
	return p
}

// load evaluates the block that starts at a row, a multiple of blockRows.
func (p *plan) load(from int) {
	p.from, p.n = from, min(blockRows, p.grid.n-from)
	for _, id := range p.order {
		p.eval(id)
	}
}

func (p *plan) eval(id Node) {
	n, s := &p.nodes[id], p.slots[id]
	if whole := p.series[id]; whole != nil {
		s.slice(whole, p.from, p.n)
		return
	}
	switch n.form {
	case channelForm:
		p.channel(n.name, s)
	case rangeForm:
		p.constant(n, s)
	case truthForm, unsureForm:
		yes, no := s.spaceTruths(p.n)
		for w := range yes {
			yes[w], no[w] = 0, 0
			if n.form == truthForm && n.low == 1 {
				yes[w] = rowsOf(p.n, w)
			} else if n.form == truthForm {
				no[w] = rowsOf(p.n, w)
			}
		}
	case addForm, subForm, mulForm, divForm, leastForm, greatestForm:
		p.arithmetic(n.form, s, &p.slots[n.a].numbers, &p.slots[n.b].numbers)
	case negForm, absForm:
		p.each(s, &p.slots[n.a].numbers, func(low, high float64) (float64, float64) { return bounds1(n.form, low, high) })
	case curveForm:
		p.each(s, &p.slots[n.a].numbers, func(low, high float64) (float64, float64) { return curveBounds(n.curve, low, high) })
	case lessForm, equalForm:
		p.compare(n.form, s, &p.slots[n.a].numbers, &p.slots[n.b].numbers)
	case andForm, orForm:
		a, b := p.slots[n.a].truths, p.slots[n.b].truths
		yes, no := s.spaceTruths(p.n)
		if n.form == andForm {
			for w := range yes {
				yes[w], no[w] = a.yes[w]&b.yes[w], a.no[w]|b.no[w]
			}
		} else {
			for w := range yes {
				yes[w], no[w] = a.yes[w]|b.yes[w], a.no[w]&b.no[w]
			}
		}
	case notForm:
		s.yes, s.no = p.slots[n.a].no, p.slots[n.a].yes
	case condForm:
		p.cond(n, s)
	default:
		panic("kernel: a node with memory was not prepared")
	}
}

// slice is the part of a whole series that is the block at hand.
func (s *slot) slice(whole *series, from, n int) {
	if whole.yes != nil {
		s.yes, s.no = whole.yes[from/64:from/64+words(n)], whole.no[from/64:from/64+words(n)]
		return
	}
	s.low, s.high, s.known = whole.low[from:from+n], nil, nil
	if whole.high != nil {
		s.high = whole.high[from : from+n]
	}
	if whole.known != nil {
		s.known = whole.known[from/64 : from/64+words(n)]
	}
}

func (p *plan) constant(n *node, s *slot) {
	s.low = s.spaceLow(p.n)
	s.high, s.known = nil, nil
	for i := range s.low {
		s.low[i] = n.low
	}
	if n.low != n.high {
		s.high = s.spaceHigh(p.n)
		for i := range s.high {
			s.high[i] = n.high
		}
	}
}

// channel expands a column's own samples to the rows they stand in.
func (p *plan) channel(name string, s *slot) {
	v := p.grid.columns[name]
	s.high, s.known = nil, nil
	if v == nil || len(v.Values) == 0 {
		s.low, s.known = s.spaceLow(p.n), s.spaceKnown(p.n)
		clear(s.low)
		clear(s.known)
		return
	}
	if v.rows == nil {
		s.low = v.Values[p.from : p.from+p.n]
		if v.Bad != nil {
			s.known = s.spaceKnown(p.n)
			for w := range s.known {
				s.known[w] = rowsOf(p.n, w) &^ v.Bad[p.from/64+w]
			}
		}
		return
	}
	s.low = s.spaceLow(p.n)
	need := v.Bad != nil || len(v.lapses) > 0
	if need {
		s.known = s.spaceKnown(p.n)
		for w := range s.known {
			s.known[w] = rowsOf(p.n, w)
		}
	}
	end := p.from + p.n
	row := p.from
	for k := max(v.standing(row), 0); row < end; k++ {
		to := end
		if k+1 < len(v.rows) {
			to = min(end, int(v.rows[k+1]))
		}
		x := v.Values[k]
		part := s.low[row-p.from : to-p.from]
		for i := range part {
			part[i] = x
		}
		if need && v.bad(k) {
			clearBits(s.known, row-p.from, to-p.from)
		}
		row = to
	}
	if need {
		p.lapse(v, s.known)
	}
}

// lapse clears the rows of the block where nothing stands.
func (p *plan) lapse(v *view, known []uint64) {
	end := p.from + p.n
	for _, l := range v.lapsesFrom(p.from) {
		if l.from >= end {
			break
		}
		clearBits(known, max(l.from, p.from)-p.from, min(l.to, end)-p.from)
	}
}

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

func (p *plan) each(s *slot, a *numbers, f func(low, high float64) (float64, float64)) {
	p.settleBlock(s, func(i int) (float64, float64) { return f(a.at(i)) })
}

func (p *plan) arithmetic(f form, s *slot, a, b *numbers) {
	p.settleBlock(s, func(i int) (float64, float64) {
		al, ah := a.at(i)
		bl, bh := b.at(i)
		return bounds2(f, al, ah, bl, bh)
	})
}

func (p *plan) compare(f form, s *slot, a, b *numbers) {
	yes, no := s.spaceTruths(p.n)
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

func (p *plan) cond(n *node, s *slot) {
	q := p.slots[n.c].truths
	if n.kind == Truths {
		a, b := p.slots[n.a].truths, p.slots[n.b].truths
		yes, no := s.spaceTruths(p.n)
		for w := range yes {
			yes[w] = q.yes[w]&a.yes[w] | q.no[w]&b.yes[w] | a.yes[w]&b.yes[w]
			no[w] = q.yes[w]&a.no[w] | q.no[w]&b.no[w] | a.no[w]&b.no[w]
		}
		return
	}
	a, b := &p.slots[n.a].numbers, &p.slots[n.b].numbers
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

// slim drops the upper bounds where every row is exact or unbounded.
func (s *series) slim() {
	for i, low := range s.low {
		if low != s.high[i] && (low != minusInf || s.high[i] != plusInf) {
			return
		}
	}
	s.known = make([]uint64, words(len(s.low)))
	for i, low := range s.low {
		if low == s.high[i] {
			setBit(s.known, i)
		} else {
			s.low[i] = 0
		}
	}
	s.high = nil
}

func finite(x float64) bool { return !math.IsNaN(x - x) }
