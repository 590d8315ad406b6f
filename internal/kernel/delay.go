package kernel

import "math"

// delayed: what a number was d seconds ago.
type delayed struct {
	d    float64
	past history
	then int // the row that stood d seconds ago; -1: before the log
}

func (m *delayed) block(p *plan, x, out *slot) {
	m.past.add(&x.numbers, p.n)
	now := p.times()[:p.n]
	starts := p.grid.list()
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
	starts := p.grid.list()
	for i, t := range p.times()[:p.n] {
		if m.then = advance(starts, m.then, t, m.d); m.then < 0 {
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
