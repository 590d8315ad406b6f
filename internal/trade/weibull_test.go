package trade

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// NIST/SEMATECH e-Handbook 8.4.1.3: ten failures, ten units running at 500 h.
func TestFitWeibull(t *testing.T) {
	failed := []float64{54, 187, 216, 240, 244, 335, 361, 373, 375, 386}
	running := make([]float64, 10)
	for i := range running {
		running[i] = 500
	}
	w, logL, err := FitWeibull(failed, running)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "scale", w.Scale, 606.5280, 1e-5)
	near(t, "shape", w.Shape, 1.7208, 1e-5)
	near(t, "log-likelihood", logL, -75.135, 1e-5)
	near(t, "AIC", 4-2*logL, 154.27, 3e-5)
	near(t, "mean", w.Scale*math.Gamma(1+1/w.Shape), 540.737, 1e-5)

	// What follows from the printed figures.
	printed := Weibull{Shape: 1.7208, Scale: 606.5280}
	near(t, "R(300)", printed.Survival(300), 0.742462, 1e-6)
	near(t, "R(500)", printed.Survival(500), 0.488103, 1e-6)
	near(t, "B10", printed.Life(0.1), 164.0229, 1e-6)
	near(t, "risk from 300 to 400 h", printed.Risk(300, 100), 0.173662, 3e-6)
}

func TestFitWeibullRefuses(t *testing.T) {
	for _, tt := range [][2][]float64{
		{{}, {500}},
		{{300}, {500}},
		{{300, 300}, {500}},
		{{0, 300}, nil},
		{{200, 300}, {-1}},
		{{200, math.NaN()}, nil},
	} {
		if w, _, err := FitWeibull(tt[0], tt[1]); err == nil {
			t.Errorf("%v gave %+v", tt, w)
		}
	}
}

// A change of the unit of life changes the scale alone, and nothing is more likely than
// what was found.
func TestFitWeibullIsBest(t *testing.T) {
	life := rapid.Float64Range(1, 1000)
	rapid.Check(t, func(t *rapid.T) {
		failed := rapid.SliceOfN(life, 3, 20).Draw(t, "failed")
		running := rapid.SliceOfN(life, 0, 20).Draw(t, "running")
		w, best, err := FitWeibull(failed, running)
		if err != nil {
			return
		}
		scaled := func(xs []float64) []float64 {
			out := make([]float64, len(xs))
			for i, x := range xs {
				out[i] = x * 3600
			}
			return out
		}
		in, _, err := FitWeibull(scaled(failed), scaled(running))
		if err != nil || math.Abs(in.Shape-w.Shape) > 1e-9*w.Shape || math.Abs(in.Scale-3600*w.Scale) > 1e-7*in.Scale {
			t.Errorf("%+v became %+v, %v", w, in, err)
		}
		likelihood := func(w Weibull) float64 {
			sum := 0.0
			for _, x := range failed {
				sum += math.Log(w.Shape/w.Scale) + (w.Shape-1)*math.Log(x/w.Scale)
				sum += math.Log(w.Survival(x))
			}
			for _, x := range running {
				sum += math.Log(w.Survival(x))
			}
			return sum
		}
		for _, other := range []Weibull{{w.Shape * 1.01, w.Scale}, {w.Shape * 0.99, w.Scale}, {w.Shape, w.Scale * 1.01}, {w.Shape, w.Scale * 0.99}} {
			if l := likelihood(other); l > best+1e-9 {
				t.Errorf("%+v is likelier (%g) than %+v (%g)", other, l, w, best)
			}
		}
	})
}
