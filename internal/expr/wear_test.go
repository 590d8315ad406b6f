package expr

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/trade"
)

// A life with a kink, as curves of steels have.
var kinked = []schema.Point{{X: 1, Y: 1e6}, {X: 3, Y: 1e5}, {X: 9, Y: 8e4}, {X: 30, Y: 100}}

// What is counted along a curve is what part life counts, as long as no cycle leaves the curve.
func TestWearIsDamage(t *testing.T) {
	w, err := wear(&schema.Value{Type: &schema.Type{Kind: schema.Curve}, Points: kinked})
	if err != nil {
		t.Fatal(err)
	}
	var line []trade.SNPoint
	for _, p := range kinked {
		line = append(line, trade.SNPoint{Amplitude: p.X, Cycles: p.Y})
	}
	rapid.Check(t, func(t *rapid.T) {
		history := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) float64 { return 2 * float64(rapid.IntRange(0, 30).Draw(t, "x")) }), 0, 30).Draw(t, "history")
		want := trade.Damage(trade.Rainflow(history), trade.SNCurve(line, 0), nil)
		if low, high := w.Count(history, 0); math.Abs(low-want) > 1e-12*want || math.Abs(high-want) > 1e-12*want {
			t.Fatalf("%v: %v to %v, want %v", history, low, high, want)
		}
	})
}

// Whatever the readings really were, the damage they did lies within the bounds; and so it does where only
// the least and the greatest of them were seen.
func TestWearBounds(t *testing.T) {
	w, err := wear(&schema.Value{Type: &schema.Type{Kind: schema.Curve}, Points: kinked})
	if err != nil {
		t.Fatal(err)
	}
	// A life that the bounds of cycles off the curve hold, too.
	var line []trade.SNPoint
	for _, p := range append(append([]schema.Point{{X: 1e-9, Y: 1.2e6}}, kinked...), schema.Point{X: 200, Y: 1}) {
		line = append(line, trade.SNPoint{Amplitude: p.X, Cycles: p.Y})
	}
	truth := func(history []float64) float64 {
		return trade.Damage(trade.Rainflow(history), trade.SNCurve(line, 0), nil)
	}
	within := func(x, low, high float64) bool { return x >= low*(1-1e-12) && x <= high*(1+1e-12) }
	rapid.Check(t, func(t *rapid.T) {
		off := rapid.SampledFrom([]float64{0, 0.2, 0.5, 1, 2, 5}).Draw(t, "off")
		widest := rapid.SampledFrom([]int{0, 1, 4, 20, 60}).Draw(t, "widest")
		read := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) float64 { return float64(rapid.IntRange(-widest, widest).Draw(t, "x")) }), 1, 24).Draw(t, "read")
		real := make([]float64, len(read))
		for i, x := range read {
			real[i] = x + off*float64(rapid.IntRange(-4, 4).Draw(t, "by"))/4
		}
		low, high := w.Count(read, off)
		if got := truth(real); !within(got, low, high) {
			t.Fatalf("%v read as %v, off by %v: %v is not within %v to %v", real, read, off, got, low, high)
		}
		if low, _ := w.Count([]float64{slices.Min(read), slices.Max(read)}, 0); !within(truth(read), low, math.Inf(1)) {
			t.Fatalf("%v: %v is under %v", read, truth(read), low)
		}
	})
}
