package sensorhealth

import (
	"context"
	"math"

	"github.com/paintmark/paintmark/internal/trade"
	"github.com/paintmark/paintmark/plugins/sdk"
)

// Grows is by how much two of one thing are further apart, or otherwise apart, in the last third of the time in which both were
// seen than in the first, as a share of what the first of them goes through (1 to 99 %). NaN where that is too little to tell.
func Grows(a, b *sdk.Channel) float64 {
	off, through := both(a, b)
	third := len(off) / 3
	if third < 100 || !(through > 0) {
		return math.NaN()
	}
	return math.Abs(trade.Median(off[len(off)-third:])-trade.Median(off[:third])) / through
}

// both are by how much one of two is above the other where both were seen, and what the other goes through there (1 to 99 %).
// It is worked out once for all checks.
func both(a, b *sdk.Channel) (off []float64, through float64) {
	type above struct{ a *sdk.Channel }
	type of struct {
		off     []float64
		through float64
	}
	d := sdk.Once(b, above{a}, func() of {
		values, off := make([]float64, 0, len(a.Times)), make([]float64, 0, len(a.Times))
		for i, y := range b.Along(a.Times) {
			if x := a.Values[i]; finite(x) && finite(y) {
				values, off = append(values, x), append(off, y-x)
			}
		}
		return of{off, trade.Between(values, 0.01, 0.99)}
	})
	return d.off, d.through
}

var apart = &sdk.Check{
	ID: "sensorhealth.pair-drift", Item: "Pair going apart over the run, of its travel", System: "electrical", Unit: "%",
	Moments: []sdk.Moment{sdk.Run},
	Needs: sdk.Needs{
		Documents: []string{"channels"}, AllChannels: true,
		Limits: []sdk.Limit{
			{Name: "apart_warn", Value: 2, Unit: "%", Tighten: "down", Source: practice},
			{Name: "apart_fail", Value: 5, Unit: "%", Tighten: "down", Source: practice},
		},
	},
	Do:     "The one of the two that warms up or works loose; compare both with a third.",
	Source: sdk.Source{Kind: "practice", Text: "medians of first and last third"}, Accept: two,
	Run: func(_ context.Context, ev *sdk.Evidence) ([]sdk.Result, error) {
		all, ok := channels(ev)
		if !ok {
			return sdk.One(ev.NoData())
		}
		here := inLog(ev, all)
		var out []sdk.Result
		for _, c := range all {
			if !c.logged || !c.Get("pair_with").Known() {
				continue
			}
			name, _ := c.Get("pair_with").Text()
			one, other := here(c.name), here(name)
			if one == nil || other == nil {
				continue
			}
			r := sdk.CannotTell("not exercised: too little of both was seen to move")
			if share := Grows(other, one); finite(share) {
				r = sdk.Judge(sdk.Exactly(share), ev.Ceiling("apart_fail", sdk.Fail), ev.Ceiling("apart_warn", sdk.Warn))
			}
			r.Position, r.Despite = c.name+" and "+name, []string{c.name, name}
			out = append(out, r)
		}
		return orNone(out), nil
	},
}
