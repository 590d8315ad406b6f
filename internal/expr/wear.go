package expr

import (
	"errors"
	"math"

	"github.com/paintmark/paintmark/internal/kernel"
	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/trade"
)

// wear counts the cycles of a history by rainflow (ASTM E1049-85, 5.4.4: what stays open counts half) and
// adds up the shares of life that they use (Palmgren and Miner), along a curve of cycles over
// amplitude. The curve is not carried on: a cycle beneath it uses between nothing and what its lowest
// point does, one above it what its highest point does, or more.
//
// Where readings are off by up to e, a half cycle's range is off by up to 2e, and as many as there are
// samples may be half cycles of up to 2e: as readings are moved one by one, ranges change by no more, new ones
// begin at nothing, and where the count pairs turning points otherwise the ranges in question are equal
// (the stability of persistence pairs; D. Cohen-Steiner, H. Edelsbrunner, J. Harer, Discrete Comput. Geom. 37 (2007) 103).
func wear(curve *schema.Value) (kernel.Wear, error) {
	points := make([]trade.SNPoint, len(curve.Points))
	for i, p := range curve.Points {
		points[i] = trade.SNPoint{Amplitude: p.X, Cycles: p.Y}
		switch {
		case !(p.X > 0 && p.Y > 0):
			return kernel.Wear{}, errors.New("the curve of log.damage has a point that is not above 0")
		case i > 0 && !(p.Y < points[i-1].Cycles):
			return kernel.Wear{}, errors.New("the curve of log.damage does not fall: a wider cycle must be stood less often")
		}
	}
	least, most := points[0], points[len(points)-1]
	life := trade.SNCurve(points, 0)
	// share bounds what one cycle uses.
	share := func(amplitude float64) (low, high float64) {
		switch {
		case amplitude <= 0:
			return 0, 0
		case amplitude < least.Amplitude:
			return 0, 1 / least.Cycles
		case amplitude > most.Amplitude:
			return 1 / most.Cycles, math.Inf(1)
		}
		n := life(amplitude)
		return 1 / n, 1 / n
	}
	count := func(history []float64, off float64) (low, high float64) {
		halves := max(0, float64(len(history)-1))
		for _, c := range trade.Rainflow(history) {
			least, _ := share(c.Range/2 - off)
			_, most := share(c.Range/2 + off)
			low, high = low+c.Count*least, high+c.Count*most
			halves -= 2 * c.Count
		}
		if _, most := share(off); halves > 0 {
			high += halves / 2 * most
		}
		return low, high
	}
	text, err := schema.JSON(curve)
	return kernel.Wear{Text: string(text), Count: count}, err
}
