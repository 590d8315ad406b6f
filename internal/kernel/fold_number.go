package kernel

import (
	"math"
	"math/bits"
	"slices"
)

// plainWord says whether the rows of word w that may pass the filter surely do, with an
// exact number in each, and which rows those are.
func (in *input) plainWord(w int) (rows uint64, plain bool) {
	valid := rowsOf(in.n, w)
	rows = valid
	if in.y != nil {
		rows = in.y.yes[w]
		if rows|in.y.no[w] != valid {
			return 0, false
		}
	}
	if in.x.high != nil || in.x.known != nil && rows&^in.x.known[w] != 0 {
		return 0, false
	}
	return rows, true
}

// eachUnder calls do for each row of word w that passes the filter or may, and notes what was missing.
func (in *input) eachUnder(w int, do func(i int, low, high float64, sure bool)) {
	yes, maybe := in.filter(w)
	may := yes | maybe
	if may == 0 {
		return
	}
	in.open[0].add(in.from/64+w, may&^in.x.exact(w, rowsOf(in.n, w)))
	in.open[1].add(in.from/64+w, maybe)
	for m := may; m != 0; m &= m - 1 {
		b := trailing(m)
		low, high := in.x.numbers.at(w*64 + b)
		do(w*64+b, low, high, yes>>b&1 != 0)
	}
}

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
			in.eachUnder(w, func(i int, low, high float64, sure bool) { f.row(low, high, sure, in.times[i]) })
		case rows != 0:
			f.sure = true
			part := in.x.low[w*64 : min(w*64+64, in.n)]
			i, x := f.least(part, rows)
			f.row(x, x, true, in.times[w*64+i])
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
	for w := range words(in.n) {
		rows, plain := in.plainWord(w)
		switch {
		case !plain:
			in.eachUnder(w, func(i int, low, high float64, sure bool) { f.row(low, high, sure, in.times[i+1]-in.times[i]) })
		case rows != 0:
			f.word(in.x.low[w*64:min(w*64+64, in.n)], in.times[w*64:], rows)
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
	f.leans = in.open
	last := words(in.n) - 1
	for last > 0 && (in.y != nil && in.y.yes[last] == 0) { // what comes before a sure row does not count
		last--
	}
	for w := last; w < words(in.n); w++ {
		yes, maybe := in.filter(w)
		if yes != 0 {
			from := bits.Len64(yes) - 1
			yes, maybe = 1<<from, maybe>>from<<from
		}
		for m := yes | maybe; m != 0; m &= m - 1 {
			b := trailing(m)
			f.row(in, w*64+b, yes>>b&1 != 0)
		}
	}
}

func (f *lastFold) row(in *input, i int, sure bool) {
	low, high := in.x.numbers.at(i)
	if sure {
		f.sure = true
		f.low, f.high = low, high
		f.xAt, f.yAt = f.xAt[:0], f.yAt[:0]
	} else {
		if !f.sure && !f.maybe {
			f.low, f.high = low, high
		}
		f.maybe = true
		f.low, f.high = min(f.low, low), max(f.high, high)
		f.yAt = append(f.yAt, in.from+i)
	}
	if low != high {
		f.xAt = append(f.xAt, in.from+i)
	}
	f.at = in.times[i]
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
