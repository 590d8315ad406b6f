package sensorhealth

import (
	"context"
	"math"
	"slices"

	"github.com/paintmark/paintmark/internal/trade"
	"github.com/paintmark/paintmark/plugins/sdk"
)

// FrontShare is the front circuit's share of the line pressure while braking harder than 30 bar in both together, in
// the middle of the samples, and for how long that was, s.
func FrontShare(front, rear *sdk.Channel) (share, seen float64) {
	const braking = 30e5
	var shares []float64
	for i, r := range rear.Along(front.Times) {
		if sum := front.Values[i] + r; sum > braking { // not where either is unseen
			shares = append(shares, front.Values[i]/sum)
		}
	}
	return trade.Median(shares), float64(len(shares)) * front.Period
}

var swapped = &sdk.Check{
	ID: "sensorhealth.swapped", Item: "Front share of line pressure, on the side of its sheet", System: "electrical", Unit: "%", Health: true, Lenient: true,
	Moments: []sdk.Moment{sdk.Run},
	Needs: sdk.Needs{
		Documents: []string{"channels", "setup.brake_bias_front"}, AllChannels: true,
		Limits: []sdk.Limit{{Name: "share_apart", Value: 3, Unit: "%", Tighten: "up", Source: sdk.Source{Kind: "practice", Text: "so far from one half a sheet must be to tell front from rear"}}},
	},
	Do: "Whether front and rear are swapped: plugs, lines, their names in the logger.", Caution: "stored-pressure",
	Source: sdk.Source{Kind: "practice", Text: "swapped circuits have the other one's share"}, Accept: two,
	Run: func(_ context.Context, ev *sdk.Evidence) ([]sdk.Result, error) {
		all, ok := channels(ev)
		if !ok {
			return sdk.One(ev.NoData())
		}
		if all = slices.DeleteFunc(all, func(c declared) bool { return c.name != "brake_front" && c.name != "brake_rear" }); len(all) < 2 {
			return orNone(nil), nil
		}
		sheet := ev.Number("setup.brake_bias_front.target")
		front, rear := ev.Channel("brake_front"), ev.Channel("brake_rear")
		if !sheet.Known || front == nil || rear == nil {
			return sdk.One(ev.NoData())
		}
		if math.Abs(sheet.Mid()-0.5) < ev.Limit("share_apart") {
			return sdk.One(sdk.CannotTell("its sheet has both circuits alike: front cannot be told from rear"))
		}
		share, seen := FrontShare(front, rear)
		if seen < 0.5 {
			return sdk.One(sdk.CannotTell("not exercised: it was hardly braked"))
		}
		bound := sdk.Floor(0.5, sdk.Fail)
		if sheet.Mid() < 0.5 {
			bound = sdk.Ceiling(0.5, sdk.Fail)
		}
		r := sdk.Judge(sdk.Exactly(share), bound)
		r.Despite = []string{front.Name, rear.Name}
		if r.Outcome == sdk.Fail {
			r.Message = "each reads as the other one should"
			for _, c := range []*sdk.Channel{front, rear} {
				r.Dead = append(r.Dead, sdk.Span{Channel: c.Name, From: 0, To: ev.Log().End, Why: "reads as the other circuit should"})
			}
		}
		return sdk.One(r)
	},
}
