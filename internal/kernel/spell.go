package kernel

import "math"

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
	all := p.times()
	for w, sure := range x.yes {
		valid := rowsOf(p.n, w)
		possible := valid &^ x.no[w]
		times := all[w*64 : min(w*64+64, p.n)+1]
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
	times := p.times()
	p.settleBlock(out, func(i int) (float64, float64) {
		w, bit := i>>6, uint64(1)<<(i&63)
		t := times[i]
		switch {
		case x.yes[w]&bit != 0:
			m.sure, m.possible = times[i+1], times[i+1]
			return 0, 0
		case x.no[w]&bit == 0:
			m.possible = times[i+1]
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
	last, all := m.sure, p.times()
	for w, yes := range x.yes {
		part := out.low[w*64 : min(w*64+64, p.n)]
		times := all[w*64:][:len(part)+1]
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
