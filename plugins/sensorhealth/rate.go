package sensorhealth

import (
	"context"

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
	Run: func(_ context.Context, ev *sdk.Evidence) ([]sdk.Result, error) {
		all, ok := channels(ev)
		if !ok {
			return sdk.One(ev.NoData())
		}
		var out []sdk.Result
		for _, c := range all {
			if !c.Get("rate").Known() {
				continue
			}
			r := sdk.CannotTell("it is not in the log")
			if here := inLog(ev, all)(c.name); here != nil && here.Period > 0 {
				want := c.Get("rate").Number().Mid()
				off := want * ev.Limit("rate_off")
				r = sdk.Judge(sdk.Exactly(1/here.Period), sdk.Band(want-off, want+off, sdk.Fail))
				r.Despite = []string{c.name}
			}
			r.Position = c.name
			out = append(out, r)
		}
		return orNone(out), nil
	},
}
