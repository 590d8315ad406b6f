package kernel

import "math"

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
	starts, begin0 := p.grid.list(), p.grid.start(0)
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
	starts, begin0, past, from := p.grid.list(), p.grid.start(0), m.past.low, m.past.from
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
