package kernel

import (
	"math"
	"slices"
	"sort"
)

// quantileFold: a quantile of the own samples under the filter, type 7 of Hyndman and
// Fan (The American Statistician 50, 1996, 361-365): linear between order statistics.
//
// A sample that was taken away may have been anything. Where no sample came for longer
// than the last one stands, as many are missing as the sampling period fits into the time.
type quantileFold struct {
	q       float64
	own     []uint64
	period  float64 // 0: nothing says how many samples are missing
	exact   []float64
	low     []float64 // bounds of sure samples that are not exact
	high    []float64
	maybe   struct{ low, high []float64 } // of samples that may not count
	endless bool

	lapsed []uint64 // rows in which samples are overdue; nil: none
	open   bool     // samples are missing at present
	start  float64  // since when
}

func (f *quantileFold) block(in *input) {
	for w := range words(in.n) {
		valid := rowsOf(in.n, w)
		yes, maybe := in.filter(w)
		may := yes | maybe
		known := in.x.exact(w, valid)
		own := f.own[in.from/64+w]
		in.open[0].add(in.from/64+w, may&^known)
		in.open[1].add(in.from/64+w, maybe)
		if known == valid && !f.open { // nothing missing
			for m := own & may; m != 0; m &= m - 1 {
				i := trailing(m)
				f.sample(yes>>i&1 != 0, in.x.low[w*64+i], in.x.low[w*64+i])
			}
			continue
		}
		missing := uint64(0)
		if f.lapsed != nil {
			missing = may &^ known & f.lapsed[in.from/64+w]
		}
		for i, rest := 0, valid; rest != 0; i, rest = i+1, rest>>1 {
			t := in.times[w*64+i]
			bit := uint64(1) << i
			switch {
			case own&bit != 0:
				f.close(t)
				if may&bit != 0 {
					low, high := in.x.numbers.at(w*64 + i)
					f.sample(yes&bit != 0, low, high)
				}
			case missing&bit == 0:
				f.close(t)
			case !f.open:
				f.open, f.start = true, t
			}
		}
	}
	if in.last {
		f.close(in.times[in.n])
	}
}

func (f *quantileFold) sample(sure bool, low, high float64) {
	switch {
	case !sure:
		f.maybe.low = append(f.maybe.low, low)
		f.maybe.high = append(f.maybe.high, high)
	case low == high:
		f.exact = append(f.exact, low)
	default:
		f.low = append(f.low, low)
		f.high = append(f.high, high)
	}
}

// close ends a time in which samples are missing.
func (f *quantileFold) close(t float64) {
	if !f.open {
		return
	}
	f.open = false
	if f.period == 0 {
		f.endless = true
		return
	}
	for range max(1, int((t-f.start)/f.period*(1+slack))) {
		f.sample(false, minusInf, plusInf)
	}
}

func (f *quantileFold) done() bool { return false }

func (f *quantileFold) answer() Answer {
	sure, maybe := len(f.exact)+len(f.low), len(f.maybe.low)
	a := Answer{At: nowhere, Empty: sure+maybe == 0 && !f.endless, MaybeEmpty: sure == 0 && (maybe > 0 || f.endless)}
	switch {
	case a.Empty:
		return a
	case f.endless:
		a.Low, a.High = minusInf, plusInf
		return a
	}
	low := append(slices.Clone(f.exact), f.low...)
	high := make([]float64, 0, sure)
	for _, x := range f.exact {
		high = append(high, -x)
	}
	for _, x := range f.high {
		high = append(high, -x)
	}
	maybeHigh := make([]float64, 0, maybe)
	for _, x := range f.maybe.high {
		maybeHigh = append(maybeHigh, -x)
	}
	slices.Sort(low)
	if maybe == 0 && len(f.low) == 0 {
		a.Low = quantile7(low, nil, f.q) + 0
		a.High = a.Low
		return a
	}
	a.Low, a.High = settle(lowestQuantile(low, f.maybe.low, f.q), -lowestQuantile(high, maybeHigh, 1-f.q))
	return a
}

// lowestQuantile of the sure samples and any of the others. Of k others the k least give the lowest.
func lowestQuantile(sure, maybe []float64, q float64) float64 {
	slices.Sort(sure)
	slices.Sort(maybe)
	lowest := plusInf
	for k := 0; k <= len(maybe); k++ {
		if len(sure)+k > 0 {
			lowest = min(lowest, quantile7(sure, maybe[:k], q))
		}
	}
	return lowest
}

// quantile7 is the quantile of two sorted lists taken together.
func quantile7(a, b []float64, q float64) float64 {
	h := float64(len(a)+len(b)-1) * q
	j := math.Floor(h)
	x := ranked(a, b, int(j))
	if h == j {
		return x
	}
	y := ranked(a, b, int(j)+1)
	if x == y || math.IsInf(x, 0) {
		return x
	}
	return x + (h-j)*(y-x)
}

// ranked is the element of that rank, from 0, of two sorted lists taken together.
func ranked(a, b []float64, rank int) float64 {
	// how many of the first rank+1 come from a
	from := max(0, rank+1-len(b))
	i := from + sort.Search(min(rank+1, len(a))-from, func(i int) bool {
		i += from
		return a[i] >= b[rank-i]
	})
	x := minusInf
	if i > 0 {
		x = a[i-1]
	}
	if i <= rank {
		x = max(x, b[rank-i])
	}
	return x
}
