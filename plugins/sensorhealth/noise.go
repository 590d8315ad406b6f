package sensorhealth

import (
	"context"
	"math"

	"github.com/paintmark/paintmark/internal/trade"
	"github.com/paintmark/paintmark/plugins/sdk"
)

// Noise is the standard deviation of what trembles in a channel: from second differences, which a smooth
// course leaves alone and of which white noise has six times its variance, by their median, which what
// happens now and then leaves alone. Unseen values are NaN; it is NaN where too few were seen in a row.
func Noise(values []float64) float64 {
	const few = 300
	var bends []float64
	for i := 2; i < len(values); i++ {
		if bend := values[i] - 2*values[i-1] + values[i-2]; finite(bend) {
			bends = append(bends, math.Abs(bend))
		}
	}
	if len(bends) < few {
		return math.NaN()
	}
	return trade.NormalMAD * trade.Median(bends) / math.Sqrt(6)
}

var noise = &sdk.Check{
	ID: "sensorhealth.noise", Item: "Noise, sigma over what it reads within", System: "electrical", Unit: "%",
	Moments: []sdk.Moment{sdk.Run},
	Needs: sdk.Needs{
		Documents: []string{"channels"}, AllChannels: true,
		Limits: []sdk.Limit{
			{Name: "noise_warn", Value: 75, Unit: "%", Tighten: "down", Source: sdk.Source{Kind: "practice", Text: "readings spread evenly over all they may be off by have 58 %, and what the car does adds some"}},
			{Name: "noise_fail", Value: 100, Unit: "%", Tighten: "down", Source: sdk.Source{Kind: "practice", Text: "no readings within it can have more"}},
		},
	},
	Do:     "Shield, earth and supply of this sensor; or say in channels.yaml what it really reads within.",
	Source: practice, Accept: two,
	Run: func(_ context.Context, ev *sdk.Evidence) ([]sdk.Result, error) {
		all, ok := channels(ev)
		if !ok {
			return sdk.One(ev.NoData())
		}
		var out []sdk.Result
		for _, c := range all {
			if c.here == nil || !(c.here.Within > 0) {
				continue // nobody says what it should be
			}
			sigma := Noise(c.here.Values)
			if !finite(sigma) {
				continue // too little of it was seen, which whoever needs it says
			}
			r := sdk.Judge(sdk.Exactly(sigma/c.here.Within), ev.Ceiling("noise_fail", sdk.Fail), ev.Ceiling("noise_warn", sdk.Warn))
			r.Position, r.Despite = c.name, []string{c.name}
			out = append(out, r)
		}
		return orNone(out), nil
	},
}
