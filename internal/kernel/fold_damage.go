package kernel

import "math"

// Wear is what cycles of numbers do to a part. Count takes the own samples of a log, in order, each of
// which may be off by so much either way, and bounds the damage they do. More samples, or samples
// further apart, must never do less. Two of equal Text are the same.
type Wear struct {
	Text  string
	Count func(samples []float64, off float64) (low, high float64)
}

// damageFold hands the own samples of a node to a wear. Where one is missing, it may hide or be any
// cycle: sure is then only that the numbers went from the least that was seen to the greatest.
type damageFold struct {
	wear   Wear
	own    []uint64
	lapsed []uint64 // rows in which samples are overdue; nil: none

	samples     []float64
	off         float64
	open        bool
	least, most float64 // surely as low, surely as high
}

func newDamageFold(g *grid, x *node, w Wear) *damageFold {
	return &damageFold{wear: w, own: g.own(x), lapsed: g.lapsed(x.channels), least: plusInf, most: minusInf}
}

func (f *damageFold) block(in *input) {
	for w := range words(in.n) {
		valid := rowsOf(in.n, w)
		own := valid & f.own[in.from/64+w]
		open := own &^ in.x.exact(w, valid)
		if f.lapsed != nil {
			overdue := valid &^ in.seen(w, valid) & f.lapsed[in.from/64+w]
			f.open = f.open || overdue != 0
			open |= overdue
		}
		in.open[0].add(in.from/64+w, open)
		for m := own; m != 0; m &= m - 1 {
			f.sample(in.x.numbers.at(w*64 + trailing(m)))
		}
	}
}

func (f *damageFold) sample(low, high float64) {
	f.least, f.most = min(f.least, high), max(f.most, low)
	middle := low
	if low != high {
		middle = low + (high-low)/2
		f.off = max(f.off, high-middle, middle-low)
	}
	if math.IsInf(low, 0) || math.IsInf(high, 0) {
		f.open = true
		return
	}
	f.samples = append(f.samples, middle)
}

func (f *damageFold) done() bool { return false }

func (f *damageFold) answer() Answer {
	a := Answer{At: nowhere}
	if !f.open {
		a.Low, a.High = f.wear.Count(f.samples, f.off)
		return a
	}
	if a.High = plusInf; f.least < f.most {
		a.Low, _ = f.wear.Count([]float64{f.least, f.most}, 0)
	}
	return a
}
