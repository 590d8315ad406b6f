package kernel

import "math"

// A memory is what a node that looks at other rows carries from block to block. Blocks must
// come in order, from the first.
type memory interface {
	block(p *plan, x, out *slot)
}

func newMemory(p *plan, n *node) memory {
	switch n.form {
	case slopeForm:
		return newSlope(p, n.a)
	case delayForm:
		if n.kind == Truths {
			return &delayedTruth{d: n.low, then: -1}
		}
		return &delayed{d: n.low, then: -1}
	case smoothForm:
		return &smooth{d: n.low}
	case heldForm:
		return &held{d: n.low}
	default: // sinceForm
		return &since{sure: minusInf, possible: p.grid.starts[0]}
	}
}

// history is the rows of a number that a memory still needs.
type history struct {
	from      int // first row kept
	low, high []float64
	bounded   bool // high differs from low somewhere; else high is not kept
}

func (h *history) add(x *numbers, n int) {
	if !h.bounded && x.high == nil && x.known == nil {
		h.low = append(h.low, x.low...)
		return
	}
	if !h.bounded {
		h.bounded = true
		h.high = append(h.high[:0], h.low...)
	}
	for i := range n {
		low, high := x.at(i)
		h.low, h.high = append(h.low, low), append(h.high, high)
	}
}

// forget drops the rows before one, now and then.
func (h *history) forget(row int) {
	drop := row - h.from
	if drop < blockRows {
		return
	}
	h.low = h.low[:copy(h.low, h.low[drop:])]
	if h.bounded {
		h.high = h.high[:copy(h.high, h.high[drop:])]
	}
	h.from = row
}

func (h *history) at(row int) (low, high float64) {
	low = h.low[row-h.from]
	if h.bounded {
		return low, h.high[row-h.from]
	}
	return low, low
}

// delayed: what a number was d seconds ago.
type delayed struct {
	d    float64
	past history
	then int // the row that stood d seconds ago; -1: before the log
}

func (m *delayed) block(p *plan, x, out *slot) {
	m.past.add(&x.numbers, p.n)
	now := p.times[:p.n]
	starts := p.grid.starts
	out.low, out.high, out.known = out.spaceLow(p.n), nil, nil
	if m.past.bounded || m.then < 0 {
		p.settleBlock(out, func(i int) (float64, float64) {
			if m.then = advance(starts, m.then, now[i], m.d); m.then < 0 {
				return minusInf, plusInf
			}
			return m.past.at(m.then)
		})
	} else {
		then, low, from := m.then, m.past.low, m.past.from
		for i, t := range now {
			then = advance(starts, then, t, m.d)
			out.low[i] = low[then-from]
		}
		m.then = then
	}
	m.past.forget(max(m.then, 0))
}

// advance is the last row that had begun d seconds before a time, not before the given row.
func advance(starts []float64, row int, t, d float64) int {
	t += slack*max(1, math.Abs(t)) - d
	for row+1 < len(starts) && starts[row+1] <= t {
		row++
	}
	return row
}

// delayedTruth: what a truth was d seconds ago.
type delayedTruth struct {
	d       float64
	from    int // first row kept, a multiple of 64
	yes, no []uint64
	then    int
}

func (m *delayedTruth) block(p *plan, x, out *slot) {
	m.yes, m.no = append(m.yes, x.yes...), append(m.no, x.no...)
	yes, no := out.spaceTruths(p.n)
	clear(yes)
	clear(no)
	for i, t := range p.times[:p.n] {
		if m.then = advance(p.grid.starts, m.then, t, m.d); m.then < 0 {
			continue
		}
		k := m.then - m.from
		yes[i>>6] |= m.yes[k>>6] >> (k & 63) & 1 << (i & 63)
		no[i>>6] |= m.no[k>>6] >> (k & 63) & 1 << (i & 63)
	}
	if drop := (m.then - m.from) / 64; drop >= blockWords {
		m.yes, m.no = m.yes[:copy(m.yes, m.yes[drop:])], m.no[:copy(m.no, m.no[drop:])]
		m.from += drop * 64
	}
}

// window is a running sum of value times seconds over the rows of a trailing window.
type window struct {
	sum      total
	infinite int // rows without a bound
}

func (w *window) add(x, dt float64) {
	if math.IsInf(x, 0) {
		w.infinite++
	} else {
		w.sum.add(x * dt)
	}
}

func (w *window) drop(x, dt float64) {
	if math.IsInf(x, 0) {
		w.infinite--
	} else {
		w.sum.add(-x * dt)
	}
}

// mean takes away the part of the first row that lies before the window.
func (w *window) mean(edge, cut, length, unbounded float64) float64 {
	if w.infinite > 0 {
		return unbounded
	}
	s := w.sum
	s.add(-edge * cut)
	return s.value()/length + 0
}

// smooth: the mean over the d seconds before a row, or what the log has of them.
type smooth struct {
	d         float64
	past      history
	low, high window // high is kept once the history is bounded
	first     int    // oldest row that reaches into the window
	steady    int    // since this row x has had the same bounds
}

func (m *smooth) block(p *plan, x, out *slot) {
	was := m.past.bounded
	m.past.add(&x.numbers, p.n)
	if m.past.bounded && !was {
		m.high = m.low
	}
	if !m.past.bounded && m.exact(p, out) {
		m.past.forget(min(m.first, p.from+p.n-2))
		return
	}
	starts, begin0 := p.grid.starts, p.grid.starts[0]
	p.settleBlock(out, func(k int) (float64, float64) {
		i := p.from + k
		if i == 0 {
			return m.past.at(0)
		}
		pl, ph := m.past.at(i - 1)
		dt := starts[i] - starts[i-1]
		m.low.add(pl, dt)
		m.high.add(ph, dt)
		if i > 1 {
			if bl, bh := m.past.at(i - 2); bl != pl || bh != ph {
				m.steady = i - 1
			}
		}
		begin := max(starts[i]-m.d, begin0)
		for m.first+1 <= i && starts[m.first+1] <= begin {
			ol, oh := m.past.at(m.first)
			odt := starts[m.first+1] - starts[m.first]
			m.low.drop(ol, odt)
			m.high.drop(oh, odt)
			m.first++
		}
		if m.steady <= m.first { // exactly, without rounding
			return pl, ph
		}
		fl, fh := m.past.at(m.first)
		cut, length := begin-starts[m.first], starts[i]-begin
		return settle(m.low.mean(fl, cut, length, minusInf), m.high.mean(fh, cut, length, plusInf))
	})
	m.past.forget(max(0, min(m.first, p.from+p.n-2)))
}

// exact is the same where every row is exact; false if a mean was too large a number, and nothing is done.
func (m *smooth) exact(p *plan, out *slot) bool {
	starts, begin0, past, from := p.grid.starts, p.grid.starts[0], m.past.low, m.past.from
	out.low, out.high, out.known = out.spaceLow(p.n), nil, nil
	sum, first, steady := m.low.sum, m.first, m.steady
	var flag uint64
	for k := range out.low {
		i := p.from + k
		if i == 0 {
			out.low[0] = past[0]
			continue
		}
		now, x := starts[i], past[i-1-from]
		sum.add(x * (now - starts[i-1]))
		if i > 1 && past[i-2-from] != x {
			steady = i - 1
		}
		begin := now - m.d
		if begin < begin0 {
			begin = begin0
		}
		for first < i && starts[first+1] <= begin {
			sum.add(-past[first-from] * (starts[first+1] - starts[first]))
			first++
		}
		if steady > first {
			w := window{sum: sum}
			x = w.mean(past[first-from], begin-starts[first], now-begin, minusInf)
		}
		out.low[k] = x
		flag |= wild(x)
	}
	if flag&wildBit == 0 {
		m.low.sum, m.first, m.steady = sum, first, steady
		return true
	}
	m.past.bounded = true
	m.past.high = append(m.past.high[:0], m.past.low...)
	m.high = m.low
	return false
}

// held: true without a break for d seconds.
type held struct {
	d              float64
	sure, possible spell
}

// spell is an unbroken run of rows that may still go on.
type spell struct {
	open  bool
	start float64
}

// long marks the rows of a word whose spell has lasted for d seconds. times are those of its rows, and one more.
func (s *spell) long(times []float64, m uint64, d float64) (out uint64) {
	rows := len(times) - 1
	for at := 0; at < rows; {
		if m>>at&1 == 0 {
			s.open = false
			at += min(trailing(m>>at), 64-at)
			continue
		}
		if !s.open {
			s.open, s.start = true, times[at]
		}
		to := min(at+trailing(^(m>>at)), rows) // where the run of rows ends
		for at < to && times[at]-s.start < d-slack*max(1, math.Abs(times[at])) {
			at++
		}
		if at < to {
			out |= ^uint64(0) << at & (^uint64(0) >> (64 - to))
			at = to
		}
	}
	return out
}

func (m *held) block(p *plan, x, out *slot) {
	yes, no := out.spaceTruths(p.n)
	for w, sure := range x.yes {
		valid := rowsOf(p.n, w)
		possible := valid &^ x.no[w]
		times := p.times[w*64 : min(w*64+64, p.n)+1]
		same := sure == possible && m.sure == m.possible
		yes[w] = m.sure.long(times, sure, m.d)
		if same {
			m.possible = m.sure
			no[w] = valid &^ yes[w]
		} else {
			no[w] = valid &^ m.possible.long(times, possible, m.d)
		}
	}
}

// since: seconds since a truth last held.
type since struct {
	sure, possible float64 // when it last did, surely (or -Inf), and at the latest
}

func (m *since) block(p *plan, x, out *slot) {
	if m.sure == m.possible && m.exact(p, x, out) {
		return
	}
	p.settleBlock(out, func(i int) (float64, float64) {
		w, bit := i>>6, uint64(1)<<(i&63)
		t := p.times[i]
		switch {
		case x.yes[w]&bit != 0:
			m.sure, m.possible = p.times[i+1], p.times[i+1]
			return 0, 0
		case x.no[w]&bit == 0:
			m.possible = p.times[i+1]
			return 0, t - m.sure
		}
		return t - m.possible, t - m.sure
	})
}

// exact is the same where every row is known and it has been true before; false if some row is not.
func (m *since) exact(p *plan, x, out *slot) bool {
	for w, yes := range x.yes {
		if yes|x.no[w] != rowsOf(p.n, w) {
			return false
		}
	}
	out.low, out.high, out.known = out.spaceLow(p.n), nil, nil
	last := m.sure
	for w, yes := range x.yes {
		part := out.low[w*64 : min(w*64+64, p.n)]
		times := p.times[w*64:][:len(part)+1]
		if yes == 0 {
			for i := range part {
				part[i] = times[i] - last
			}
			continue
		}
		for i := range part {
			if part[i] = times[i] - last; yes>>i&1 != 0 {
				part[i], last = 0, times[i+1]
			}
		}
	}
	m.sure, m.possible = last, last
	return true
}

// slope: the rate of change between own samples. It reads its operand ahead of the plan it is part of, for the
// sample that follows.
type slope struct {
	ahead   *plan
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
	row   int
	x     float64
	known bool
	stood bool // x was known until this sample came
}

func newSlope(p *plan, operand Node) *slope {
	m := &slope{ahead: newPlan(p.grid, p.nodes, operand), operand: operand, at: -1, plain: true}
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
		times, low := p.times[:p.n], x.low[:p.n]
		before, then := low[0], times[0]-1 // the first sample of a log has none before it
		if p.from > 0 {
			before, then = m.last, p.grid.starts[p.from-1]
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
		m.queue = []sample{{row: p.from - 1, x: m.last, known: true, stood: true}}
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
	own := make([]uint64, words(p.n))
	p.grid.ownRows(&p.nodes[m.operand], own, p.from, p.n)
	for w, rows := range own {
		valid := rowsOf(p.n, w)
		before := uint64(0) // whether the row before the word was known
		if len(m.known) > 0 {
			before = m.known[len(m.known)-1] >> 63
		}
		known := x.exact(w, valid)
		stood := known<<1 | before
		for ; rows != 0; rows &= rows - 1 {
			i := trailing(rows)
			low := 0.0
			if known>>i&1 != 0 {
				low = x.low[w*64+i]
			}
			m.queue = append(m.queue, sample{row: p.from + w*64 + i, x: low, known: known>>i&1 != 0, stood: stood>>i&1 != 0})
		}
		m.known = append(m.known, known)
	}
	m.next += p.n
}

// rate of change from one sample to the next.
func (m *slope) rate(a, b *sample) (float64, bool) {
	starts := m.ahead.grid.starts
	r := (b.x-a.x)/(starts[b.row]-starts[a.row]) + 0
	return r, a.known && b.known && b.stood && finite(r)
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
	for row := p.from; row < end; {
		to := end // where the next sample comes
		for m.at+1 < len(m.queue) && m.queue[m.at+1].row <= row {
			m.at++
		}
		if m.at+1 < len(m.queue) {
			to = min(end, m.queue[m.at+1].row)
		}
		r, ok := 0.0, false
		if m.at > 0 {
			r, ok = m.rate(&m.queue[m.at-1], &m.queue[m.at])
		}
		if !ok && m.at >= 0 && m.at+1 < len(m.queue) {
			r, ok = m.rate(&m.queue[m.at], &m.queue[m.at+1])
		}
		if !ok {
			r = 0
		}
		for i := row; i < to; i++ {
			out.low[i-p.from] = r
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
	if all {
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
