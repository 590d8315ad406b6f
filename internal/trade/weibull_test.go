package trade

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// lives are those of parts that failed, and of parts that did not.
func lives(failed, running []float64) []Lifetime {
	var out []Lifetime
	for _, t := range failed {
		out = append(out, Lifetime{t, t})
	}
	for _, t := range running {
		out = append(out, Lifetime{t, math.Inf(1)})
	}
	return out
}

// NIST/SEMATECH e-Handbook 8.4.1.3: ten failures, ten units running at 500 h.
func TestFitWeibull(t *testing.T) {
	w, err := FitWeibull(lives([]float64{54, 187, 216, 240, 244, 335, 361, 373, 375, 386}, slices.Repeat([]float64{500}, 10)))
	if err != nil {
		t.Fatal(err)
	}
	near(t, "scale", w.Scale, 606.5280, 1e-5)
	near(t, "shape", w.Shape, 1.7208, 1e-5)
	near(t, "log-likelihood", w.LogLikelihood, -75.135, 1e-5)
	near(t, "AIC", 4-2*w.LogLikelihood, 154.27, 3e-5)
	near(t, "mean", w.Scale*math.Gamma(1+1/w.Shape), 540.737, 1e-5)

	// What follows from the printed figures.
	printed := Weibull{Shape: 1.7208, Scale: 606.5280}
	near(t, "R(300)", printed.Survival(300), 0.742462, 1e-6)
	near(t, "R(500)", printed.Survival(500), 0.488103, 1e-6)
	near(t, "B10", printed.Life(0.1), 164.0229, 1e-6)
	near(t, "risk from 300 to 400 h", printed.Risk(300, 100), 0.173662, 3e-6)
}

// The shock absorbers of Meeker and Escobar (1998), p. 630, km, after D. O'Connor: 11 failures and
// 27 taken off whole, one in the middle of the other. Their table 8.1 (from memory) has a location of
// 10.23 with a standard error of 0.1099, and a scale of the logarithm of 0.3164 with one of 0.07317.
func TestFitWeibullOfManyCensored(t *testing.T) {
	failed := []float64{6700, 9120, 12200, 13150, 14300, 17520, 20100, 20900, 22700, 26510, 27490}
	whole := []float64{
		6950, 7820, 8790, 9660, 9820, 11310, 11690, 11850, 11880, 12140, 12870, 13330, 13470, 14040, 17540, 17890,
		18420, 18960, 18980, 19410, 20100, 20150, 20320, 23490, 27410, 27890, 28100,
	}
	f, err := FitWeibull(lives(failed, whole))
	if err != nil {
		t.Fatal(err)
	}
	near(t, "location", math.Log(f.Scale), 10.23, 5e-4)
	near(t, "scale", 1/f.Shape, 0.3164, 3e-4)
	// The errors from the curvature, by the chain rule from (a, b) to (a/b, 1/b).
	_, _, h := likelihood(f.lives, f.best)
	det := h.aa*h.bb - h.ab*h.ab
	vaa, vab, vbb := -h.bb/det, h.ab/det, -h.aa/det
	p := f.best
	near(t, "error of the location", math.Sqrt(vaa/(p.b*p.b)-2*p.a/(p.b*p.b*p.b)*vab+p.a*p.a/math.Pow(p.b, 4)*vbb), 0.1099, 2e-3)
	near(t, "error of the scale", math.Sqrt(vbb)/(p.b*p.b), 0.07317, 2e-3)
}

func TestFitWeibullRefuses(t *testing.T) {
	for _, tt := range [][2][]float64{
		{{}, {500}},
		{{300}, {500}},
		{{300, 300}, {200}},
		{{300, 300}, nil},
		{{0, 300}, nil},
		{{200, 300}, {-1}},
		{{200, math.NaN()}, nil},
	} {
		if w, err := FitWeibull(lives(tt[0], tt[1])); err == nil {
			t.Errorf("%v gave %+v", tt, w)
		}
	}
	for _, tt := range [][]Lifetime{
		{{10, 20}, {15, 25}},                    // both may have been at 18
		{{10, 20}, {15, 25}, {19, math.Inf(1)}}, // the one that did not fail does not tell
		{{20, 10}, {5, 6}},
	} {
		if w, err := FitWeibull(tt); err == nil {
			t.Errorf("%v gave %+v", tt, w)
		}
	}
}

// drawn are lives of every kind.
func drawn(t *rapid.T) []Lifetime {
	life := rapid.Float64Range(1, 1000)
	out := lives(rapid.SliceOfN(life, 0, 12).Draw(t, "failed"), rapid.SliceOfN(life, 0, 12).Draw(t, "running"))
	for range rapid.IntRange(0, 8).Draw(t, "between") {
		x, y := life.Draw(t, "x"), life.Draw(t, "y")
		if rapid.Bool().Draw(t, "from new") {
			x = 0
		}
		out = append(out, Lifetime{min(x, y), max(x, y)})
	}
	return out
}

// logLikelihood is worked out from the distribution alone, another way than the fit does.
func logLikelihood(lives []Lifetime, w Weibull) float64 {
	sum := 0.0
	for _, l := range lives {
		switch {
		case l.Low == l.High:
			sum += math.Log(w.Shape/w.Scale) + (w.Shape-1)*math.Log(l.Low/w.Scale) + math.Log(w.Survival(l.Low))
		case !l.Failed():
			sum += math.Log(w.Survival(l.Low))
		default:
			sum += math.Log(w.Survival(l.Low) - w.Survival(l.High))
		}
	}
	return sum
}

// Where the fit stands the likelihood is level, nothing near is likelier, and a change of the
// unit of life changes the scale alone.
func TestFitWeibullIsBest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		all := drawn(t)
		w, err := FitWeibull(all)
		if err != nil {
			return
		}
		_, g, h := likelihood(w.lives, w.best)
		if math.Abs(g.a) > 1e-6*(1-h.aa) || math.Abs(g.b) > 1e-6*(1-h.bb) {
			t.Errorf("slope %+v at %+v, curvature %+v", g, w.best, h)
		}
		best := logLikelihood(all, w.Weibull)
		if math.Abs(best-w.LogLikelihood) > 1e-6*(1+math.Abs(best)) {
			t.Errorf("log-likelihood %g, want %g", w.LogLikelihood, best)
		}
		for _, other := range []Weibull{{w.Shape * 1.01, w.Scale}, {w.Shape * 0.99, w.Scale}, {w.Shape, w.Scale * 1.01}, {w.Shape, w.Scale * 0.99}} {
			if l := logLikelihood(all, other); l > best+1e-7 {
				t.Errorf("%+v is likelier (%g) than %+v (%g)", other, l, w.Weibull, best)
			}
		}
		var scaled []Lifetime
		for _, l := range all {
			scaled = append(scaled, Lifetime{l.Low * 3600, l.High * 3600})
		}
		in, err := FitWeibull(scaled)
		if err != nil || math.Abs(in.Shape-w.Shape) > 1e-6*w.Shape || math.Abs(in.Scale-3600*w.Scale) > 1e-6*in.Scale {
			t.Errorf("%+v became %+v, %v", w.Weibull, in, err)
		}
	})
}

// From many simulated lives comes the distribution they were drawn from, whatever was
// censored; from few, the bound holds about as often as it says.
func TestFitWeibullRecovers(t *testing.T) {
	random := rand.New(rand.NewPCG(6, 281))
	sample := func(of Weibull, n int) []Lifetime {
		var out []Lifetime
		for i := range n {
			life := of.Life(random.Float64())
			switch taken := 1.4 * of.Scale * random.Float64(); {
			case i%3 == 0 && life > taken:
				out = append(out, Lifetime{taken, math.Inf(1)})
			case i%3 == 1: // looked at every tenth of its scale
				every := of.Scale / 10
				out = append(out, Lifetime{math.Floor(life/every) * every, math.Ceil(life/every) * every})
			default:
				out = append(out, Lifetime{life, life})
			}
		}
		return out
	}
	for _, of := range []Weibull{{0.8, 40}, {1.7, 606}, {4, 22}} {
		f, err := FitWeibull(sample(of, 6000))
		if err != nil || math.Abs(f.Shape/of.Shape-1) > 0.05 || math.Abs(f.Scale/of.Scale-1) > 0.05 {
			t.Errorf("%+v gave %+v, %v", of, f.Weibull, err)
		}
	}
	of, held, tries := Weibull{2.5, 100}, 0, 60
	for range tries {
		f, err := FitWeibull(sample(of, 20))
		if err != nil {
			t.Fatal(err)
		}
		bound, guess := f.RiskBound(40, 10, 0.9), f.Risk(40, 10)
		if !(bound >= guess && bound < 1) {
			t.Fatalf("chance %g, not above %g", guess, bound)
		}
		if bound >= of.Risk(40, 10) {
			held++
		}
	}
	// 0.9 of 60 with a standard deviation of 2.3; the ratio of likelihoods is itself an approximation.
	if held < 47 || held > 59 {
		t.Errorf("a bound with a confidence of 0.9 held in %d of %d", held, tries)
	}
}

// The bound is the greatest chance on a grid of all distributions that the lives do not speak against.
func TestRiskBound(t *testing.T) {
	all := lives([]float64{18, 22, 25}, []float64{12, 20})
	f, err := FitWeibull(all)
	if err != nil {
		t.Fatal(err)
	}
	const z90 = 1.2815515655446004
	best, most := logLikelihood(all, f.Weibull), 0.0
	for i := range 800 {
		for j := range 800 {
			w := Weibull{f.Shape * math.Exp(float64(i-400)/200), f.Scale * math.Exp(float64(j-400)/400)}
			if 2*(best-logLikelihood(all, w)) <= z90*z90 {
				most = max(most, w.Risk(15, 1))
			}
		}
	}
	near(t, "bound", f.RiskBound(15, 1, 0.9), most, 5e-3)
	if f.RiskBound(15, 1, 0.95) <= f.RiskBound(15, 1, 0.9) {
		t.Error("more confidence does not cost anything")
	}
	near(t, "an even chance is the fit's own", f.RiskBound(15, 1, 0.5), f.Risk(15, 1), 1e-6)
	none(t, "no confidence", f.RiskBound(15, 1, 1))
}
