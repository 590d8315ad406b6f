package sensorhealth

import (
	"github.com/paintmark/paintmark/internal/trade"
	"github.com/paintmark/paintmark/plugins/sdk"
)

// tremble is the noise of a channel and how finely it is written, worked out once for all checks.
func (c declared) tremble() (sigma, step float64) {
	type noise struct{}
	type of struct{ sigma, step float64 }
	n := sdk.Once(c.here, noise{}, func() of {
		sigma, step := trade.Noise(c.here.Values)
		return of{sigma, step}
	})
	return n.sigma, n.step
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
		sigma, _ := c.tremble()
		if !finite(sigma) {
			return sdk.CannotTell("not exercised: too little of it was seen in a row"), true
		}
		return sdk.Judge(sdk.Exactly(sigma/c.here.Within), ev.Ceiling("noise_fail", sdk.Fail), ev.Ceiling("noise_warn", sdk.Warn)), true
	}),
}
