package kernel

import (
	"math"
	"slices"
)

// numbersUnder calls do for each row that passes the filter or may, and notes what was missing.
func numbersUnder(in *input, do func(i int, low, high float64, sure bool)) {
	for w := range words(in.n) {
		yes, maybe := in.filter(w)
		may := yes | maybe
		if may == 0 {
			continue
		}
		in.open[0].add(in.from/64+w, may&^in.x.exact(w, rowsOf(in.n, w)))
		in.open[1].add(in.from/64+w, maybe)
		for m := may; m != 0; m &= m - 1 {
			b := trailing(m)
			low, high := in.x.numbers.at(w*64 + b)
			do(w*64+b, low, high, yes>>b&1 != 0)
		}
	}
}

// extremeFold: the least number under the filter (sign 1), or the greatest (sign -1, folded as the least of the negatives).
type extremeFold struct {
	sign          float64
	low, high     float64 // of the least
	atLow, atHigh float64
	sure, maybe   bool
}

func newExtremeFold(sign float64) *extremeFold {
	return &extremeFold{sign: sign, low: plusInf, high: plusInf, atLow: nowhere, atHigh: nowhere}
}

func (f *extremeFold) block(in *input) {
	numbersUnder(in, func(i int, low, high float64, sure bool) {
		if f.sign < 0 {
			low, high = -high, -low
		}
		if low < f.low {
			f.low, f.atLow = low, in.times[i]
		}
		if sure {
			f.sure = true
			if high < f.high {
				f.high, f.atHigh = high, in.times[i]
			}
		} else {
			f.maybe = true
		}
	})
}

func (f *extremeFold) done() bool { return false }

func (f *extremeFold) answer() Answer {
	a := Answer{Low: f.low, High: f.high, At: f.atLow, Empty: !f.sure && !f.maybe, MaybeEmpty: !f.sure && f.maybe}
	if math.IsInf(f.low, 0) {
		a.At = f.atHigh
	}
	if f.sign < 0 {
		a.Low, a.High = -a.High+0, -a.Low+0
	}
	return a
}

// piece is a number that stands for some seconds, if the filter holds there.
type piece struct{ x, dt float64 }

// meanFold: the mean under the filter, weighted by time.
type meanFold struct {
	low, high           total // of the sure rows: bounds times seconds
	noLow, noHigh       bool  // a sure row is unbounded
	seconds             total
	sure                bool
	lastLow, lastHigh   float64 // of the last sure row: the last row of a log may stand for no time
	maybeLow, maybeHigh []piece
	one                 bool // every row so far had this same number
	same                float64
	begun               bool
}

func (f *meanFold) block(in *input) {
	numbersUnder(in, func(i int, low, high float64, sure bool) {
		dt := in.times[i+1] - in.times[i]
		if low == high && (!f.begun || f.one && low == f.same) {
			f.one, f.same = true, low
		} else {
			f.one = false
		}
		f.begun = true
		if !sure {
			f.maybeLow = append(f.maybeLow, piece{low, dt})
			f.maybeHigh = append(f.maybeHigh, piece{-high, dt})
			return
		}
		f.sure = true
		f.lastLow, f.lastHigh = low, high
		f.seconds.add(dt)
		if low == minusInf {
			f.noLow = true
		} else {
			f.low.add(low * dt)
		}
		if high == plusInf {
			f.noHigh = true
		} else {
			f.high.add(high * dt)
		}
	})
}

func (f *meanFold) done() bool { return false }

// lowest mean of the sure rows and any of the pieces.
func (f *meanFold) lowest(sum total, unbounded bool, timeless float64, pieces []piece) float64 {
	if unbounded {
		return minusInf
	}
	slices.SortFunc(pieces, func(a, b piece) int {
		if a.x < b.x {
			return -1
		} else if a.x > b.x {
			return 1
		}
		return 0
	})
	seconds, mean := f.seconds, plusInf
	if f.sure && seconds.value() > 0 {
		mean = sum.value() / seconds.value()
	} else if f.sure {
		mean = timeless
	}
	for _, p := range pieces {
		if p.x >= mean {
			break
		}
		if p.x == minusInf {
			return minusInf
		}
		sum.add(p.x * p.dt)
		seconds.add(p.dt)
		if seconds.value() == 0 {
			mean = p.x
			continue
		}
		mean = sum.value() / seconds.value()
	}
	return mean
}

func (f *meanFold) answer() Answer {
	a := Answer{At: nowhere, Empty: !f.sure && len(f.maybeLow) == 0, MaybeEmpty: !f.sure && len(f.maybeLow) > 0}
	if a.Empty {
		return a
	}
	if f.one { // exactly, without rounding
		a.Low, a.High = f.same, f.same
		return a
	}
	minus := total{sum: -f.high.sum, lost: -f.high.lost}
	a.Low, a.High = f.lowest(f.low, f.noLow, f.lastLow, f.maybeLow)+0, -f.lowest(minus, f.noHigh, -f.lastHigh, f.maybeHigh)+0
	a.Low, a.High = settle(a.Low, a.High)
	return a
}

// firstFold: the number in the first row that passes the filter.
type firstFold struct {
	low, high   float64
	sure, maybe bool
	at          float64
}

func (f *firstFold) block(in *input) {
	for w := range words(in.n) {
		yes, maybe := in.filter(w)
		before := maybe
		if yes != 0 {
			before &= 1<<trailing(yes) - 1
			f.sure = true
			before |= yes & -yes
		}
		if before == 0 {
			continue
		}
		in.open[0].add(in.from/64+w, before&^in.x.exact(w, rowsOf(in.n, w)))
		in.open[1].add(in.from/64+w, before&maybe)
		for m := before; m != 0; m &= m - 1 {
			i := w*64 + trailing(m)
			low, high := in.x.numbers.at(i)
			f.low, f.high = min(f.low, low), max(f.high, high)
			f.at = in.times[i]
		}
		f.maybe = true
		if f.sure {
			return
		}
	}
}

func (f *firstFold) done() bool { return f.sure }

func (f *firstFold) answer() Answer {
	return Answer{Low: f.low, High: f.high, At: f.at, Empty: !f.sure && !f.maybe, MaybeEmpty: !f.sure && f.maybe}
}

// lastFold: the number in the last row that passes the filter.
type lastFold struct {
	low, high   float64
	sure, maybe bool
	at          float64
	leans       [2]*leaning
	xAt, yAt    []int // rows leaned on since the last sure one
}

func (f *lastFold) block(in *input) {
	for w := range words(in.n) {
		yes, maybe := in.filter(w)
		for m := yes | maybe; m != 0; m &= m - 1 {
			b := trailing(m)
			i := w*64 + b
			low, high := in.x.numbers.at(i)
			if yes>>b&1 != 0 || !f.sure && !f.maybe {
				f.low, f.high = low, high
			} else {
				f.low, f.high = min(f.low, low), max(f.high, high)
			}
			if yes>>b&1 != 0 {
				f.sure = true
				f.xAt, f.yAt = f.xAt[:0], f.yAt[:0]
			} else {
				f.maybe = true
				f.yAt = append(f.yAt, in.from+i)
			}
			if low != high {
				f.xAt = append(f.xAt, in.from+i)
			}
			f.at = in.times[i]
		}
	}
	f.leans = in.open
}

func (f *lastFold) done() bool { return false }

func (f *lastFold) answer() Answer {
	for _, i := range f.xAt {
		f.leans[0].add(i/64, 1<<(i&63))
	}
	for _, i := range f.yAt {
		f.leans[1].add(i/64, 1<<(i&63))
	}
	return Answer{Low: f.low, High: f.high, At: f.at, Empty: !f.sure && !f.maybe, MaybeEmpty: !f.sure && f.maybe}
}
