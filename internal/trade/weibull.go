package trade

import (
	"errors"
	"math"
)

// Weibull is the two-parameter distribution of time to failure.
type Weibull struct{ Shape, Scale float64 }

// FitWeibull is the maximum-likelihood estimate from the lives of parts that failed and
// of parts taken off or still running (censored on the right), with its log-likelihood.
// NIST/SEMATECH e-Handbook 8.4.1.3. It needs two failures at different lives.
func FitWeibull(failed, survived []float64) (w Weibull, logLikelihood float64, err error) {
	if !positive(failed...) || !positive(survived...) {
		return w, nan, errors.New("every life must be above zero")
	}
	longest, shortest, mean := 0.0, math.Inf(1), 0.0
	for _, t := range failed {
		longest, shortest = max(longest, t), min(shortest, t)
	}
	if len(failed) < 2 || longest == shortest {
		return w, nan, errors.New("a fit needs two failures at different lives")
	}
	for _, t := range survived {
		longest = max(longest, t)
	}
	for _, t := range failed {
		mean += math.Log(t/longest) / float64(len(failed))
	}
	// The likelihood equation in the shape alone; it falls from +∞ to below 0, once.
	// Lives are taken over the longest one, so that powers stay within 0 and 1.
	score := func(shape float64) float64 {
		sum, weighted := 0.0, 0.0
		for _, lives := range [][]float64{failed, survived} {
			for _, t := range lives {
				l := math.Log(t / longest)
				p := math.Exp(shape * l)
				sum += p
				weighted += p * l
			}
		}
		return 1/shape + mean - weighted/sum
	}
	low, high := 1e-6, 1.0
	for score(high) > 0 {
		if high *= 2; high > 1e6 {
			return w, nan, errors.New("the failures lie too close together for a fit")
		}
	}
	for range 200 {
		middle := low + (high-low)/2
		if middle == low || middle == high {
			break
		}
		if score(middle) > 0 {
			low = middle
		} else {
			high = middle
		}
	}
	w.Shape = low + (high-low)/2
	sum := 0.0
	for _, lives := range [][]float64{failed, survived} {
		for _, t := range lives {
			sum += math.Pow(t/longest, w.Shape)
		}
	}
	w.Scale = longest * math.Pow(sum/float64(len(failed)), 1/w.Shape)
	for _, t := range failed {
		x := t / w.Scale
		logLikelihood += math.Log(w.Shape/w.Scale) + (w.Shape-1)*math.Log(x) - math.Pow(x, w.Shape)
	}
	for _, t := range survived {
		logLikelihood -= math.Pow(t/w.Scale, w.Shape)
	}
	return w, logLikelihood, nil
}

// Survival is the chance to reach a life.
func (w Weibull) Survival(life float64) float64 {
	if !positive(w.Shape, w.Scale) || !(life >= 0) {
		return nan
	}
	return math.Exp(-math.Pow(life/w.Scale, w.Shape))
}

// Risk is the chance that a part which has reached a life fails within so much more.
func (w Weibull) Risk(reached, more float64) float64 {
	if !positive(w.Shape, w.Scale) || !(reached >= 0) || !(more >= 0) {
		return nan
	}
	return -math.Expm1(math.Pow(reached/w.Scale, w.Shape) - math.Pow((reached+more)/w.Scale, w.Shape))
}

// Life is the life by which a share of parts has failed: Life(0.1) is B10.
func (w Weibull) Life(share float64) float64 {
	if !positive(w.Shape, w.Scale) || !(share >= 0 && share < 1) {
		return nan
	}
	return w.Scale * math.Pow(-math.Log1p(-share), 1/w.Shape)
}
