package trade

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Weibull is the two-parameter distribution of time to failure.
type Weibull struct{ Shape, Scale float64 }

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

// Lifetime is what is known of the life at which a part failed or will fail: it lies between
// the two. One that failed has both; of one that was taken off whole or still runs nobody
// knows the end, and High is infinite (censored on the right).
type Lifetime struct{ Low, High float64 }

// Failed says that it has failed.
func (l Lifetime) Failed() bool { return !math.IsInf(l.High, 1) }

// WeibullFit is a distribution fitted to lives.
type WeibullFit struct {
	Weibull
	// LogLikelihood counts the density of a life that is known, the chance of one between bounds.
	LogLikelihood float64

	lives []Lifetime // over unit
	unit  float64
	best  point
}

// FitWeibull is the maximum-likelihood estimate from lives, those of parts that have not failed
// included. NIST/SEMATECH e-Handbook 8.4.1.3; W. Q. Meeker, L. A. Escobar, Statistical Methods
// for Reliability Data (1998), chapters 7 and 8. It needs two failures, which cannot all have
// been at one life unless another part outlived it. The likelihood is concave in the point used here, so that what is found is the best
// there is (J. Burridge, J. R. Stat. Soc. B 43 (1981) 41, from memory; the tests climb no further).
func FitWeibull(lives []Lifetime) (*WeibullFit, error) {
	f := &WeibullFit{}
	failed, total := 0, 0.0
	latest, earliest := 0.0, math.Inf(1) // the latest least and the earliest most of a failure
	outlived := 0.0
	for _, l := range lives {
		end := l.Low
		if !(l.Low >= 0) || !(l.High >= l.Low) || l.High == 0 {
			return nil, errors.New("every life must be above zero")
		}
		if l.Failed() {
			failed++
			end = l.High
			latest, earliest = max(latest, l.Low), min(earliest, l.High)
		} else {
			outlived = max(outlived, l.Low)
		}
		f.unit, total = max(f.unit, end), total+end
	}
	if failed < 2 || latest <= earliest && outlived <= earliest {
		return nil, errors.New("a fit needs two failures at different lives")
	}
	for _, l := range lives {
		f.lives = append(f.lives, Lifetime{l.Low / f.unit, l.High / f.unit})
	}
	const steepest = 1e4
	p, top := point{math.Log(total / f.unit / float64(failed)), 1}, false // as if parts did not age
	for range 200 {
		was, g, h := likelihood(f.lives, p)
		det := h.aa*h.bb - h.ab*h.ab
		step := point{-(g.a*h.bb - g.b*h.ab) / det, -(g.b*h.aa - g.a*h.ab) / det}
		if !(det > 0) { // flat as far as it can be told: go up
			step = g
		}
		if gain := (g.a*step.a + g.b*step.b) / 2; det > 0 && gain < 1e-9 { // each step more than squares what is missing
			p, top = p.plus(step, 1), true
			break
		}
		share := 1.0
		for share > 1e-9 {
			if now, _, _ := likelihood(f.lives, p.plus(step, share)); now >= was {
				break
			}
			share /= 2
		}
		if p = p.plus(step, share); p.b > steepest {
			return nil, errors.New("the failures lie too close together for a fit")
		}
	}
	f.best = p
	f.Weibull = p.weibull(f.unit)
	l, _, _ := likelihood(f.lives, p)
	f.LogLikelihood = l
	for _, x := range f.lives {
		if x.exact() {
			f.LogLikelihood -= math.Log(f.unit)
		}
	}
	if !top || !positive(f.Shape, f.Scale) || math.IsNaN(f.LogLikelihood) {
		return nil, errors.New("these lives give no fit")
	}
	return f, nil
}

// RiskBound is what Risk(reached, more) is not above, with a confidence as of 0.9: the
// greatest chance that any distribution gives which the lives do not speak against, by
// the ratio of likelihoods (Meeker and Escobar, 8.3). Few lives make it much greater than Risk.
func (f *WeibullFit) RiskBound(reached, more, confidence float64) float64 {
	if !(confidence >= 0.5 && confidence < 1) || !(reached >= 0) || !(more >= 0) {
		return nan
	}
	z := distuv.UnitNormal.Quantile(confidence)
	best, _, h := likelihood(f.lives, f.best)
	// Directions in which the likelihood falls about evenly: a root of the inverse of the curvature.
	d1 := 1 / math.Sqrt(-h.aa)
	d2 := 1 / math.Sqrt(-h.bb+h.ab*h.ab/h.aa)
	if !positive(d1, d2) {
		return nan
	}
	edge := func(angle float64) point {
		s, c := math.Sincos(angle)
		way := point{c*d1 - s*d2*h.ab/h.aa, s * d2}
		out := func(far float64) bool {
			l, _, _ := likelihood(f.lives, f.best.plus(way, far))
			return !(2*(best-l) <= z*z)
		}
		low, high := 0.0, 1.0
		for !out(high) && high < 1e6 {
			low, high = high, high*2
		}
		for range 40 {
			if mid := (low + high) / 2; out(mid) {
				high = mid
			} else {
				low = mid
			}
		}
		return f.best.plus(way, low)
	}
	chance := func(angle float64) float64 { return edge(angle).weibull(f.unit).Risk(reached, more) }
	// The chance has no top inside: the greatest is on the edge.
	const around = 36
	top, at := f.Risk(reached, more), 0.0
	for i := range around {
		angle := 2 * math.Pi * float64(i) / around
		if c := chance(angle); c > top {
			top, at = c, angle
		}
	}
	low, high := at-2*math.Pi/around, at+2*math.Pi/around
	for range 20 {
		x, y := low+(high-low)*0.382, low+(high-low)*0.618
		cx, cy := chance(x), chance(y)
		top = max(top, cx, cy)
		if cx > cy {
			high = y
		} else {
			low = x
		}
	}
	return top
}

// A point stands for a distribution: b is its shape, a is its shape times the logarithm of its
// scale. The chance to survive a life t is exp(-exp(b·ln t - a)).
type point struct{ a, b float64 }

func (p point) plus(step point, share float64) point {
	return point{p.a + share*step.a, p.b + share*step.b}
}

func (p point) weibull(unit float64) Weibull { return Weibull{p.b, unit * math.Exp(p.a/p.b)} }

// curvature is a symmetric matrix of second derivatives.
type curvature struct{ aa, ab, bb float64 }

// exact says that a life is known as well as any.
func (l Lifetime) exact() bool { return l.Failed() && l.High-l.Low <= 1e-6*l.High }

// likelihood is the logarithm of how likely lives are, its slope and curvature. A shape that is
// none is not likely at all.
func likelihood(lives []Lifetime, p point) (l float64, g point, h curvature) {
	if !(p.b > 0) {
		return math.Inf(-1), g, h
	}
	// add takes in the part that depends on e = exp(b·x - a), by its first and second derivatives.
	add := func(x, e, first, second float64) {
		g.a -= first * e
		g.b += first * e * x
		c := second*e*e + first*e
		h.aa += c
		h.ab -= c * x
		h.bb += c * x * x
	}
	for _, t := range lives {
		x := math.Log(t.Low)
		e := math.Exp(p.b*x - p.a)
		switch {
		case !t.Failed():
			if t.Low > 0 {
				l -= e
				add(x, e, -1, 0)
			}
		case t.exact():
			l += math.Log(p.b) + p.b*x - p.a - e - x
			g.a--
			g.b += 1/p.b + x
			h.bb -= 1 / (p.b * p.b)
			add(x, e, -1, 0)
		default: // exp(-e) - exp(-e2)
			x2 := math.Log(t.High)
			e2 := math.Exp(p.b*x2 - p.a)
			l += -e + math.Log(-math.Expm1(e-e2))
			r := 1 / math.Expm1(e2-e)
			s := r * (1 + r)
			add(x2, e2, r, -s)
			if t.Low > 0 {
				add(x, e, -1-r, -s)
				h.aa += 2 * s * e * e2
				h.ab -= s * e * e2 * (x + x2)
				h.bb += 2 * s * e * e2 * x * x2
			}
		}
	}
	return l, g, h
}
