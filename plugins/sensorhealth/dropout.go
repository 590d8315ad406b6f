package sensorhealth

import (
	"math"

	"github.com/paintmark/paintmark/plugins/sdk"
)

var dropout = &sdk.Check{
	ID: "sensorhealth.dropout", Item: "Samples that did not come", System: "electrical", Unit: "%",
	Moments: []sdk.Moment{sdk.Run},
	Needs: sdk.Needs{
		Documents: []string{"channels"}, AllChannels: true,
		Limits: []sdk.Limit{
			{Name: "lost_warn", Value: 0.1, Unit: "%", Tighten: "down", Source: practice},
			{Name: "lost_fail", Value: 1, Unit: "%", Tighten: "down", Source: practice},
		},
	},
	Do:     "Bus load and wiring between this unit and the logger; the logger's memory.",
	Source: practice, Accept: two,
	Run: perChannel(every, func(ev *sdk.Evidence, c declared) (sdk.Result, bool) {
		if len(c.here.Times) < 2 || c.here.Period == 0 {
			return sdk.Result{}, false
		}
		lost, widest, at := Lost(c.here.Times, c.here.Period)
		r := sdk.Judge(sdk.Exactly(lost), ev.Ceiling("lost_fail", sdk.Fail), ev.Ceiling("lost_warn", sdk.Warn))
		if widest > 0 {
			r.At = &sdk.At{Time: at, Within: c.here.Period}
		}
		return r, true
	}),
}

// Lost is the share of samples that did not come, and the widest gap without them. Half a period early or late is jitter.
func Lost(times []float64, period float64) (share, widest, at float64) {
	lost := 0.0
	for i := 1; i < len(times); i++ {
		gap := times[i] - times[i-1]
		if gap < 1.5*period {
			continue
		}
		if lost += math.Round(gap/period) - 1; gap > widest {
			widest, at = gap, times[i-1]
		}
	}
	return lost / (lost + float64(len(times))), widest, at
}
