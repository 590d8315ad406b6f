package trade

import "math"

// everyFew makes of many values one in so many to look at: 2,500 to 5,000, from which noise comes with a standard deviation
// of 2.5 % at most.
func everyFew(n int) int {
	const enough = 5_000
	return 1 + n/enough
}

// Noise is the standard deviation of what trembles in values at even steps: from second differences, which a smooth
// course leaves alone and of which white noise has six times its variance, by their median, which what
// happens now and then leaves alone. (F. Stoehr et al., ASP Conf. Ser. 394 (2008) 505, take the same with two
// steps between; from memory.) Rounded values have rounded differences: the median is taken as that of grouped ones, each
// anywhere within half a step (the usual interpolation, common practice), so that it does not jump by whole steps. Values
// that are missing are NaN; it is NaN where too few stand in a row.
//
// step is how finely they are written: the least by which one differs from the one before, 0 where none does.
func Noise(values []float64) (sigma, step float64) {
	const few = 300
	each := everyFew(len(values))
	room := borrow(len(values)/each + 1)
	defer giveBack(room)
	bends, least := *room, math.Inf(1)
	for i := 2; i < len(values); i += each {
		up := values[i] - values[i-1]
		if bend := math.Abs(up - (values[i-1] - values[i-2])); finite(bend) {
			bends = append(bends, bend)
		}
		if up = math.Abs(up); up > 0 && up < least {
			least = up
		}
	}
	if finite(least) {
		step = least
	}
	if len(bends) < few {
		return nan, step
	}
	return NormalMAD * middleOf(bends, step) / math.Sqrt(6), step
}

// middleOf is the median of numbers from 0 up that come in steps, each anywhere within half a step. Where it is many
// steps, that is the plain one. The numbers may be put into another order.
func middleOf(bends []float64, step float64) float64 {
	var count [256]int // of so many steps
	for _, b := range bends {
		if k := b/step + 0.5; k < float64(len(count)) {
			count[int(k)]++
		}
	}
	before, half := 0.0, float64(len(bends))/2
	for k, n := range count {
		if n := float64(n); n > 0 && before+n >= half {
			low, high := math.Max(0, float64(k)-0.5), float64(k)+0.5
			return step * (low + (high-low)*(half-before)/n)
		}
		before += float64(n)
	}
	return quantileOf(bends, 0.5)
}

// Rounded is the standard deviation that rounding to steps has by itself: anywhere within half a step.
func Rounded(step float64) float64 { return step / math.Sqrt(12) }
