package kernel

import (
	"math/bits"
	"slices"
)

// piece is a number that stands for some seconds, if the filter holds there.
type piece struct{ x, dt float64 }

func sortPieces(pieces []piece) {
	slices.SortFunc(pieces, func(a, b piece) int {
		if a.x < b.x {
			return -1
		} else if a.x > b.x {
			return 1
		}
		return 0
	})
}

// mostPieces are kept of a mean's rows under an unknown filter.
const mostPieces = 1 << 17

// fewerPieces takes pairs of numbers next to each other in size as the lower of the two, once there
// are too many: the lowest mean of them is then a little too low, never too high.
func fewerPieces(pieces []piece) []piece {
	if len(pieces) < mostPieces {
		return pieces
	}
	sortPieces(pieces)
	out := pieces[:0]
	for i := 0; i < len(pieces); i += 2 {
		out = append(out, piece{pieces[i].x, pieces[i].dt + pieces[i+1].dt})
	}
	return out
}

// meanFold: the mean under the filter, weighted by time.
type meanFold struct {
	exact               total // of the sure rows that are exact: number times seconds
	low, high           total // of the other sure rows: bounds times seconds
	noLow, noHigh       bool  // one of those is unbounded
	seconds             total
	sure                bool
	lastLow, lastHigh   float64 // of the last sure row: the last row of a log may stand for no time
	maybeLow, maybeHigh []piece
	one, begun          bool // every row so far had this same number
	same                float64
}

func (f *meanFold) block(in *input) {
	times := in.plan.times()
	for w := range words(in.n) {
		rows, plain := in.plainWord(w)
		switch {
		case !plain:
			in.eachUnder(w, func(i int, low, high float64, sure bool) { f.row(low, high, sure, times[i+1]-times[i]) })
		case rows != 0:
			f.word(in.x.low[w*64:min(w*64+64, in.n)], times[w*64:], rows)
		}
	}
}

// word takes rows that are exact and sure.
func (f *meanFold) word(part, times []float64, rows uint64) {
	times = times[:len(part)+1]
	f.sure = true
	if !f.begun {
		f.begun, f.one, f.same = true, true, part[trailing(rows)]
	}
	sum, seconds := 0.0, 0.0
	if rows == rowsOf(len(part), 0) {
		var s [2]float64
		for i, x := range part {
			s[i&1] += x * (times[i+1] - times[i])
		}
		sum, seconds = s[0]+s[1], times[len(part)]-times[0]
		for i := 0; f.one && i < len(part); i++ {
			f.one = part[i] == f.same
		}
	} else {
		for m := rows; m != 0; m &= m - 1 {
			i := trailing(m)
			x, dt := part[i], times[i+1]-times[i]
			sum += x * dt
			seconds += dt
			f.one = f.one && x == f.same
		}
	}
	f.exact.add(sum)
	f.seconds.add(seconds)
	f.lastLow = part[bits.Len64(rows)-1]
	f.lastHigh = f.lastLow
}

func (f *meanFold) row(low, high float64, sure bool, dt float64) {
	if f.one = low == high && (!f.begun || f.one && low == f.same); !f.begun {
		f.begun, f.same = true, low
	}
	if !sure {
		f.maybeLow = fewerPieces(append(f.maybeLow, piece{low, dt}))
		f.maybeHigh = fewerPieces(append(f.maybeHigh, piece{-high, dt}))
		return
	}
	f.sure, f.lastLow, f.lastHigh = true, low, high
	f.seconds.add(dt)
	if low == high {
		f.exact.add(low * dt)
		return
	}
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
}

func (f *meanFold) done() bool { return false }

// lowest mean of the sure rows and any of the pieces. timeless is what the sure rows have if they stand for no time.
func (f *meanFold) lowest(sum total, timeless float64, pieces []piece) float64 {
	sortPieces(pieces)
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
		if mean = p.x; seconds.value() > 0 {
			mean = sum.value() / seconds.value()
		}
	}
	return mean
}

func (f *meanFold) answer() Answer {
	a := Answer{At: nowhere, Empty: !f.sure && len(f.maybeLow) == 0, MaybeEmpty: !f.sure && len(f.maybeLow) > 0}
	switch {
	case a.Empty:
		return a
	case f.one: // exactly, without rounding
		a.Low, a.High = f.same, f.same
		return a
	}
	low, minusHigh := f.exact, f.exact.minus()
	low.add(f.low.value())
	minusHigh.add(-f.high.value())
	a.Low, a.High = minusInf, plusInf
	if !f.noLow {
		a.Low = f.lowest(low, f.lastLow, f.maybeLow)
	}
	if !f.noHigh {
		a.High = -f.lowest(minusHigh, -f.lastHigh, f.maybeHigh)
	}
	a.Low, a.High = settle(a.Low, a.High)
	return a
}
