package sensorhealth

import (
	"context"
	"math"

	"github.com/paintmark/paintmark/internal/trade"
	"github.com/paintmark/paintmark/plugins/sdk"
)

// Above is by how much b reads above a, the median of when both were seen, and what a goes through (1 to 99 %). NaN where
// they hardly were, or hardly moved.
func Above(a, b *sdk.Channel) (above, through float64) {
	const few = 300
	off, through := both(a, b)
	if len(off) < few || !(through > 0) {
		return math.NaN(), math.NaN()
	}
	return trade.Median(off), through
}

var pairShift = &sdk.Check{
	ID: "sensorhealth.pair-shift", Item: "Pair apart otherwise than in the baseline, of its travel", System: "electrical", Unit: "%", Lenient: true,
	Moments: []sdk.Moment{sdk.Run},
	Needs: sdk.Needs{
		Documents: []string{"channels", "baseline.apart"}, AllChannels: true,
		Limits: []sdk.Limit{
			{Name: "pair_shift_warn", Value: 2, Unit: "%", Tighten: "down", Source: practice},
			{Name: "pair_shift_fail", Value: 5, Unit: "%", Tighten: "down", Source: practice},
		},
	},
	Do:     "The one of the two that works loose, wears or was set anew since the run of the baseline; compare both with a third.",
	Source: sdk.Source{Kind: "practice", Text: "medians of the two runs"}, Accept: two,
	Run: func(_ context.Context, ev *sdk.Evidence) ([]sdk.Result, error) {
		return perKept(ev, "baseline.apart", func(ev *sdk.Evidence, all []declared, name string, baseline sdk.Value) sdk.Result {
			pair := ""
			for _, c := range all {
				if c.name == name {
					pair, _ = c.Get("pair_with").Text()
				}
			}
			one, other := inLog(ev, all)(name), inLog(ev, all)(pair)
			if one == nil || other == nil {
				return sdk.CannotTell("the two are not in the log")
			}
			above, through := Above(other, one)
			r := sdk.CannotTell("not exercised: too little of both was seen to move")
			if finite(above) {
				share := math.Abs(above-baseline.Mid()) / through
				r = sdk.Judge(sdk.Exactly(share), ev.Ceiling("pair_shift_fail", sdk.Fail), ev.Ceiling("pair_shift_warn", sdk.Warn))
			}
			r.Despite = []string{pair}
			return r
		})
	},
}
