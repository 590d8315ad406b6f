package kernel

import (
	"math"
	"math/bits"
)

// alwaysFold: in every row, the filter does not hold or p is true.
type alwaysFold struct {
	failed, open      bool
	filtered          bool
	exercised, mayRun bool // the filter was true; may have been true
	at                float64
	idle              leaning // rows where the filter may hold, and p is true if it does
	leans             [2]*leaning
}

func (f *alwaysFold) block(in *input) {
	f.leans = in.open
	for w := range in.x.yes {
		yes, maybe := in.filter(w)
		f.exercised = f.exercised || yes != 0
		f.mayRun = f.mayRun || maybe != 0
		if bad := in.x.no[w] & yes; bad != 0 {
			f.failed = true
			f.at = in.times[w*64+trailing(bad)]
			return
		}
		unknown := rowsOf(in.n, w) &^ (in.x.yes[w] | in.x.no[w])
		f.open = f.open || unknown&(yes|maybe)|in.x.no[w]&maybe != 0
		in.open[0].add(in.from/64+w, unknown&(yes|maybe))
		in.open[1].add(in.from/64+w, maybe&^in.x.yes[w])
		f.idle.n = in.open[1].n
		f.idle.add(in.from/64+w, maybe&in.x.yes[w])
	}
}

func (f *alwaysFold) done() bool { return f.failed }

func (f *alwaysFold) answer() Answer {
	a := Answer{
		Low: truthOf(!f.failed && !f.open), High: truthOf(!f.failed), At: f.at,
		Empty:      f.filtered && !f.exercised && !f.mayRun,
		MaybeEmpty: f.filtered && !f.exercised && f.mayRun,
	}
	switch {
	case f.failed:
		f.leans[0].rows, f.leans[1].rows = nil, nil
	case a.MaybeEmpty:
		for w, m := range f.idle.rows {
			f.leans[1].add(w, m)
		}
	}
	return a
}

// everFold: in some row, p is true.
type everFold struct {
	found, open bool
	at          float64
	leans       *leaning
}

func (f *everFold) block(in *input) {
	f.leans = in.open[0]
	for w, yes := range in.x.yes {
		if yes != 0 {
			f.found = true
			f.at = in.times[w*64+trailing(yes)]
			return
		}
		unknown := rowsOf(in.n, w) &^ in.x.no[w]
		f.open = f.open || unknown != 0
		in.open[0].add(in.from/64+w, unknown)
	}
}

func (f *everFold) done() bool { return f.found }

func (f *everFold) answer() Answer {
	if f.found {
		f.leans.rows = nil
	}
	return Answer{Low: truthOf(f.found), High: truthOf(f.found || f.open), At: f.at}
}

// spells follows the unbroken spells of a mask.
type spells struct {
	open  bool
	start float64
	first float64 // start of the first spell; valid once any
	any   bool
	sum   total
	long  float64 // the longest so far
	at    float64 // and its start
}

func (s *spells) word(times []float64, base int, m, valid uint64) {
	if !s.open && m == 0 || s.open && m == valid {
		return
	}
	before := uint64(0)
	if s.open {
		before = 1
	}
	for turns := (m ^ (m<<1 | before)) & valid; turns != 0; turns &= turns - 1 {
		t := times[base+bits.TrailingZeros64(turns)]
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
	s.sum.add(end - s.start)
	if d := end - s.start; d > s.long {
		s.long, s.at = d, s.start
	}
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
		f.sure.word(in.times, w*64, yes, valid)
		if f.parted {
			f.possible.word(in.times, w*64, maybe, valid)
		}
	}
	f.end = in.times[in.n]
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
	a := Answer{Low: f.sure.sum.value(), High: f.possible.sum.value(), At: nowhere}
	if f.sure.any {
		a.At = f.sure.first
	} else if f.possible.any {
		a.At = f.possible.first
	}
	return a
}

// longestFold: seconds of the longest unbroken spell of p.
type longestFold struct{ spellFold }

func (f *longestFold) answer() Answer {
	f.finish()
	a := Answer{Low: f.sure.long, High: f.possible.long, At: nowhere}
	if f.sure.long > 0 {
		a.At = f.sure.at
	} else if f.possible.long > 0 {
		a.At = f.possible.at
	}
	return a
}

// countFold: times p becomes true. The first row counts if it is true. The bounds are the fewest
// and the most over every way to fill the unknown rows, where a row may differ from an
// unknown one before it only if a sample came, or was due, in between.
type countFold struct {
	free    []uint64 // rows in which a sample came or was due; nil: all
	unknown bool     // the last row was

	edges   int    // while every row was known
	before  uint64 // the last row, 0 or 1
	parted  bool   // a row was unknown
	least   counts
	most    counts
	endless bool // nothing says how often an unknown row could have changed
	at      float64
}

// counts are rising edges so far, if the last row was false and if it was true; NaN where it cannot have been.
type counts struct{ f, t float64 }

func (f *countFold) block(in *input) {
	if math.IsNaN(f.at) {
		for w, yes := range in.x.yes {
			if yes != 0 {
				f.at = in.times[w*64+trailing(yes)]
				break
			}
		}
	}
	no := in.x.no[:len(in.x.yes)]
	for w, yes := range in.x.yes {
		valid := rowsOf(in.n, w)
		if maybe := valid &^ (yes | no[w]); maybe != 0 || f.parted {
			f.part(in, w, yes, maybe, valid)
			continue
		}
		f.edges += bits.OnesCount64(yes &^ (yes<<1 | f.before))
		f.before = yes >> (bits.Len64(valid) - 1) & 1
	}
}

// part counts a word once a row has been unknown.
func (f *countFold) part(in *input, w int, yes, maybe, valid uint64) {
	if !f.parted {
		f.parted = true
		f.least = counts{f: float64(f.edges), t: math.NaN()}
		if f.before == 1 {
			f.least = counts{f: math.NaN(), t: float64(f.edges)}
		}
		f.most = f.least
	}
	in.open[0].add(in.from/64+w, maybe)
	n := bits.Len64(valid)
	if maybe != 0 {
		for i := range n {
			was := f.unknown
			f.unknown = maybe>>i&1 != 0
			if was && f.unknown && f.free != nil && !isSet(f.free, in.from+w*64+i) {
				continue // the same sample, or lack of one
			}
			f.step(in.x.no[w]>>i&1 == 0, yes>>i&1 == 0)
		}
		return
	}
	f.unknown = false
	f.step(yes&1 != 0, yes&1 == 0)
	edges := float64(bits.OnesCount64(yes &^ (yes << 1) &^ 1))
	for _, c := range []*counts{&f.least, &f.most} {
		sum := edges + lesser(c.f, c.t) // one of them is NaN
		if *c = (counts{f: sum, t: math.NaN()}); yes>>(n-1)&1 != 0 {
			*c = counts{f: math.NaN(), t: sum}
		}
	}
}

// step takes a row that can be true, can be false, or both.
func (f *countFold) step(canTrue, canFalse bool) {
	next := func(c counts, pick func(a, b float64) float64) counts {
		out := counts{f: math.NaN(), t: math.NaN()}
		if canTrue {
			out.t = pick(c.t, c.f+1)
		}
		if canFalse {
			out.f = pick(c.f, c.t)
		}
		return out
	}
	f.least, f.most = next(f.least, lesser), next(f.most, greater)
}

// lesser of two, or the one that is a number.
func lesser(a, b float64) float64 {
	if math.IsNaN(a) || b < a {
		return b
	}
	return a
}

// greater of two, or the one that is a number.
func greater(a, b float64) float64 {
	if math.IsNaN(a) || b > a {
		return b
	}
	return a
}

func (f *countFold) done() bool { return false }

func (f *countFold) answer() Answer {
	if !f.parted {
		return Answer{Low: float64(f.edges), High: float64(f.edges), At: f.at}
	}
	a := Answer{Low: lesser(f.least.f, f.least.t), High: greater(f.most.f, f.most.t), At: f.at}
	if f.endless {
		a.High = plusInf
	}
	return a
}
