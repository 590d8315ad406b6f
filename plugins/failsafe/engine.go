package failsafe

import (
	"context"
	"fmt"
	"math"

	"github.com/paintmark/paintmark/plugins/sdk"
)

// longest is the longest time two channels lie further apart than they may, s, with where it
// began: bounds, because an edge is known to one sample. seen is how long both were seen.
func longest(a, b *sdk.Channel, apart float64) (low, high, at, seen float64) {
	edge := a.Period + b.Period
	var spell, best, from float64
	through := false // the spell runs through what nobody saw
	other := b.Along(a.Times)
	for i := 1; i < len(a.Times); i++ {
		step := a.Times[i] - a.Times[i-1]
		x, y := a.Values[i-1], other[i-1]
		known := !math.IsNaN(x) && !math.IsNaN(y)
		if known {
			seen += step
		}
		if known && math.Abs(x-y) <= apart {
			spell, through = 0, false
			continue
		}
		if spell == 0 {
			from = a.Times[i-1]
		}
		spell += step
		through = through || !known
		if spell > best {
			best, at = spell, from
			low, high = math.Max(best-edge, 0), best+edge
			if through {
				low = 0
			}
		}
	}
	return low, high, at, seen
}

var pairs = &sdk.Check{
	ID: "failsafe.tracking", Item: "Throttle and pedal agree with their second sensor", System: "throttle",
	Moments: []sdk.Moment{sdk.Run}, Applies: `car.engine.throttle == "by wire"`, Unit: "s",
	Needs: sdk.Needs{
		Documents: []string{"channels"},
		Channels: []sdk.ChannelNeed{
			{Name: "throttle", Quantity: "share"},
			{Name: "throttle_b", Quantity: "share"},
			{Name: "pedal", Quantity: "share", Optional: true},
			{Name: "pedal_b", Quantity: "share", Optional: true},
		},
		From: []string{"run"},
		Limits: []sdk.Limit{
			{Name: "apart", Value: 10, Unit: "%", Tighten: "down", Source: sdk.Source{Kind: "practice", Text: "student rules FSAE 2026 T.4.2: 10 points for 100 ms; the car's own class prevails"}},
			{Name: "apart_time", Value: 100, Unit: "ms", Tighten: "down", Source: practice},
			{Name: "driven", Value: 30, Unit: "%", Source: sdk.Source{Kind: "practice", Text: "the throttle must have moved this far to say something"}},
		},
	},
	Do: "Connector, supply and ground of both sensors, then the sensor; no run with a throttle that does not agree with itself.", Caution: "pinch",
	// Whether it is a fault of the sensor or of the throttle nobody can see from here.
	Source: sdk.Source{Kind: "practice", Text: "longest time the two lie apart"}, Accept: strict,
	Run: func(_ context.Context, ev *sdk.Evidence) ([]sdk.Result, error) {
		all := []sdk.Result{pair(ev, "throttle", "throttle_b")}
		declared := map[string]bool{}
		names, _ := ev.Each("channels")
		for _, n := range names {
			name, _ := n.Get("name").Text()
			declared[name] = true
		}
		if declared["pedal"] && declared["pedal_b"] { // a pedal nobody logs is no gap of this log
			all = append(all, pair(ev, "pedal", "pedal_b"))
		}
		return all, nil
	},
}

func pair(ev *sdk.Evidence, first, second string) sdk.Result {
	scope := ev.For(first)
	a, b := scope.Channel(first), scope.Channel(second)
	if a == nil || b == nil {
		r := scope.NoData()
		r.Position = first
		return r
	}
	lowest, highest := math.Inf(1), math.Inf(-1)
	for _, v := range a.Values {
		if !math.IsNaN(v) {
			lowest, highest = math.Min(lowest, v), math.Max(highest, v)
		}
	}
	low, high, at, seen := longest(a, b, ev.Limit("apart"))
	r := sdk.CannotTell(fmt.Sprintf("not exercised: %s never moved far enough", first))
	if seen > 0 && highest-lowest >= ev.Limit("driven") || low > ev.Limit("apart_time") {
		r = sdk.Judge(sdk.Between(low, high), ev.Ceiling("apart_time", sdk.Fail))
		if high > 0 {
			r.At = &sdk.At{Time: at, Within: a.Period}
		}
	}
	r.Position = first
	return r
}

var boostFalls = &sdk.Check{
	ID: "failsafe.boost-falls", Item: "Boost falls to the spring's when the throttle closes", System: "turbo",
	Moments: []sdk.Moment{sdk.Run}, Applies: `car.engine.aspiration == "turbo"`, Unit: "bar",
	Needs: sdk.Needs{
		Documents: []string{"car.turbo.wastegate_spring", "weather.station_pressure"},
		Channels: []sdk.ChannelNeed{
			{Name: "manifold", Quantity: "pressure", Reads: "absolute"}, {Name: "throttle", Quantity: "share"},
		},
		From: []string{"run"},
		Limits: []sdk.Limit{
			{Name: "closed", Value: 5, Unit: "%", Source: practice},
			{Name: "settle", Value: 1, Unit: "s", Source: sdk.Source{Kind: "practice", Text: "closed this long before it counts"}},
			{Name: "boost_over", Value: 0.1, Unit: "bar", Tighten: "down", Source: practice},
		},
	},
	Do: "Boost valve must give the least boost without current; hoses, wastegate, bypass valve.", Caution: "hot",
	Source: sdk.Source{Kind: "practice", Text: "greatest pressure in the manifold with the throttle long closed, over the spring's"},
	Accept: sdk.Accept{Warn: sdk.Hats("lead-engineer", "engine"), Fail: sdk.Hats("lead-engineer", "engine"), NoData: sdk.Hats("lead-engineer", "engine")},
	Run: func(_ context.Context, ev *sdk.Evidence) ([]sdk.Result, error) {
		spring, station := ev.Number("car.turbo.wastegate_spring"), ev.Number("weather.station_pressure")
		manifold, throttle := ev.Channel("manifold"), ev.Channel("throttle")
		if !sdk.AllKnown(spring, station) {
			return sdk.One(ev.NoData())
		}
		closed, settle := ev.Limit("closed"), ev.Limit("settle")
		most, at, since := math.Inf(-1), 0.0, math.NaN()
		for i, th := range throttle.Along(manifold.Times) {
			t := manifold.Times[i]
			switch {
			case math.IsNaN(th) || th > closed:
				since = math.NaN()
			case math.IsNaN(since):
				since = t
			}
			if !math.IsNaN(since) && t-since >= settle && manifold.Values[i] > most {
				most, at = manifold.Values[i], t
			}
		}
		if math.IsInf(most, -1) {
			return sdk.One(sdk.CannotTell("not exercised: the throttle was never closed for so long"))
		}
		over := sdk.Exactly(most - station.Mid() - spring.Mid())
		r := sdk.Judge(over, ev.Ceiling("boost_over", sdk.Fail))
		r.At = &sdk.At{Time: at, Within: manifold.Period}
		return sdk.One(r)
	},
}
