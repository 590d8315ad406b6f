package kernel

import "math/bits"

// spells follows the unbroken spells of a mask. Where a spell begins and ends is known to one
// period: it may have begun up to one before its first row, but not before the log, and
// ended up to one before the row after its last.
type spells struct {
	period float64
	end    float64 // of the spell before, or where the log begins
	open   bool
	start  float64
	first  float64 // start of the first spell; valid once any
	any    bool
	least  total   // seconds of all, at the least
	most   total   // and at the most
	long   float64 // the longest so far, as sampled
	longer float64 // the longest that one may have been
	at     float64 // where the longest starts
	began  float64 // where the log does
}

func newSpells(period, began float64) spells {
	return spells{period: period, began: began, end: began}
}

// word takes rows from <= row of a grid.
func (s *spells) word(g *grid, from int, m, valid uint64) {
	if !s.open && m == 0 || s.open && m == valid {
		return
	}
	before := uint64(0)
	if s.open {
		before = 1
	}
	for turns := (m ^ (m<<1 | before)) & valid; turns != 0; turns &= turns - 1 {
		t := g.start(from + bits.TrailingZeros64(turns))
		if s.open {
			s.close(t)
			continue
		}
		s.open, s.start = true, t
		if !s.any {
			s.any, s.first = true, t
		}
	}
}

func (s *spells) close(end float64) {
	s.open = false
	d := end - s.start
	s.least.add(max(0, d-s.period))
	s.most.add(d + min(s.period, s.start-s.end))
	if d > s.long {
		s.long, s.at = d, s.start
	}
	s.longer = max(s.longer, d+min(s.period, s.start-s.began))
	s.end = end
}

// spellFold follows the spells in which p is true, and those in which it may be: the same
// until p is first unknown.
type spellFold struct {
	sure, possible spells
	parted         bool
	end            float64
}

func (f *spellFold) block(in *input) {
	for w, yes := range in.x.yes {
		valid := rowsOf(in.n, w)
		maybe := valid &^ in.x.no[w]
		if maybe != yes {
			if !f.parted {
				f.parted, f.possible = true, f.sure
			}
			in.open[0].add(in.from/64+w, maybe&^yes)
		}
		f.sure.word(in.plan.grid, in.from+w*64, yes, valid)
		if f.parted {
			f.possible.word(in.plan.grid, in.from+w*64, maybe, valid)
		}
	}
	f.end = in.time(in.n)
}

func (f *spellFold) done() bool { return false }

func (f *spellFold) finish() {
	if f.sure.open {
		f.sure.close(f.end)
	}
	if !f.parted {
		f.possible = f.sure
	} else if f.possible.open {
		f.possible.close(f.end)
	}
}

// totalFold: seconds for which p is true.
type totalFold struct {
	spellFold
	at float64
}

func (f *totalFold) answer() Answer {
	f.finish()
	a := Answer{Low: f.sure.least.value(), High: f.possible.most.value(), At: nowhere}
	if f.sure.any {
		a.At = f.sure.first
	} else if f.possible.any {
		a.At = f.possible.first
	}
	return a
}

// longestFold: seconds of the longest unbroken spell of p.
type longestFold struct{ spellFold }

func newSpellFold(g *grid, n *node) spellFold {
	period := g.longest(n.channels)
	if g.asSampled {
		period = 0
	}
	return spellFold{sure: newSpells(period, g.start(0))}
}

func (f *longestFold) answer() Answer {
	f.finish()
	a := Answer{Low: max(0, f.sure.long-f.sure.period), High: f.possible.longer, At: nowhere}
	if f.sure.long > 0 {
		a.At = f.sure.at
	} else if f.possible.long > 0 {
		a.At = f.possible.at
	}
	return a
}
