package kernel

import "math"

// extremeFold: the least number under the filter, or the greatest, folded as the least of the negatives.
type extremeFold struct {
	greatest      bool
	low, high     float64 // of the least
	atLow, atHigh float64
	sure, maybe   bool
}

func newExtremeFold(greatest bool) *extremeFold {
	return &extremeFold{greatest: greatest, low: plusInf, high: plusInf, atLow: nowhere, atHigh: nowhere}
}

func (f *extremeFold) block(in *input) {
	for w := range words(in.n) {
		rows, plain := in.plainWord(w)
		switch {
		case !plain:
			in.eachUnder(w, func(i int, low, high float64, sure bool) { f.row(low, high, sure, in.time(i)) })
		case rows != 0:
			f.sure = true
			part := in.x.low[w*64 : min(w*64+64, in.n)]
			i, x := f.least(part, rows)
			f.row(x, x, true, in.time(w*64+i))
		}
	}
}

// least is the first least, or greatest, number of some rows of a word, and where it is.
func (f *extremeFold) least(part []float64, rows uint64) (int, float64) {
	at := trailing(rows)
	best := part[at]
	switch {
	case rows != rowsOf(len(part), 0):
		for m := rows & (rows - 1); m != 0; m &= m - 1 {
			i := trailing(m)
			if x := part[i]; x != best && x > best == f.greatest {
				at, best = i, x
			}
		}
		return at, best
	case f.greatest:
		for i, x := range part {
			if x > best {
				at, best = i, x
			}
		}
	default:
		for i, x := range part {
			if x < best {
				at, best = i, x
			}
		}
	}
	return at, best
}

func (f *extremeFold) row(low, high float64, sure bool, t float64) {
	if f.greatest {
		low, high = -high, -low
	}
	if low < f.low {
		f.low, f.atLow = low, t
	}
	if !sure {
		f.maybe = true
		return
	}
	f.sure = true
	if high < f.high {
		f.high, f.atHigh = high, t
	}
}

func (f *extremeFold) done() bool { return false }

func (f *extremeFold) answer() Answer {
	a := Answer{Low: f.low, High: f.high, At: f.atLow, Empty: !f.sure && !f.maybe, MaybeEmpty: !f.sure && f.maybe}
	if math.IsInf(f.low, 0) {
		a.At = f.atHigh
	}
	if f.greatest {
		a.Low, a.High = -a.High+0, -a.Low+0
	}
	return a
}
