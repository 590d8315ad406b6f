package pack

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"github.com/paintmark/paintmark/internal/check"
)

func at(v float64) *interval { i := exactly(v); return &i }

func TestDecideOnTheLimitPasses(t *testing.T) {
	inf := math.Inf(1)
	fail, warn := &edges{hi: at(0.40)}, &edges{hi: at(0.32)}
	tyre := &edges{lo: at(-0.02e5), hi: at(0.02e5)}
	for _, c := range []struct {
		name       string
		v          interval
		fail, warn *edges
		want       check.Outcome
	}{
		{"inside", exactly(0.28), fail, warn, check.Pass},
		{"on the warn limit", exactly(0.32), fail, warn, check.Pass},
		{"on the warn limit but for rounding", exactly(0.1 + 0.22), fail, warn, check.Pass},
		{"just over the warn limit", exactly(0.3201), fail, warn, check.Warn},
		{"over the fail limit", exactly(0.46), fail, warn, check.Fail},
		{"known to a band over the fail limit", interval{0.41, 0.43}, fail, warn, check.Fail},
		{"fail limit lies between", interval{0.39, 0.41}, fail, warn, check.NoData},
		{"warn limit lies between", interval{0.31, 0.33}, fail, warn, check.NoData},
		{"unanswered but already late", interval{0.50, inf}, fail, warn, check.Fail},
		{"unanswered and still early", interval{0.10, inf}, fail, warn, check.NoData},
		{"1.17 bar against 1.15 + 0.02 bar", exactly((1.17 - 1.15) * 1e5), tyre, nil, check.Pass},
		{"1.13 bar against 1.15 - 0.02 bar", exactly((1.13 - 1.15) * 1e5), tyre, nil, check.Pass},
		{"outside below", exactly(-0.03e5), tyre, nil, check.Fail},
		{"not a number", exactly(math.NaN()), fail, warn, check.NoData},
		{"limit unknown", exactly(0.1), &edges{hi: &interval{-inf, inf}}, nil, check.NoData},
		{"a zero limit, off by rounding", exactly(-1e-12), &edges{lo: at(0)}, nil, check.Pass},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := decide(c.v, c.fail, c.warn, 1); got != c.want {
				t.Errorf("got %s, want %s", got, c.want)
			}
		})
	}
}

// An interval is decided only if every value in it comes to the same outcome, and
// narrowing what is known never turns one decided outcome into another.
func TestDecideAgreesWithEveryValueInside(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		num := rapid.Float64Range(-10, 10)
		lo, hi := num.Draw(t, "lo"), num.Draw(t, "hi")
		v := interval{min(lo, hi), max(lo, hi)}
		edge := func(name string) *edges {
			a, b := num.Draw(t, name+" a"), num.Draw(t, name+" b")
			switch rapid.IntRange(0, 2).Draw(t, name+" shape") {
			case 0:
				return &edges{lo: at(a)}
			case 1:
				return &edges{hi: at(a)}
			}
			return &edges{lo: at(min(a, b)), hi: at(max(a, b))}
		}
		fail, warn := edge("fail"), edge("warn")
		whole := decide(v, fail, warn, 1)
		share := rapid.Float64Range(0, 1).Draw(t, "share")
		point := decide(exactly(v.low+share*(v.high-v.low)), fail, warn, 1)
		if point == check.NoData {
			t.Fatalf("a known value is undecided")
		}
		if whole != check.NoData && whole != point {
			t.Fatalf("%v is %s, a value inside it %s", v, whole, point)
		}
	})
}
