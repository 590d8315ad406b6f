package hydraulics

import (
	"context"
	"fmt"
	"math"

	"github.com/paintmark/paintmark/internal/trade"
	"github.com/paintmark/paintmark/plugins/sdk"
)

// Kink is where a falling pressure breaks off: oil is held by the gas down to the precharge, and
// what is left then drops at once. Pressures are gauge, Pa, at rising times, NaN where unseen.
//
// A fall counts as long as it does not rise by more than ripple. The kink is the pressure from
// which the rest of the fall is ten times as steep as the fall before it; the answer is the pressure
// on either side of that sample. ok is false where no fall shows one.
func Kink(times, pressures []float64, ripple float64) (low, high, at float64, ok bool) {
	const (
		steeper = 10
		slowest = 3.0 // s of slow fall needed before, so that a shift's own dip is none
		small   = 0.3 // of the pressure before must go after the kink
	)
	for from := 0; from < len(times); {
		// one falling stretch
		to, bottom := from, pressures[from]
		for to+1 < len(times) && pressures[to+1] <= bottom+ripple { // NaN ends it
			to++
			bottom = math.Min(bottom, pressures[to])
		}
		if k := steepest(times[from:to+1], pressures[from:to+1]); k > 0 {
			k += from
			before := (pressures[from] - pressures[k]) / (times[k] - times[from])
			after := (pressures[k] - pressures[to]) / (times[to] - times[k])
			fallen := (pressures[k] - pressures[to]) / pressures[k]
			if times[k]-times[from] >= slowest && after >= steeper*math.Max(before, 0) && fallen >= small {
				return pressures[min(k+1, to)], pressures[k-1], times[k], true
			}
		}
		from = to + 1
	}
	return 0, 0, 0, false
}

// steepest is the sample that parts a fall best into two straight lines, by the greatest
// distance from the chord between its ends; 0 where there is none.
func steepest(t, p []float64) int {
	n := len(t) - 1
	if n < 4 {
		return 0
	}
	best, where := 0.0, 0
	for i := 1; i < n; i++ {
		chord := p[0] + (p[n]-p[0])*(t[i]-t[0])/(t[n]-t[0])
		if d := p[i] - chord; d > best {
			best, where = d, i
		}
	}
	return where
}

var prechargeSeen = &sdk.Check{
	ID: "hydraulics.precharge-seen", Item: "Precharge as the pressure's decay shows it", System: "hydraulics",
	Moments: []sdk.Moment{sdk.Run}, Applies: fitted, Lenient: true,
	Needs: sdk.Needs{
		Documents: []string{"car.hydraulics.precharge_at_20C"},
		Channels:  []sdk.ChannelNeed{{Name: "hyd_pressure", Quantity: "pressure", Reads: "gauge"}},
		From:      []string{"run", "return", "stands", "cold"},
		Limits: []sdk.Limit{
			{Name: "seen_warn", Value: 0.95, Tighten: "up", Source: practice},
			{Name: "seen_fail", Value: 0.90, Tighten: "up", Source: practice},
		},
	},
	Do: "Test the precharge with the gauge, oil side at zero; a bladder that has let go holds none.", Caution: "stored-pressure",
	Source: sdk.Source{Kind: "practice", Text: "at shut-down the pressure falls slowly to the precharge, then at once"}, Accept: team,
	Run: func(_ context.Context, ev *sdk.Evidence) ([]sdk.Result, error) {
		sheet := ev.Number("car.hydraulics.precharge_at_20C")
		p := ev.Channel("hyd_pressure")
		if !sheet.Known || p == nil {
			return sdk.One(ev.NoData())
		}
		low, high, at, ok := Kink(p.Times, p.Values, 1*bar)
		if !ok {
			r := sdk.CannotTell("the pressure never fell past the precharge in this log")
			r.Despite = []string{"hyd_pressure"}
			return sdk.One(r)
		}
		// The gas was between a cold start and hot oil: the share of the sheet's at 20 °C lies between.
		share := func(seen, t float64) float64 { return trade.GaugeAt(seen, station, t, coldest) / sheet.Mid() }
		r := sdk.Judge(sdk.Between(share(low, hot), share(high, coldest)), ev.Floor("seen_fail", sdk.Fail), ev.Floor("seen_warn", sdk.Warn))
		r.Message = fmt.Sprintf("broke off at %.0f bar", (low+high)/2/bar)
		r.At = &sdk.At{Time: at, Within: p.Period}
		return sdk.One(r)
	},
}
