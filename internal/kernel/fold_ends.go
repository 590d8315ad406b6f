package kernel

import "math/bits"

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
			f.at = in.time(i)
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
	f.at = in.time(i)
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
