package trade

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// Noise that is put on a course is told, also where the values are written in steps as wide as it. Rounding adds
// its own variance, a twelfth of the step squared.
func TestNoise(t *testing.T) {
	for _, sigma := range []float64{0.05, 0.2, 1} {
		for _, step := range []float64{0, 0.5 * sigma, sigma, 1.5 * sigma} {
			for seed := range uint64(5) {
				src := rand.New(rand.NewPCG(seed, 11))
				values := make([]float64, 8000)
				for i := range values {
					x := 3*math.Sin(float64(i)/300) + sigma*src.NormFloat64()
					if step > 0 {
						x = step * math.Round(x/step)
					}
					values[i] = x
				}
				values[100], values[101] = nan, 80
				want := math.Hypot(sigma, step/math.Sqrt(12))
				got, steps := Noise(values)
				if math.Abs(got/want-1) > 0.07 {
					t.Errorf("sigma %g in steps of %g: %g, want %g", sigma, step, got, want)
				}
				if step > 0 && math.Abs(steps/step-1) > 1e-6 {
					t.Errorf("steps of %g are told as %g", step, steps)
				}
			}
		}
	}
	if got, _ := Noise(make([]float64, 50)); !math.IsNaN(got) {
		t.Error("of fifty values it cannot be told")
	}
	if got, step := Noise(make([]float64, 500)); got != 0 || step != 0 {
		t.Errorf("values that stand still have noise %g in steps of %g", got, step)
	}
	if got := Rounded(1); math.Abs(got-0.2886751) > 1e-6 {
		t.Errorf("rounding to whole numbers has %g", got)
	}
}

// The median of numbers in steps, each anywhere within half a step, worked out by hand: half way by count through the step
// that it lies in. None is below 0. Of many steps it is the plain one.
func TestMiddleOf(t *testing.T) {
	for _, c := range []struct {
		values     []float64
		step, want float64
	}{
		{[]float64{0, 1, 1, 2}, 1, 1},
		{[]float64{2, 0, 1, 1, 2, 2}, 1, 1.5},
		{[]float64{2, 2, 0, 1, 2}, 1, 1.5 + 0.5/3},
		{[]float64{0.2, 0, 0.1, 0.1, 0.2, 0.2}, 0.1, 0.15},
		{[]float64{0, 1, 0, 0}, 1, 0.5 * 2 / 3},
		{[]float64{0, 0, 1000, 1000, 1000}, 1, 1000},
		{[]float64{3, 1, 2}, 0, 2},
	} {
		near(t, "the middle", middleOf(slices.Clone(c.values), c.step), c.want, 1e-12)
	}
}

// However many values there are, noise comes out of those looked at with a standard deviation of 2.5 % at most. Of 5,000
// the fewest are looked at, every second one.
func TestNoiseIsGoodTo(t *testing.T) {
	for _, n := range []int{5000, 9500, 40_000} {
		var told []float64
		for seed := range uint64(400) {
			src := rand.New(rand.NewPCG(seed, 5))
			values := make([]float64, n)
			for i := range values {
				values[i] = 5*math.Sin(float64(i)/300) + src.NormFloat64()
			}
			sigma, _ := Noise(values)
			told = append(told, sigma)
		}
		if mean, sd := MeanSD(told); math.Abs(mean-1) > 0.005 || sd > 0.025 {
			t.Errorf("%d values: %.4f of it on average, with a standard deviation of %.4f", n, mean, sd)
		}
	}
}
