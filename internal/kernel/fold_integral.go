package kernel

// integralFold: SI·s under the filter. Between consecutive own samples the value runs
// straight from one to the next (the trapezoid rule); from the last sample before missing ones,
// or before the end of the log, it stands, as it does everywhere if a time is exact. A row under
// a filter that is unknown counts or does not, whichever is lower, or higher.
type integralFold struct {
	own           []uint64
	steps         bool // a channel's times are exact: values stand
	sum           total
	less, more    total // what missing rows may add
	noLow, noHigh bool
	sure, maybe   bool

	start float64 // of the segment at hand
	low   float64 // bounds of the value that stands in it
	high  float64
	whole bool      // it was seen in all rows of the segment so far
	area  moments   // of its sure rows
	rows  []moments // its rows under an unknown filter
	begun bool
}

// moments of time: seconds, and seconds times the mean time since the start of the segment.
type moments struct{ dt, tdt float64 }

func (f *integralFold) block(in *input) {
	times := in.plan.times()
	for w := range words(in.n) {
		valid := rowsOf(in.n, w)
		yes, maybe := in.filter(w)
		known := in.seen(w, valid)
		own := f.own[in.from/64+w]
		if rows, plain := in.plainWord(w); plain && !f.steps && own == valid && known == valid && (rows == 0 || rows == valid) {
			f.word(in.x.low[w*64:min(w*64+64, in.n)], times[w*64:], rows != 0)
			continue
		}
		in.open[0].add(in.from/64+w, (yes|maybe)&^in.x.exact(w, valid))
		in.open[1].add(in.from/64+w, maybe)
		f.sure, f.maybe = f.sure || yes != 0, f.maybe || maybe != 0
		for i, rest := 0, valid; rest != 0; i, rest = i+1, rest>>1 {
			bit := uint64(1) << i
			t, next := times[w*64+i], times[w*64+i+1]
			low, high := in.x.numbers.at(w*64 + i)
			seen := known&bit != 0 && finite(high-low)
			if own&bit != 0 || !f.begun {
				f.close(t, low, high, seen && f.whole && own&bit != 0 && !f.steps)
				f.start, f.low, f.high, f.whole, f.begun = t, low, high, seen && own&bit != 0, true
			}
			// where a missing sample widens what a reading may have been, that is no more what stood
			if seen = seen && low == f.low && high == f.high; !seen {
				f.whole = false
			}
			if (yes|maybe)&bit == 0 {
				continue
			}
			m := moments{dt: next - t, tdt: (next - t) * (t + next - 2*f.start) / 2}
			switch {
			case seen && yes&bit != 0:
				f.area.dt += m.dt
				f.area.tdt += m.tdt
			case seen:
				f.rows = append(f.rows, m)
			case yes&bit != 0:
				f.range1(product(low, m.dt), product(high, m.dt))
			default:
				f.range1(min(0, product(low, m.dt)), max(0, product(high, m.dt)))
			}
		}
	}
	if in.last {
		f.close(in.time(in.n), 0, 0, false)
	}
}

// word takes a sample in every row, all exact, under the filter or not.
func (f *integralFold) word(part, times []float64, under bool) {
	last := len(part) - 1
	times = times[:len(part)+1]
	f.close(times[0], part[0], part[0], f.whole)
	f.start, f.low, f.high, f.whole, f.begun = times[last], part[last], part[last], true, true
	if !under {
		return
	}
	f.sure = true
	var twice [2]float64
	x, t := part[0], times[0]
	for i, y := range part[1:] {
		u := times[i+1]
		twice[i&1] += (x + y) * (u - t)
		x, t = y, u
	}
	f.sum.add((twice[0] + twice[1]) / 2)
	dt := times[last+1] - times[last]
	f.area = moments{dt: dt, tdt: dt * dt / 2}
}

func (f *integralFold) range1(low, high float64) {
	if low == minusInf {
		f.noLow = true
	} else {
		f.less.add(low)
	}
	if high == plusInf {
		f.noHigh = true
	} else {
		f.more.add(high)
	}
}

// close ends a segment at a sample; straight if the value runs on to it.
func (f *integralFold) close(t, low, high float64, straight bool) {
	line := func(from, to float64) func(m moments) float64 {
		slope := 0.0
		if straight {
			slope = (to - from) / (t - f.start)
		}
		return func(m moments) float64 { return from*m.dt + slope*m.tdt }
	}
	below, above := line(f.low, low), line(f.high, high)
	switch {
	case f.area.dt == 0:
	case f.low == f.high && (!straight || low == high):
		f.sum.add(below(f.area))
	default:
		f.range1(below(f.area), above(f.area))
	}
	for _, m := range f.rows {
		f.range1(min(0, below(m)), max(0, above(m)))
	}
	f.area, f.rows = moments{}, f.rows[:0]
}

func (f *integralFold) done() bool { return false }

func (f *integralFold) answer() Answer {
	a := Answer{At: nowhere, Empty: !f.sure && !f.maybe, MaybeEmpty: !f.sure && f.maybe}
	low, high := f.sum, f.sum
	low.add(f.less.value())
	high.add(f.more.value())
	a.Low, a.High = low.value(), high.value()
	if f.noLow {
		a.Low = minusInf
	}
	if f.noHigh {
		a.High = plusInf
	}
	a.Low, a.High = settle(a.Low, a.High)
	return a
}
