package kernel

import (
	"math"
	"math/bits"
)

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
				f.at = in.time(w*64 + trailing(yes))
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
