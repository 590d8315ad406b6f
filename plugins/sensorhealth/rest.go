package sensorhealth

import (
	"context"
	"fmt"
	"math"
	"slices"

	"github.com/paintmark/paintmark/internal/trade"
	"github.com/paintmark/paintmark/plugins/sdk"
)

// standing are the values of a channel, spell by spell, while the car has stood for a second and will for another.
func standing(speed, c *sdk.Channel) (spells [][]float64) {
	const around, slow = 1.0, 0.3 // s, m/s
	moved := math.Inf(-1)         // when it last moved, or was not seen
	var still [][2]float64
	for i, t := range speed.Times {
		if speed.Values[i] <= slow { // not where it is unseen
			continue
		}
		if t-moved > 2*around {
			still = append(still, [2]float64{moved + around, t - around})
		}
		moved = t
	}
	if n := len(speed.Times); n > 0 && speed.Times[n-1]-moved > 2*around {
		still = append(still, [2]float64{moved + around, speed.Times[n-1] - around})
	}
	k, last := 0, -1
	for i, t := range c.Times {
		for k < len(still) && t > still[k][1] {
			k++
		}
		if k < len(still) && t >= still[k][0] && t >= speed.Times[0] && finite(c.Values[i]) {
			if k != last {
				spells, last = append(spells, nil), k
			}
			spells[len(spells)-1] = append(spells[len(spells)-1], c.Values[i])
		}
	}
	return spells
}

var rest = &sdk.Check{
	ID: "sensorhealth.zero-at-rest", Item: "Acceleration at rest", System: "electrical", Unit: "g0",
	Moments: []sdk.Moment{sdk.Run},
	Needs: sdk.Needs{
		Channels: []sdk.ChannelNeed{
			{Name: "speed", Quantity: "speed"}, {Name: "lat_g", Quantity: "acceleration", Optional: true}, {Name: "long_g", Quantity: "acceleration", Optional: true},
		},
		Limits: []sdk.Limit{
			{Name: "rest_warn", Value: 0.10, Unit: "g0", Tighten: "down", Source: sdk.Source{Kind: "practice", Text: "a start line on a hill leans by 6 degrees"}},
			{Name: "rest_fail", Value: 0.25, Unit: "g0", Tighten: "down", Source: practice},
		},
	},
	Do:     "Zero it on level ground; look whether it is loose.",
	Source: practice, Accept: two,
	Run: func(_ context.Context, ev *sdk.Evidence) ([]sdk.Result, error) {
		return atRest(ev, "rest", func(spells [][]float64) (float64, string) {
			values := slices.Concat(spells...)
			if len(values) < few {
				return 0, "the car never stood for long enough in this log"
			}
			return math.Abs(trade.Median(values)), ""
		})
	},
}

var drift = &sdk.Check{
	ID: "sensorhealth.zero-drift", Item: "Acceleration at rest, first to last", System: "electrical", Unit: "g0", Lenient: true,
	Moments: []sdk.Moment{sdk.Run},
	Needs: sdk.Needs{
		Channels: rest.Needs.Channels,
		Limits: []sdk.Limit{
			{Name: "drift_warn", Value: 0.05, Unit: "g0", Tighten: "down", Source: sdk.Source{Kind: "practice", Text: "on the same ground; a hill leans"}},
			{Name: "drift_fail", Value: 0.2, Unit: "g0", Tighten: "down", Source: practice},
		},
	},
	Do:     "Look whether it is loose, or heats up.",
	Source: practice, Accept: two,
	Run: func(_ context.Context, ev *sdk.Evidence) ([]sdk.Result, error) {
		return atRest(ev, "drift", func(spells [][]float64) (float64, string) {
			spells = slices.DeleteFunc(spells, func(s []float64) bool { return len(s) < few })
			if len(spells) < 2 {
				return 0, "the car did not stand twice in this log"
			}
			return math.Abs(trade.Median(spells[len(spells)-1]) - trade.Median(spells[0])), ""
		})
	},
}

// few samples at rest say nothing.
const few = 10

// atRest judges what each acceleration comes to at rest against the limits NAME_warn and NAME_fail; of gives it, or why it
// cannot be told.
func atRest(ev *sdk.Evidence, name string, of func(spells [][]float64) (float64, string)) (out []sdk.Result, err error) {
	speed := ev.Channel("speed")
	for _, axis := range []string{"lat_g", "long_g"} {
		own := ev.For(axis)
		c := own.Channel(axis)
		r := own.NoData()
		if speed != nil && c != nil {
			v, why := of(standing(speed, c))
			if r = sdk.CannotTell(why); why == "" {
				r = sdk.Judge(sdk.Exactly(v), ev.Ceiling(name+"_fail", sdk.Fail), ev.Ceiling(name+"_warn", sdk.Warn))
				r.Despite = []string{"speed", axis}
			}
		}
		r.Position = axis
		out = append(out, r)
	}
	return out, nil
}

// coldNames are the temperatures that are the same in a car that stood over night.
var coldNames = []string{"oil_temp", "water_temp", "gearbox_temp", "fuel_temp", "hyd_temp", "air_temp"}

var cold = &sdk.Check{
	ID: "sensorhealth.cold-spread", Item: "Temperatures of a cold car, furthest apart", System: "electrical", Unit: "K",
	Moments: []sdk.Moment{sdk.Paddock}, Lenient: true,
	Needs: sdk.Needs{
		Channels: optional(coldNames, "temperature"), From: []string{"cold"},
		Limits: []sdk.Limit{
			{Name: "cold_warn", Value: 3, Unit: "K", Tighten: "down", Source: practice},
			{Name: "cold_fail", Value: 6, Unit: "K", Tighten: "down", Source: practice},
		},
	},
	Do:     "The one that stands apart: its connector, its curve in the logger.",
	Source: sdk.Source{Kind: "practice", Text: "after eight hours of standing all read the same"}, Accept: two,
	Run: func(_ context.Context, ev *sdk.Evidence) ([]sdk.Result, error) {
		if ev.Log() == nil {
			return sdk.One(sdk.Result{Outcome: sdk.NotApplicable, Message: "no log of the cold car"})
		}
		least, most := math.Inf(1), math.Inf(-1)
		var coldest, warmest string
		seen := 0
		for _, name := range coldNames {
			if !slices.Contains(ev.Channels(), name) {
				continue
			}
			c := ev.Channel(name)
			var first []float64
			for i, v := range c.Values {
				if finite(v) && c.Times[i] <= 10 { // it was switched on cold; what runs warms up
					first = append(first, v)
				}
			}
			if len(first) == 0 {
				continue
			}
			seen++
			m := trade.Median(first)
			if m < least {
				least, coldest = m, name
			}
			if m > most {
				most, warmest = m, name
			}
		}
		if seen < 2 {
			return sdk.One(sdk.CannotTell("fewer than two temperatures were seen in this log"))
		}
		r := sdk.Judge(sdk.Exactly(most-least), ev.Ceiling("cold_fail", sdk.Fail), ev.Ceiling("cold_warn", sdk.Warn))
		r.Message = fmt.Sprintf("%s reads least, %s most", coldest, warmest)
		return sdk.One(r)
	},
}

// optional are channels that a check takes as far as they are in the log.
func optional(names []string, quantity string) (out []sdk.ChannelNeed) {
	for _, name := range names {
		out = append(out, sdk.ChannelNeed{Name: name, Quantity: quantity, Optional: true})
	}
	return out
}
