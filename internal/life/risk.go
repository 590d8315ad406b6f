package life

import (
	"math"

	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
	"github.com/paintmark/paintmark/internal/trade"
)

// Risk is the chance that a part fails in the planned runs, from the lives of parts like it:
// those that failed, and those that were taken off whole or still run.
type Risk struct {
	Chance          Amount // share
	Failed, Running int
	Shape           float64 // of the Weibull distribution: above 1, parts wear out

	weibull trade.Weibull
}

// readLives fits the lives of a limit; nil where it has none, or they do not make a fit.
func (b *book) readLives(m *Meter, v *schema.Value) *Risk {
	if v == nil || v.Unknown {
		return nil
	}
	read := func(key string) (lives []float64, ok bool) {
		for _, i := range items(v.Fields[key]) {
			n, ok := m.read(i, &b.faults)
			if !ok {
				return nil, false
			}
			lives = append(lives, n)
		}
		return lives, true
	}
	failed, ok1 := read("failed")
	running, ok2 := read("running")
	if !ok1 || !ok2 {
		return nil
	}
	w, _, err := trade.FitWeibull(failed, running)
	if err != nil {
		b.faults = append(b.faults, source.Fault{Pos: v.Pos, What: "these lives give no chance of failing: " + err.Error(), Remedy: "write more of them, or take lives out"})
		return nil
	}
	return &Risk{Failed: len(failed), Running: len(running), Shape: w.Shape, weibull: w}
}

// ahead is the chance of failing in what is planned, for a part that has reached what it used.
// It grows or falls with the life reached, as the shape has it, and grows with what is planned.
func (r *Risk) ahead(used, planned Amount) {
	r.Chance = Amount{0, 1, true}
	if math.IsInf(used.High, 1) || math.IsInf(planned.High, 1) {
		return
	}
	x := r.weibull.Risk(used.Low, planned.Low)
	y := r.weibull.Risk(used.High, planned.Low)
	low := min(x, y)
	x = r.weibull.Risk(used.Low, planned.High)
	y = r.weibull.Risk(used.High, planned.High)
	r.Chance = Amount{low, max(x, y), used.Estimated}
}
