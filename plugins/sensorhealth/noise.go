package sensorhealth

import (
	"math"

	"github.com/paintmark/paintmark/internal/trade"
	"github.com/paintmark/paintmark/plugins/sdk"
)

// Noise is the standard deviation of what trembles in a channel: from second differences, which a smooth
// course leaves alone and of which white noise has six times its variance, by their median, which what
// happens now and then leaves alone. Of a long log one in so many is taken, which is good to 1 %. Unseen values are
// NaN; it is NaN where too few were seen in a row.
func Noise(values []float64) float64 {
	const few, enough = 300, 20_000
	each := 1 + len(values)/enough
	bends := make([]float64, 0, len(values)/each)
	for i := 2; i < len(values); i += each {
		if bend := values[i] - 2*values[i-1] + values[i-2]; finite(bend) {
			bends = append(bends, math.Abs(bend))
		}
	}
	if len(bends) < few {
		return math.NaN()
	}
	return trade.NormalMAD * trade.Median(bends) / math.Sqrt(6)
}

// tremble is Noise of a channel, worked out once for all checks.
func (c declared) tremble() float64 {
	type noise struct{}
	return sdk.Once(c.here, noise{}, func() float64 { return Noise(c.here.Values) })
}

var noise = &sdk.Check{
	ID: "sensorhealth.noise", Item: "Noise, sigma over what it reads within", System: "electrical", Unit: "%", Lenient: true,
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
	Run: perChannel(every, func(ev *sdk.Evidence, c declared) (sdk.Result, bool) {
		if !(c.here.Within > 0) {
			return sdk.Result{}, false // nobody says what it should be
		}
		sigma := c.tremble()
		if !finite(sigma) {
			return sdk.CannotTell("not exercised: too little of it was seen in a row"), true
		}
		return sdk.Judge(sdk.Exactly(sigma/c.here.Within), ev.Ceiling("noise_fail", sdk.Fail), ev.Ceiling("noise_warn", sdk.Warn)), true
	}),
}
