package trade

import (
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat"
	"pgregory.net/rapid"
)

func nist(t *testing.T, name string) []float64 {
	t.Helper()
	data, err := os.ReadFile("testdata/nist-strd/" + name + ".txt")
	if err != nil {
		t.Fatal(err)
	}
	var values []float64
	for line := range strings.Lines(string(data)) {
		if strings.HasPrefix(line, "#") {
			continue
		}
		for _, f := range strings.Fields(line) {
			v, err := strconv.ParseFloat(f, 64)
			if err != nil {
				t.Fatal(err)
			}
			values = append(values, v)
		}
	}
	return values
}

// NIST Statistical Reference Datasets, certified values; the tolerance is what doubles reach.
func TestMeanSD(t *testing.T) {
	alternating := func(first, a, b float64) []float64 {
		values := []float64{first}
		for range 500 {
			values = append(values, a, b)
		}
		return values
	}
	for _, tt := range []struct {
		name     string
		values   []float64
		n        int
		mean, sd float64
		share    float64
	}{
		{"Lew", nist(t, "lew"), 200, -177.435000000000, 277.332168044316, 1e-13},
		{"Lottery", nist(t, "lottery"), 218, 518.958715596330, 291.699727470969, 1e-13},
		{"Mavro", nist(t, "mavro"), 50, 2.00185600000000, 0.000429123454003053, 1e-12},
		{"NumAcc1", []float64{10000001, 10000003, 10000002}, 3, 10000002, 1, 1e-13},
		{"NumAcc2", alternating(1.2, 1.1, 1.3), 1001, 1.2, 0.1, 1e-13},
		{"NumAcc3", alternating(1000000.2, 1000000.1, 1000000.3), 1001, 1000000.2, 0.1, 1e-8},
		{"NumAcc4", alternating(10000000.2, 10000000.1, 10000000.3), 1001, 10000000.2, 0.1, 1e-7},
	} {
		if len(tt.values) != tt.n {
			t.Errorf("%s has %d values", tt.name, len(tt.values))
		}
		mean, sd := MeanSD(tt.values)
		near(t, tt.name+" mean", mean, tt.mean, 1e-14)
		near(t, tt.name+" deviation", sd, tt.sd, tt.share)
	}
	// 40 CFR 1065.602.
	mean, sd := MeanSD([]float64{10.60, 11.91, 11.09})
	near(t, "mean", mean, 11.20, 1e-12)
	near(t, "deviation", sd, 0.6619, 1e-4)
	mean, sd = MeanSD([]float64{3})
	near(t, "mean of one", mean, 3, 0)
	none(t, "deviation of one", sd)
	mean, _ = MeanSD(nil)
	none(t, "mean of none", mean)
}

// Hyndman and Fan's type 7 on the encyclopedic example.
func TestQuantile(t *testing.T) {
	values := []float64{6, 47, 49, 15, 42, 41, 7, 39, 43, 40, 36}
	for share, want := range map[float64]float64{0.25: 25.5, 0.5: 40, 0.75: 42.5, 0.9: 47, 0: 6, 1: 49} {
		near(t, "quantile", Quantile(values, share), want, 1e-12)
	}
	if got := Median(nist(t, "lew")); got != -162 {
		t.Errorf("median of Lew is %g", got)
	}
	none(t, "median of none", Median(nil))
	none(t, "median with a gap", Median([]float64{1, math.NaN()}))
	none(t, "quantile 1.1", Quantile(values, 1.1))
}

// The order statistics, and what lies between them, are those of sorted values.
func TestQuantileIsOfSorted(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		values := rapid.SliceOfN(rapid.OneOf(rapid.Float64Range(-1e6, 1e6), rapid.Map(rapid.IntRange(0, 3), func(i int) float64 { return float64(i) })), 1, 60).Draw(t, "values")
		share := rapid.Float64Range(0, 1).Draw(t, "share")
		sorted := slices.Sorted(slices.Values(values))
		h := share * float64(len(values)-1)
		i := int(h)
		want := sorted[i]
		if i+1 < len(sorted) {
			want += (h - float64(i)) * (sorted[i+1] - want)
		}
		if got := Quantile(values, share); math.Abs(got-want) > 1e-9 {
			t.Errorf("quantile %g of %v is %g, want %g", share, values, got, want)
		}
	})
}

func TestQuantileIsBetween(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		values := rapid.SliceOfN(rapid.Float64Range(-1e6, 1e6), 1, 40).Draw(t, "values")
		a, b := rapid.Float64Range(0, 1).Draw(t, "a"), rapid.Float64Range(0, 1).Draw(t, "b")
		low, high := Quantile(values, min(a, b)), Quantile(values, max(a, b))
		if low > high || low < slices.Min(values) || high > slices.Max(values) {
			t.Errorf("%g and %g", low, high)
		}
	})
}

// Between is what lies between two quantiles, and leaves the values in their order.
func TestBetween(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		values := rapid.SliceOfN(rapid.Float64Range(-1e6, 1e6), 1, 40).Draw(t, "values")
		low, high := rapid.Float64Range(0, 1).Draw(t, "low"), rapid.Float64Range(0, 1).Draw(t, "high")
		before := slices.Clone(values)
		if got, want := Between(values, low, high), Quantile(values, high)-Quantile(values, low); got != want || !slices.Equal(values, before) {
			t.Errorf("%g, want %g", got, want)
		}
	})
	none(t, "between no values", Between(nil, 0.01, 0.99))
	none(t, "between what is no number", Between([]float64{1, math.NaN(), 3}, 0.01, 0.99))
	none(t, "from less than nothing", Between([]float64{1, 2, 3}, -0.01, 0.99))
	none(t, "to more than all", Between([]float64{1, 2, 3}, 0.01, 1.01))
}

// Room that was given back is lent again to one at a time, and is empty.
func TestBorrow(t *testing.T) {
	room := borrow(100)
	*room = append(*room, 1, 2, 3)
	giveBack(room)
	for range 3 {
		one, other := borrow(100), borrow(50)
		if one == other || len(*one) > 0 || len(*other) > 0 || cap(*one) < 100 || cap(*other) < 50 {
			t.Fatalf("lent %v and %v", one, other)
		}
		giveBack(one)
		giveBack(other)
	}
}

func TestHampel(t *testing.T) {
	values := []float64{1, 2, 3, 4, 8, -4, 9, -3, -2, -1, 9, 3, 4, 2, 0}
	// A help page marks sample 11 of these; the usual definition marks none.
	if marked := Hampel(values, 3, 3); slices.Contains(marked, true) {
		t.Errorf("marked %v", marked)
	}
	spike := []float64{1, 1.1, 0.9, 1, 30, 1.1, 1, 0.9, 1, 1.1}
	for i, m := range Hampel(spike, 3, 3) {
		if m != (i == 4) {
			t.Errorf("sample %d: %v", i, m)
		}
	}
	near(t, "MAD", MAD([]float64{1, 1, 2, 2, 4, 6, 9}), 1, 0) // the encyclopedic example
	if got := Hampel([]float64{1, math.NaN(), 50}, 3, 3); slices.Contains(got, true) {
		t.Errorf("marked beside a gap: %v", got)
	}
}

func TestTheilSen(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		slope := rapid.Float64Range(-10, 10).Draw(t, "slope")
		n := rapid.IntRange(7, 30).Draw(t, "n")
		x, y := make([]float64, n), make([]float64, n)
		for i := range x {
			x[i] = float64(i)
			y[i] = 3 + slope*x[i]
		}
		// A fifth of the points may lie anywhere: most pairs are still good.
		for range n / 5 {
			y[rapid.IntRange(0, n-1).Draw(t, "wild")] = rapid.Float64Range(-1e6, 1e6).Draw(t, "value")
		}
		got, intercept := TheilSen(x, y)
		if math.Abs(got-slope) > 1e-9 || math.Abs(intercept-3) > 1e-6 {
			t.Errorf("slope %g intercept %g, want %g and 3", got, intercept, slope)
		}
	})
	slope, _ := TheilSen([]float64{1, 1}, []float64{2, 3})
	none(t, "slope at one x", slope)
}

// What is left of a series without its ends is what plain sums over it come to.
func TestWithoutEnds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		values := rapid.SliceOfN(rapid.Map(rapid.IntRange(0, 1), func(i int) float64 { return 0.1 + float64(i)/3 }), 3, 30).Draw(t, "values")
		most := len(values) / 2
		head := rapid.IntRange(0, most).Draw(t, "head")
		tail := rapid.IntRange(0, min(most, len(values)-head-1)).Draw(t, "tail")
		s := summed(values, most)
		left := s.values[head : len(values)-tail]
		mean, sum, spread := stat.Mean(left, nil), 0.0, 0.0
		for _, v := range left {
			sum, spread = sum+v, spread+(v-mean)*(v-mean)
		}
		still := slices.Min(left) == slices.Max(left)
		if gotSum, gotSpread, flat := s.without(head, tail); math.Abs(gotSum-sum) > 1e-12 || math.Abs(gotSpread-spread) > 1e-12 || flat != still {
			t.Errorf("%v: %g, %g, %v, want %g, %g, %v", left, gotSum, gotSpread, flat, sum, spread, still)
		}
	})
}

func TestLag(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		values := rapid.SliceOfNDistinct(rapid.Float64Range(-100, 100), 80, 120, func(v float64) float64 { return v }).Draw(t, "values")
		shift := rapid.IntRange(-10, 10).Draw(t, "shift")
		n := len(values) - 10
		a, b := values[:n], values[:n]
		if shift >= 0 {
			a = values[shift:][:n]
		} else {
			b = values[-shift:][:n]
		}
		// b[i] = a[i-shift]: b follows a by shift.
		with, _ := Lag(a, b, 20)
		if with.Lag != shift || with.Correlation < 0.999999 {
			t.Errorf("%+v, want lag %d", with, shift)
		}
		turned := make([]float64, len(b))
		for i, v := range b {
			turned[i] = 3 - v
		}
		if _, against := Lag(a, turned, 20); against.Lag != shift || against.Correlation > -0.999999 {
			t.Errorf("turned about: %+v, want lag %d", against, shift)
		}
	})
	// Each shift's correlation beside the plain one of what overlaps.
	rapid.Check(t, func(t *rapid.T) {
		series := rapid.SliceOfN(rapid.Map(rapid.IntRange(-5, 5), func(i int) float64 { return 1e3 + float64(i)/3 }), 4, 40)
		a, b := series.Draw(t, "a"), series.Draw(t, "b")
		n := min(len(a), len(b))
		best, worst := math.NaN(), math.NaN()
		for shift := -n / 2; shift <= n/2; shift++ {
			r := stat.Correlation(a[max(0, -shift):n-max(0, shift)], b[max(0, shift):n-max(0, -shift)], nil)
			if !math.IsNaN(r) && !(r <= best) {
				best = r
			}
			if !math.IsNaN(r) && !(r >= worst) {
				worst = r
			}
		}
		with, against := Lag(a, b, n)
		for _, c := range [][2]float64{{with.Correlation, best}, {against.Correlation, worst}} {
			if got, want := c[0], c[1]; math.IsNaN(got) != math.IsNaN(want) || math.Abs(got-want) > 1e-8 {
				t.Errorf("correlation %g, want %g", got, want)
			}
		}
	})
	with, against := Lag([]float64{1, 1, 1}, []float64{1, 2, 3}, 1)
	if with.Lag != 0 || against.Lag != 0 {
		t.Errorf("lags %d and %d of nothing", with.Lag, against.Lag)
	}
	none(t, "correlation of a flat line", with.Correlation)
	none(t, "the least correlation of a flat line", against.Correlation)
}
