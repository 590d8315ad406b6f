package trade

import "math"

// everyFew makes of many values one in so many to look at, which is good to 1 % of their noise.
func everyFew(n int) int {
	const enough = 20_000
	return 1 + n/enough
}

// Noise is the standard deviation of what trembles in values at even steps: from second differences, which a smooth
// course leaves alone and of which white noise has six times its variance, by their median, which what
// happens now and then leaves alone. (F. Stoehr et al., ASP Conf. Ser. 394 (2008) 505, take the same with two
// steps between; from memory.) Rounded values have rounded differences: the median is taken as that of grouped ones, each
// anywhere within half a step (the usual interpolation, common practice), so that it does not jump by whole steps. Values
// that are missing are NaN; it is NaN where too few stand in a row.
func Noise(values []float64) float64 {
	const few = 300
	each := everyFew(len(values))
	bends := make([]float64, 0, len(values)/each)
	for i := 2; i < len(values); i += each {
		if bend := values[i] - 2*values[i-1] + values[i-2]; finite(bend) {
			bends = append(bends, math.Abs(bend))
		}
	}
	if len(bends) < few {
		return nan
	}
	half := Step(values) / 2
	middle := Median(bends)
	low, high := math.Max(0, middle-half), middle+half
	var below, within float64
	for _, b := range bends {
		switch {
		case b < low:
			below++
		case b < high:
			within++
		}
	}
	if within > 0 {
		middle = low + (high-low)*(float64(len(bends))/2-below)/within
	}
	return NormalMAD * middle / math.Sqrt(6)
}

// Rounded is the standard deviation that rounding to steps has by itself: anywhere within half a step.
func Rounded(step float64) float64 { return step / math.Sqrt(12) }

// Step is how finely values are written: the least by which one differs from the one before. 0 where none does.
func Step(values []float64) float64 {
	least := math.Inf(1)
	for i := 1; i < len(values); i += everyFew(len(values)) {
		if d := math.Abs(values[i] - values[i-1]); d > 0 && d < least {
			least = d
		}
	}
	if math.IsInf(least, 1) {
		return 0
	}
	return least
}
