package main

import (
	"context"
	"math"

	"github.com/paintmark/paintmark/plugins/sdk"
)

var practice = sdk.Source{Kind: "practice", Text: "common practice"}

var swing = &sdk.Check{
	ID: "yard.oil-swing", Item: "Swing of oil pressure over the run", System: "engine", Moments: []sdk.Moment{sdk.Run},
	Unit: "bar",
	Needs: sdk.Needs{
		Channels: []sdk.ChannelNeed{{Name: "oil_pressure", Quantity: "pressure", Reads: "gauge"}},
		Limits:   []sdk.Limit{{Name: "swing_max", Value: 6, Unit: "bar", Tighten: "down", Source: practice}},
	},
	Do: "Pump, level, pick-up.", Source: practice,
	Accept: sdk.Accept{Warn: sdk.Hats("lead-engineer", "engine")},
	Run: func(_ context.Context, ev *sdk.Evidence) ([]sdk.Result, error) {
		low, high := math.Inf(1), math.Inf(-1)
		for _, x := range ev.Channel("oil_pressure").Values {
			if !math.IsNaN(x) { // taken away
				low, high = min(low, x), max(high, x)
			}
		}
		return []sdk.Result{sdk.Judge(sdk.Exactly(high-low), ev.Ceiling("swing_max", sdk.Fail))}, nil
	},
}

func main() {
	sdk.Main(&sdk.Plugin{Name: "yard", Version: "1.0.0", Checks: []*sdk.Check{swing}})
}
