package sensorhealth

import (
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
	Run: perChannel(func(ev *sdk.Evidence, c declared) (sdk.Result, bool) {
		sigma := Noise(c.here.Values)
		if !(c.here.Within > 0) || !finite(sigma) {
			return sdk.Result{}, false // nobody says what it should be, or too little was seen
		}
		return sdk.Judge(sdk.Exactly(sigma/c.here.Within), ev.Ceiling("noise_fail", sdk.Fail), ev.Ceiling("noise_warn", sdk.Warn)), true
	}),
}
