package kernel

// slope: the rate of change between own samples. It reads its operand ahead of the plan it is part of, for the
// sample that follows.
type slope struct {
	ahead   *plan
	face    *plan // the operand with readings at their face, for what was seen; nil where none may be off
	operand Node
	next    int      // first row not yet read
	queue   []sample // the sample before the one that stands, that one, and those that follow
	at      int      // in the queue: the sample that stands; -1 before the first
	known   []uint64 // rows in which the operand is known, from row from on
	from    int
	plain   bool    // so far every row had a sample that is known; then there is no queue
	last    float64 // number, of the last block
}

type sample struct {
	row       int
	low, high float64
	known     bool
	stood     bool // it was known until this sample came
}

func newSlope(p *plan, operand Node) *slope {
	m := &slope{ahead: newPlan(p.grid, p.nodes, operand), operand: operand, at: -1, plain: true}
	m.ahead.face = p.face
	if !p.face && p.grid.vagueUnder(&p.nodes[operand]) {
		m.face, m.plain = newFacePlan(p.grid, p.nodes, operand), false
	}
	for _, name := range p.nodes[operand].channels {
		v := p.grid.columns[name]
		m.plain = m.plain && v != nil && v.rows == nil
	}
	return m
}

// plainBlock is a block in which every row and the row before have a sample that is known. It is false where
// that is not so; then the block has been read into the queue.
func (m *slope) plainBlock(p *plan, out *slot) bool {
	m.ahead.load(p.from)
	x := &m.ahead.slots[m.operand].numbers
	m.plain = x.high == nil && x.known == nil && (p.from > 0 || p.n > 1)
	if m.plain {
		out.low, out.high, out.known = out.spaceLow(p.n), nil, nil
		times, low := p.times()[:p.n], x.low[:p.n]
		before, then := low[0], times[0]-1 // the first sample of a log has none before it
		if p.from > 0 {
			before, then = m.last, p.grid.start(p.from-1)
		}
		var flag uint64
		for i, y := range low {
			t := times[i]
			r := (y-before)/(t-then) + 0
			out.low[i] = r
			flag |= wild(r)
			before, then = y, t
		}
		if p.from == 0 {
			out.low[0] = out.low[1]
		}
		m.plain = flag&wildBit == 0
	}
	if m.plain {
		m.last, m.next = x.low[p.n-1], p.from+p.n
		return true
	}
	if p.from > 0 { // every row until here was plain
		m.queue = []sample{{row: p.from - 1, low: m.last, high: m.last, known: true, stood: true}}
		m.known, m.from, m.at = []uint64{^uint64(0)}, p.from-64, 0
	}
	m.next = p.from
	m.take()
	return false
}

// read takes in one more block of the operand.
func (m *slope) read() {
	m.ahead.load(m.next)
	m.take()
}

// take queues the samples of the block just loaded.
func (m *slope) take() {
	p := m.ahead
	x := &p.slots[m.operand].numbers
	seen := x
	if m.face != nil {
		m.face.load(p.from)
		seen = &m.face.slots[m.operand].numbers
	}
	own := make([]uint64, words(p.n))
	p.grid.ownRows(&p.nodes[m.operand], own, p.from, p.n)
	for w, rows := range own {
		valid := rowsOf(p.n, w)
		before := uint64(0) // whether the row before the word was known
		if len(m.known) > 0 {
			before = m.known[len(m.known)-1] >> 63
		}
		known := seen.exact(w, valid)
		stood := known<<1 | before
		for ; rows != 0; rows &= rows - 1 {
			i := trailing(rows)
			low, high := 0.0, 0.0
			if known>>i&1 != 0 {
				low, high = x.at(w*64 + i)
			}
			m.queue = append(m.queue, sample{row: p.from + w*64 + i, low: low, high: high, known: known>>i&1 != 0, stood: stood>>i&1 != 0})
		}
		m.known = append(m.known, known)
	}
	m.next += p.n
}

// rate of change from one sample to the next.
func (m *slope) rate(a, b *sample) (low, high float64, ok bool) {
	dt := m.ahead.grid.start(b.row) - m.ahead.grid.start(a.row)
	low, high = (b.low-a.high)/dt+0, (b.high-a.low)/dt+0
	return low, high, a.known && b.known && b.stood && finite(low) && finite(high)
}

func (m *slope) block(p *plan, _, out *slot) {
	if m.plain && m.plainBlock(p, out) {
		return
	}
	end := p.from + p.n
	for m.next < p.grid.n && (m.next < end || len(m.queue) == 0 || m.queue[len(m.queue)-1].row < end) {
		m.read()
	}
	out.low, out.high, out.known = out.spaceLow(p.n), nil, out.spaceKnown(p.n)
	clear(out.known)
	var most []float64 // where samples may be off: the greatest slopes
	if m.face != nil {
		most = out.spaceHigh(p.n)
	}
	for row := p.from; row < end; {
		to := end // where the next sample comes
		for m.at+1 < len(m.queue) && m.queue[m.at+1].row <= row {
			m.at++
		}
		if m.at+1 < len(m.queue) {
			to = min(end, m.queue[m.at+1].row)
		}
		r, high, ok := 0.0, 0.0, false
		if m.at > 0 {
			r, high, ok = m.rate(&m.queue[m.at-1], &m.queue[m.at])
		}
		if !ok && m.at >= 0 && m.at+1 < len(m.queue) {
			r, high, ok = m.rate(&m.queue[m.at], &m.queue[m.at+1])
		}
		if !ok {
			r, high = 0, 0
		}
		for i := row; i < to; i++ {
			out.low[i-p.from] = r
			if most != nil {
				most[i-p.from] = high
			}
		}
		if ok {
			setBits(out.known, row-p.from, to-p.from)
		}
		row = to
	}
	first := (p.from - m.from) / 64
	all := true
	for w := range out.known {
		out.known[w] &= m.known[first+w]
		all = all && out.known[w] == rowsOf(p.n, w)
	}
	switch {
	case most != nil:
		for w, known := range out.known {
			for u := rowsOf(p.n, w) &^ known; u != 0; u &= u - 1 {
				i := w*64 + trailing(u)
				out.low[i], most[i] = minusInf, plusInf
			}
		}
		out.high, out.known = most, nil
	case all:
		out.known = nil
	}
	if drop := m.at - 1; drop > 0 {
		m.queue = m.queue[:copy(m.queue, m.queue[drop:])]
		m.at -= drop
	}
	if m.from+blockRows <= p.from { // the last word stays, for what follows it
		drop := (p.from - m.from) / 64
		m.known = m.known[:copy(m.known, m.known[drop:])]
		m.from = p.from
	}
}
