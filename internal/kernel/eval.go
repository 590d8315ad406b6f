package kernel

import (
	"math"
	"math/bits"
)

// plan evaluates a set of nodes over a grid, block by block.
type plan struct {
	grid     *grid
	nodes    []node
	slots    []*slot       // by node; nil where not in the plan
	steps    []step        // operands first
	limits   map[*view]int // how often a channel is compared with a number
	stateful bool          // some node looks at other rows
	from     int           // first row of the block at hand
	n        int           // rows in it
	times    []float64     // their starts, and where the last ends
	ending   []float64     // the times of the last block
}

// step computes one node of the block at hand.
type step struct {
	*node
	out     *slot
	x, y, p *slot  // operands: a, b, and the condition
	memory  memory // of a node that looks at other rows
	view    *view  // of a channel, or of the channel that is compared with limit
	limit   float64
	swapped bool // limit < channel
}

// series is a node over the whole log: those whose rows depend on one another are kept so.
type series struct {
	numbers
	truths
}

// newPlan orders what the wanted nodes need.
func newPlan(g *grid, nodes []node, wanted ...Node) *plan {
	p := &plan{grid: g, nodes: nodes, slots: make([]*slot, len(nodes)), limits: map[*view]int{}}
	for _, id := range wanted {
		p.include(id)
	}
	return p
}

func (p *plan) include(id Node) *slot {
	if id == NoNode {
		return nil
	}
	if s := p.slots[id]; s != nil {
		return s
	}
	n := &p.nodes[id]
	st := step{node: n, out: newSlot(p.grid)}
	if n.memory {
		p.stateful = true
		st.memory = newMemory(p, n)
	}
	switch {
	case n.form == slopeForm: // it reads its operand itself
	case n.form == channelForm:
		st.view = p.grid.columns[n.name]
	case st.limits(p):
	default:
		st.x, st.y, st.p = p.include(n.a), p.include(n.b), p.include(n.c)
	}
	p.slots[id] = st.out
	p.fixed(n, st.out)
	p.steps = append(p.steps, st)
	return st.out
}

// limits says whether a step compares a logged channel with a number, which is done on the
// channel's own samples.
func (st *step) limits(p *plan) bool {
	if st.form != lessForm && st.form != equalForm {
		return false
	}
	a, b := &p.nodes[st.a], &p.nodes[st.b]
	if b.form == channelForm {
		a, b, st.swapped = b, a, true
	}
	if a.form != channelForm || b.form != rangeForm || b.low != b.high {
		return false
	}
	v := p.grid.columns[a.name]
	if v == nil || len(v.Values) == 0 {
		return false
	}
	st.view, st.limit = v, b.low
	p.limits[v]++
	return true
}

// fixed fills what is the same in every block.
func (p *plan) fixed(n *node, s *slot) {
	switch n.form {
	case rangeForm:
		for i := range s.spaceLow(s.rows) {
			s.bufLow[i] = n.low
		}
		if n.low != n.high {
			for i := range s.spaceHigh(s.rows) {
				s.bufHigh[i] = n.high
			}
		}
	case truthForm, unsureForm:
		s.spaceTruths(s.rows)
	}
}

// seek evaluates the block that a row lies in, and before it, where that matters, those that come before.
func (p *plan) seek(row int) {
	from := row / blockRows * blockRows
	for next := p.from + p.n; p.stateful && next < from; next += blockRows {
		p.load(next)
	}
	p.load(from)
}

// load evaluates the block that starts at a row, a multiple of blockRows. Of a stateful plan, blocks come in order.
func (p *plan) load(from int) {
	p.from, p.n = from, min(blockRows, p.grid.n-from)
	if from+p.n < p.grid.n {
		p.times = p.grid.starts[from : from+p.n+1]
	} else {
		p.ending = append(append(p.ending[:0], p.grid.starts[from:]...), p.grid.end)
		p.times = p.ending
	}
	for i := range p.steps {
		p.eval(&p.steps[i])
	}
}

func (p *plan) eval(st *step) {
	s := st.out
	if st.memory != nil {
		st.memory.block(p, st.x, s)
		return
	}
	switch st.form {
	case channelForm:
		p.channel(st.view, s)
	case rangeForm:
		if s.low = s.bufLow[:p.n]; s.bufHigh != nil {
			s.high = s.bufHigh[:p.n]
		}
	case truthForm, unsureForm:
		yes, no := s.spaceTruths(p.n)
		if st.form == truthForm {
			fillTruth(yes, no, st.low == 1, p.n)
		}
	case addForm, subForm, mulForm, divForm, leastForm, greatestForm:
		p.arithmetic(st.form, s, &st.x.numbers, &st.y.numbers)
	case negForm, absForm:
		p.unary(st, s)
	case curveForm:
		p.curve(st, s)
	case lessForm, equalForm:
		if st.view != nil {
			p.limit(st, s)
		} else {
			p.compare(st.form, s, &st.x.numbers, &st.y.numbers)
		}
	case andForm, orForm:
		a, b := st.x.truths, st.y.truths
		yes, no := s.spaceTruths(p.n)
		if st.form == orForm {
			a.yes, a.no, b.yes, b.no, yes, no = a.no, a.yes, b.no, b.yes, no, yes
		}
		ayes, byes, ano, bno, no := a.yes[:len(yes)], b.yes[:len(yes)], a.no[:len(yes)], b.no[:len(yes)], no[:len(yes)]
		for w := range yes {
			yes[w], no[w] = ayes[w]&byes[w], ano[w]|bno[w]
		}
	case notForm:
		s.yes, s.no = st.x.no, st.x.yes
	case condForm:
		p.cond(st, s)
	}
}

// fillTruth makes a block true, or false.
func fillTruth(yes, no []uint64, holds bool, n int) {
	if !holds {
		yes, no = no, yes
	}
	for w := range yes {
		yes[w], no[w] = rowsOf(n, w), 0
	}
}

// channel expands a column's own samples to the rows they stand in.
func (p *plan) channel(v *view, s *slot) {
	s.high, s.known = nil, nil
	if v == nil || len(v.Values) == 0 {
		s.low, s.known = s.spaceLow(p.n), s.spaceKnown(p.n)
		clear(s.low)
		clear(s.known)
		return
	}
	s.known = p.standing(v, s)
	if v.rows == nil {
		s.low = v.Values[p.from : p.from+p.n]
		return
	}
	s.low = s.spaceLow(p.n)
	v.samples(p.from, p.n, func(k, from, to int) {
		x := v.Values[k]
		part := s.low[from:to]
		for i := range part {
			part[i] = x
		}
	})
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
