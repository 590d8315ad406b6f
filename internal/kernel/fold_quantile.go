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
		if rows, plain := in.plainWord(w); plain && !f.open && known == valid {
			part := in.x.low[w*64 : min(w*64+64, in.n)]
			if rows&own == rowsOf(len(part), 0) {
				f.exact = append(f.exact, part...)
				continue
			}
			for m := rows & own; m != 0; m &= m - 1 {
				f.exact = append(f.exact, part[trailing(m)])
			}
			continue
		}
		in.open[0].add(in.from/64+w, may&^known)
		in.open[1].add(in.from/64+w, maybe)
		missing := uint64(0)
		if f.lapsed != nil {
			missing = may &^ in.seen(w, valid) & f.lapsed[in.from/64+w]
		}
		times := in.plan.times()
		for i, rest := 0, valid; rest != 0; i, rest = i+1, rest>>1 {
			t := times[w*64+i]
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
		f.close(in.time(in.n))
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
	if sure == len(f.exact) && maybe == 0 {
		a.Low = selectQuantile(f.exact, f.q) + 0
		a.High = a.Low
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
	a.Low, a.High = settle(lowestQuantile(low, f.maybe.low, f.q), -lowestQuantile(high, maybeHigh, 1-f.q))
	return a
}

// selectQuantile is the quantile of numbers in any order: it counts them in shelves of equal
// width and sorts only the shelf, or the two, that it lies in.
func selectQuantile(x []float64, q float64) float64 {
	const shelves = 1 << 14
	least, most := extremes(x)
	scale := shelves / (most - least)
	if len(x) < 4*shelves || !finite(scale) || !finite(most-least) {
		slices.Sort(x)
		return quantile7(x, nil, q)
	}
	shelf := func(v float64) int { return min(int((v-least)*scale), shelves-1) }
	var count [shelves]int32
	for _, v := range x {
		count[shelf(v)]++
	}
	rank := int(float64(len(x)-1) * q)
	below, first := 0, 0 // numbers on lower shelves
	for below+int(count[first]) <= rank {
		below += int(count[first])
		first++
	}
	last := first // the shelf of the next rank
	for upTo := below + int(count[first]); upTo <= min(rank+1, len(x)-1); {
		last++
		upTo += int(count[last])
	}
	var some []float64
	for _, v := range x {
		if s := shelf(v); s >= first && s <= last {
			some = append(some, v)
		}
	}
	slices.Sort(some)
	h := float64(len(x)-1) * q
	low := some[rank-below]
	if h == float64(rank) {
		return low
	}
	if high := some[rank-below+1]; high != low {
		low += (h - float64(rank)) * (high - low)
	}
	return low
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
