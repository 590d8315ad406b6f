package sensorhealth

import "github.com/paintmark/paintmark/plugins/sdk"

// Lone is the share of samples of a switch that say what neither the one before nor the one after says.
func Lone(values []float64) float64 {
	lone := 0
	for i := 1; i+1 < len(values); i++ {
		if v, before, after := values[i], values[i-1], values[i+1]; finite(v) && finite(before) && finite(after) && v != before && v != after {
			lone++
		}
	}
	return float64(lone) / float64(len(values))
}

var switches = &sdk.Check{
	ID: "sensorhealth.switches", Item: "On or off for one sample alone, in a thousand", System: "electrical", Health: true,
	Moments: []sdk.Moment{sdk.Run},
	Needs: sdk.Needs{
		Documents: []string{"channels"}, AllChannels: true,
		Limits: []sdk.Limit{
			{Name: "lone_warn", Value: 1, Tighten: "down", Source: practice},
			{Name: "lone_fail", Value: 20, Tighten: "down", Source: sdk.Source{Kind: "practice", Text: "a switch logged often enough stands for longer; bare noise has 250"}},
		},
	},
	Do: "Plug, earth and debouncing of this switch, its line in the logger; or log it faster than it switches.", Caution: "pinch",
	Source: practice, Accept: two,
	Run: perChannel(declared.switches, func(ev *sdk.Evidence, c declared) (sdk.Result, bool) {
		if c.unseen() {
			return sdk.CannotTell("nothing of it was seen"), true
		}
		r := sdk.Judge(sdk.Exactly(1000*Lone(c.here.Values)), ev.Ceiling("lone_fail", sdk.Fail), ev.Ceiling("lone_warn", sdk.Warn))
		if r.Outcome == sdk.Fail {
			r.Dead = []sdk.Span{{Channel: c.name, From: 0, To: ev.Log().End, Why: "switches faster than any switch"}}
		}
		return r, true
	}),
}
