package sensorhealth

import (
	"github.com/paintmark/paintmark/plugins/sdk"
)

var rate = &sdk.Check{
	ID: "sensorhealth.rate", Item: "Logged as often as declared", System: "electrical", Unit: "Hz",
	Moments: []sdk.Moment{sdk.Run},
	Needs: sdk.Needs{
		Documents: []string{"channels"}, AllChannels: true,
		Limits: []sdk.Limit{{Name: "rate_off", Value: 0.05, Tighten: "down", Source: practice}},
	},
	Do:     "The logger's set-up of this channel, or its line in channels.yaml.",
	Source: practice, Accept: two,
	Run: perChannel(func(ev *sdk.Evidence, c declared) (sdk.Result, bool) {
		if c.here.Period == 0 || !c.Get("rate").Known() {
			return sdk.Result{}, false
		}
		want := c.Get("rate").Number().Mid()
		off := want * ev.Limit("rate_off")
		return sdk.Judge(sdk.Exactly(1/c.here.Period), sdk.Band(want-off, want+off, sdk.Fail)), true
	}),
}
