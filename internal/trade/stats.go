package trade

import (
	"math"
	"slices"

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
	if len(values) == 0 || !(share >= 0 && share <= 1) || slices.ContainsFunc(values, math.IsNaN) {
		return nan
	}
	sorted := slices.Clone(values)
	slices.Sort(sorted)
	return sortedQuantile(sorted, share)
}

func sortedQuantile(sorted []float64, share float64) float64 {
	h := share * float64(len(sorted)-1)
	i := int(h)
	if i+1 >= len(sorted) || sorted[i] == sorted[i+1] {
		return sorted[min(i, len(sorted)-1)]
	}
	return sorted[i] + (h-float64(i))*(sorted[i+1]-sorted[i])
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
	most = min(most, n/2)
	for shift := 0; shift <= most; shift++ {
		for _, s := range []int{shift, -shift} {
			r := overlap(a[:n], b[:n], s)
			if r > with.Correlation+1e-12 || math.IsNaN(with.Correlation) && !math.IsNaN(r) {
				with = Shift{s, r}
			}
			if r < against.Correlation-1e-12 || math.IsNaN(against.Correlation) && !math.IsNaN(r) {
				against = Shift{s, r}
			}
		}
	}
	return with, against
}

// overlap is the correlation of a with b moved back by a shift.
func overlap(a, b []float64, shift int) float64 {
	if shift >= 0 {
		a, b = a[:len(a)-shift], b[shift:]
	} else {
		a, b = a[-shift:], b[:len(b)+shift]
	}
	if len(a) < 2 {
		return nan
	}
	if flat(a) || flat(b) {
		return nan
	}
	return stat.Correlation(a, b, nil)
}

// flat says that all values are one and the same.
func flat(values []float64) bool {
	return !slices.ContainsFunc(values, func(v float64) bool { return v != values[0] })
}
