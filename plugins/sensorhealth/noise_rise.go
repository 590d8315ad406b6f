package sensorhealth

import (
	"context"
	"math"

	"github.com/paintmark/paintmark/internal/trade"
	"github.com/paintmark/paintmark/plugins/sdk"
)

// Rise is how many times the noise of a baseline the noise sigma of values written in steps is. What rounding to the
// steps has by itself is the least that counts as a baseline's: one of 0 says that the channel stood still in steps, and
// not that any noise is too much.
func Rise(sigma, step, baseline float64) float64 {
	if sigma == 0 {
		return 0
	}
	return sigma / math.Max(baseline, trade.Rounded(step))
}

var noiseRise = &sdk.Check{
	ID: "sensorhealth.noise-rise", Item: "Noise, times that of the baseline", System: "electrical", Lenient: true,
	Moments: []sdk.Moment{sdk.Run},
	Needs: sdk.Needs{
		Documents: []string{"channels", "baseline.noise"}, AllChannels: true,
		Limits: []sdk.Limit{
			{Name: "noise_rise_warn", Value: 2, Tighten: "down", Source: sdk.Source{Kind: "practice", Text: "more than another course, road or engine speed makes of it"}},
			{Name: "noise_rise_fail", Value: 4, Tighten: "down", Source: sdk.Source{Kind: "practice", Text: "12 dB: a lost shield or earth, a loose connector or a worn track"}},
		},
	},
	Do:     "Shield, earth, supply and connector of this sensor, and what was laid beside its wire since the run of the baseline.",
	Source: sdk.Source{Kind: "practice", Text: "at least that of rounding to the log's steps counts as the baseline's"}, Accept: two,
	Run: func(_ context.Context, ev *sdk.Evidence) ([]sdk.Result, error) {
		return perKept(ev, "baseline.noise", func(ev *sdk.Evidence, all []declared, name string, baseline sdk.Value) sdk.Result {
			here := inLog(ev, all)(name)
			if here == nil {
				return sdk.CannotTell("it is not in the log")
			}
			sigma, step := declared{here: here}.tremble()
			if !finite(sigma) {
				return sdk.CannotTell("not exercised: too little of it was seen in a row")
			}
			times := Rise(sigma, step, baseline.Mid())
			return sdk.Judge(sdk.Exactly(times), ev.Ceiling("noise_rise_fail", sdk.Fail), ev.Ceiling("noise_rise_warn", sdk.Warn))
		})
	},
}
