package trade

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat"
)

// MeanSD is the mean and the sample standard deviation (n-1) of values; the deviation
// of one value is NaN.
func MeanSD(values []float64) (mean, sd float64) {
	if len(values) == 0 {
		return nan, nan
	}
	if mean, sd = stat.MeanStdDev(values, nil); len(values) == 1 {
		sd = nan
	}
	return mean, sd
}

// Quantile is the sample quantile of type 7 of R. J. Hyndman and Y. Fan, Am. Stat. 50
// (1996) 361: linear between the order statistics, 0.5 being the median. NaN for no
// values, for one that is not a number, and for a share outside 0 to 1.
func Quantile(values []float64, share float64) float64 {
	own := borrow(len(values))
	defer giveBack(own)
	return quantileOf(append(*own, values...), share)
}

// Between is from the quantile of one share of the values to that of another. NaN as Quantile.
func Between(values []float64, low, high float64) float64 {
	own := borrow(len(values))
	defer giveBack(own)
	all := append(*own, values...)
	least := quantileOf(all, low)
	return quantileOf(all, high) - least
}

// quantileOf is Quantile of values that it may put into another order.
func quantileOf(own []float64, share float64) float64 {
	if len(own) == 0 || !(share >= 0 && share <= 1) || slices.ContainsFunc(own, math.IsNaN) {
		return nan
	}
	h := share * float64(len(own)-1)
	i := min(int(h), len(own)-1)
	place(own, i)
	low := own[i]
	if part := h - float64(i); part > 0 && i+1 < len(own) {
		if next := slices.Min(own[i+1:]); next != low { // else both may be infinite
			return low + part*(next-low)
		}
	}
	return low
}

// place puts the values so that value k is where sorting would put it, none before it greater and none
// behind it less. (C. A. R. Hoare, Algorithm 65: Find, Comm. ACM 4 (1961) 321.)
func place(values []float64, k int) {
	for low, high := 0, len(values)-1; low < high; {
		pivot := values[(low+high)/2]
		i, j := low, high
		for i <= j {
			for values[i] < pivot {
				i++
			}
			for pivot < values[j] {
				j--
			}
			if i <= j {
				values[i], values[j] = values[j], values[i]
				i++
				j--
			}
		}
		if j < k {
			low = i
		}
		if k < i {
			high = j
		}
	}
}

// Median is the middle of the values.
func Median(values []float64) float64 { return Quantile(values, 0.5) }

// NormalMAD makes of a median absolute deviation the standard deviation of normal
// values: 1/Φ⁻¹(3/4).
const NormalMAD = 1.482602218505602

// MAD is the median of the distances from the median, unscaled.
func MAD(values []float64) float64 {
	middle := Median(values)
	distances := make([]float64, len(values))
	for i, v := range values {
		distances[i] = math.Abs(v - middle)
	}
	return Median(distances)
}

// Hampel marks the values farther than `sigmas` scaled MADs from the median of the values
// up to `each` places to either side. At the ends the window is cut off, not moved. (F. R.
// Hampel, J. Am. Stat. Assoc. 69 (1974) 383, as an identifier in a moving window.) A value
// that is not a number, or has one in its window, is not marked.
func Hampel(values []float64, each int, sigmas float64) []bool {
	marked := make([]bool, len(values))
	if each < 1 || !(sigmas >= 0) {
		return marked
	}
	for i, v := range values {
		window := values[max(0, i-each):min(len(values), i+each+1)]
		marked[i] = math.Abs(v-Median(window)) > sigmas*NormalMAD*MAD(window)
	}
	return marked
}

// TheilSen is the median of the slopes through all pairs of points, and the median
// intercept that goes with it: a straight line that a third of wild points do not move.
// (P. K. Sen, J. Am. Stat. Assoc. 63 (1968) 1379.) Its work grows with the square of the
// points: meant for runs, not for samples. NaN unless two points differ in x.
func TheilSen(x, y []float64) (slope, intercept float64) {
	if len(x) != len(y) {
		return nan, nan
	}
	var slopes []float64
	for i := range x {
		for j := i + 1; j < len(x); j++ {
			if x[i] != x[j] {
				slopes = append(slopes, (y[j]-y[i])/(x[j]-x[i]))
			}
		}
	}
	slope = Median(slopes)
	rest := make([]float64, len(x))
	for i := range x {
		rest[i] = y[i] - slope*x[i]
	}
	return slope, Median(rest)
}

// Shift is by how many samples one series follows another (negative where it leads), and how
// well they then go together, -1 to 1.
type Shift struct {
	Lag         int
	Correlation float64
}

// Lag is the shift of b against a, up to `most`, with the largest correlation of what overlaps, and the
// one with the smallest: where they go best against each other. Both are sampled alike. The
// correlations are NaN where nothing varies; of equal ones the smallest shift wins. At least half of
// the shorter must overlap.
func Lag(a, b []float64, most int) (with, against Shift) {
	with.Correlation, against.Correlation = nan, nan
	n := min(len(a), len(b))
	most = max(0, min(most, n/2))
	x, y := summed(a[:n], most), summed(b[:n], most)
	for shift := range most + 1 {
		for _, s := range []int{shift, -shift} {
			r := overlap(&x, &y, n, s)
			if r > with.Correlation+same || math.IsNaN(with.Correlation) && !math.IsNaN(r) {
				with = Shift{s, r}
			}
			if r < against.Correlation-same || math.IsNaN(against.Correlation) && !math.IsNaN(r) {
				against = Shift{s, r}
			}
		}
	}
	return with, against
}

// same is how close two correlations are that only rounding tells apart.
const same = 1e-9

// sums are a series less its mean, with what it and the ends of it come to: no more is left out of an overlap.
type sums struct {
	values     []float64
	all        part
	head, tail []part // of so many values from either end
}

// part is what some values come to: their sum, that of their squares, and how often they change.
type part struct {
	sum, squares float64
	changes      int
}

func (p part) less(q part) part {
	return part{p.sum - q.sum, p.squares - q.squares, p.changes - q.changes}
}

// summed readies a series for overlaps that leave out up to `most` values at either end.
func summed(values []float64, most int) sums {
	s := sums{values: slices.Clone(values), head: make([]part, most+1), tail: make([]part, most+1)}
	floats.AddConst(-stat.Mean(values, nil), s.values)
	n := len(values)
	one := func(i, before int) part { // a value, with whether it differs from its neighbour
		c := s.values[i]
		p := part{sum: c, squares: c * c}
		if before >= 0 && before < n && values[i] != values[before] {
			p.changes = 1
		}
		return p
	}
	plus := func(p, q part) part { return part{p.sum + q.sum, p.squares + q.squares, p.changes + q.changes} }
	for i := range n {
		s.all = plus(s.all, one(i, i-1))
	}
	for i := range most {
		// What a left out value differs from the one that stays goes with it.
		s.head[i+1], s.tail[i+1] = plus(s.head[i], one(i, i+1)), plus(s.tail[i], one(n-1-i, n-2-i))
	}
	return s
}

// without are the sum and the sum of squares about the mean of what is left without values at either end; flat where
// all of it is the same.
func (s *sums) without(head, tail int) (sum, spread float64, flat bool) {
	p := s.all.less(s.head[head]).less(s.tail[tail])
	return p.sum, p.squares - p.sum*p.sum/float64(len(s.values)-head-tail), p.changes == 0
}

// overlap is the correlation of a with b moved back by a shift.
func overlap(a, b *sums, n, shift int) float64 {
	from, ahead, m := max(0, -shift), max(0, shift), n-max(shift, -shift)
	if m < 2 {
		return nan
	}
	sumA, spreadA, flatA := a.without(from, ahead)
	sumB, spreadB, flatB := b.without(ahead, from)
	if flatA || flatB || !(spreadA > 0 && spreadB > 0) { // the last by rounding
		return nan
	}
	r := (floats.Dot(a.values[from:from+m], b.values[ahead:ahead+m]) - sumA*sumB/float64(m)) / math.Sqrt(spreadA*spreadB)
	return min(max(r, -1), 1)
}
