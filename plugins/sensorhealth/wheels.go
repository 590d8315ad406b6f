package sensorhealth

import (
	"context"
	"math"

	"github.com/paintmark/paintmark/internal/trade"
	"github.com/paintmark/paintmark/plugins/sdk"
)

var wheelNames = []string{"wheel_speed_fl", "wheel_speed_fr", "wheel_speed_rl", "wheel_speed_rr", "ground_speed"}

var wheels = &sdk.Check{
	ID: "sensorhealth.wheel-speeds", Item: "Wheel or ground speed against the others, straight on", System: "electrical", Unit: "%",
	Moments: []sdk.Moment{sdk.Run},
	Needs: sdk.Needs{
		Channels: append([]sdk.ChannelNeed{{Name: "lat_g", Quantity: "acceleration"}, {Name: "long_g", Quantity: "acceleration"}}, optional(wheelNames, "speed")...),
		Limits: []sdk.Limit{
			{Name: "wheel_warn", Value: 1, Unit: "%", Tighten: "down", Source: practice},
			{Name: "wheel_fail", Value: 2, Unit: "%", Tighten: "down", Source: practice},
		},
	},
	Do: "Sensor gap and ring of this wheel; its tyre's pressure and size; the teeth in the logger's set-up.", Caution: "lifted-car",
	Source: sdk.Source{Kind: "practice", Text: "over 60 km/h, under 0.1 g either way, so that no wheel slips"}, Accept: two,
	Run: func(_ context.Context, ev *sdk.Evidence) ([]sdk.Result, error) {
		var here []*sdk.Channel
		for _, name := range wheelNames {
			for _, there := range ev.Channels() {
				if there == name {
					here = append(here, ev.For(name).Channel(name))
				}
			}
		}
		if len(here) < 2 {
			return orNone(nil), nil
		}
		lat, long := ev.Channel("lat_g"), ev.Channel("long_g")
		if lat == nil || long == nil {
			return sdk.One(ev.NoData())
		}
		var out []sdk.Result
		for i, share := range offs(here, lat, long) {
			r := sdk.CannotTell("too little of the run went straight on")
			if finite(share) {
				r = sdk.Judge(sdk.Exactly(share), ev.Ceiling("wheel_fail", sdk.Fail), ev.Ceiling("wheel_warn", sdk.Warn))
				r.Despite = []string{here[i].Name, "lat_g", "long_g"}
			}
			r.Position = here[i].Name
			out = append(out, r)
		}
		return out, nil
	},
}

// offs is by what share each speed is off the median of all, in the middle of the times at which the car goes fast and
// straight; NaN where that was for less than two seconds.
func offs(speeds []*sdk.Channel, lat, long *sdk.Channel) []float64 {
	const fast, straight, least = 60 / 3.6, 0.1 * 9.80665, 2.0
	off := make([][]float64, len(speeds))
	now := make([]float64, len(speeds))
	for _, t := range speeds[0].Times {
		if !(math.Abs(lat.At(t)) < straight && math.Abs(long.At(t)) < straight) {
			continue
		}
		for i, c := range speeds {
			now[i] = c.At(t)
		}
		m := trade.Median(now) // NaN where one is unseen
		if !(m > fast) {
			continue
		}
		for i, v := range now {
			off[i] = append(off[i], v/m-1)
		}
	}
	out := make([]float64, len(speeds))
	for i := range out {
		if out[i] = math.NaN(); float64(len(off[i]))*speeds[0].Period >= least {
			out[i] = math.Abs(trade.Median(off[i]))
		}
	}
	return out
}
