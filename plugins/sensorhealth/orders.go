package sensorhealth

import (
	"context"
	"fmt"
	"math"
	"slices"

	"github.com/paintmark/paintmark/internal/trade"
	"github.com/paintmark/paintmark/plugins/sdk"
)

// ordered are what is ordered, and what moves by that order and never before it. A pulse orders one step; else what is
// ordered goes from one end to the other when the order comes, and back when it goes.
var ordered = []struct {
	order, effect string
	pulse         bool
}{{"wing_command", "wing_angle", false}, {"shift_active", "gear", true}}

// After is how long after its order the effect begins to move, s, for each time it does within half a second of one; below
// nothing where it moves first.
func After(order, effect *sdk.Channel, pulse bool) (after []float64) {
	const near = 0.5
	var orders []float64
	for i, change := range changes(order) {
		if change && (order.Values[i] != 0 || !pulse) {
			orders = append(orders, order.Times[i])
		}
	}
	begins := departures
	if pulse {
		begins = changes
	}
	for i, begin := range begins(effect) {
		if !begin {
			continue
		}
		t, best := effect.Times[i], math.Inf(1)
		next, _ := slices.BinarySearch(orders, t)
		for _, o := range orders[max(0, next-1):min(len(orders), next+1)] {
			if math.Abs(t-o) < math.Abs(best) {
				best = t - o
			}
		}
		if math.Abs(best) <= near {
			after = append(after, best)
		}
	}
	return after
}

// changes are the samples that differ from the one before.
func changes(c *sdk.Channel) []bool {
	out := make([]bool, len(c.Values))
	for i := 1; i < len(out); i++ {
		before, now := c.Values[i-1], c.Values[i]
		out[i] = before != now && finite(before) && finite(now)
	}
	return out
}

// departures are the samples at which a channel has left an end of its travel by a twentieth of it.
func departures(c *sdk.Channel) []bool {
	const left, back = 0.05, 0.025
	out := make([]bool, len(c.Values))
	seen := slices.DeleteFunc(slices.Clone(c.Values), func(v float64) bool { return !finite(v) })
	low, high := trade.Quantile(seen, 0.005), trade.Quantile(seen, 0.995)
	stands := false
	for i, v := range c.Values {
		switch from := math.Min(v-low, high-v) / (high - low); {
		case !finite(from): // unseen: nobody knows when it left
			stands = false
		case from <= back:
			stands = true
		case from > left:
			out[i], stands = stands, false
		}
	}
	return out
}

var orders = &sdk.Check{
	ID: "sensorhealth.order-first", Item: "What is ordered moves after its order by", System: "electrical", Unit: "s", Health: true, Lenient: true,
	Moments: []sdk.Moment{sdk.Run},
	Needs: sdk.Needs{
		Documents: []string{"channels"}, AllChannels: true,
		Limits: []sdk.Limit{{Name: "after_least", Value: -0.02, Unit: "s", Tighten: "up", Source: sdk.Source{Kind: "practice", Text: "no effect comes before its cause; the clocks of two units may be apart by as much"}}},
	},
	Do: "Clocks of the units the two come from, filters set in the logger, the order's line: one of the two is late or early, and nobody can tell which.", Caution: "pinch",
	Source: sdk.Source{Kind: "practice", Text: "median over the run, wing against its command, gear against the shift"}, Accept: two,
	Run: func(_ context.Context, ev *sdk.Evidence) ([]sdk.Result, error) {
		all, ok := channels(ev)
		if !ok {
			return sdk.One(ev.NoData())
		}
		here := inLog(ev, all)
		var out []sdk.Result
		for _, o := range ordered {
			order, effect := here(o.order), here(o.effect)
			if order == nil || effect == nil {
				continue
			}
			r := sdk.CannotTell("not exercised: it moved fewer than three times within half a second of its order")
			if after := After(order, effect, o.pulse); len(after) >= 3 {
				m := trade.Median(after)
				r = sdk.Judge(sdk.Between(m-effect.Period, m+order.Period), ev.Floor("after_least", sdk.Fail))
				if r.Outcome == sdk.Fail {
					for _, c := range []*sdk.Channel{order, effect} {
						r.Dead = append(r.Dead, sdk.Span{Channel: c.Name, From: 0, To: ev.Log().End, Why: fmt.Sprintf("%s moves before %s", o.effect, o.order)})
					}
				}
			}
			r.Position, r.Despite = o.effect+" after "+o.order, []string{o.order, o.effect}
			out = append(out, r)
		}
		return orNone(out), nil
	},
}
