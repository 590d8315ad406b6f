package sensorhealth

import (
	"context"
	"fmt"
	"math"

	"github.com/paintmark/paintmark/internal/trade"
	"github.com/paintmark/paintmark/plugins/sdk"
)

// couple are two channels that go up and down together, at once.
type couple struct {
	name     string
	a, b     *sdk.Channel
	slope    bool     // it is a's slope that b goes with
	suspects []string // whom nobody may believe where they go against each other
}

const (
	step    = 0.02  // s, the grid they are laid on
	longest = 600.0 // s of a log that are compared; the beginning says it
	window  = 1.0   // s that are looked for to either side
)

// couples are the declared pairs, and those that physics makes.
func couples(ev *sdk.Evidence) (out []couple, ok bool) {
	all, ok := channels(ev)
	if !ok {
		return nil, false
	}
	here := inLog(all)
	add := func(name, a, b string, slope bool, suspects ...string) {
		if here[a] != nil && here[b] != nil {
			out = append(out, couple{name, here[a], here[b], slope, suspects})
		}
	}
	for _, c := range all {
		if c.here == nil || !c.Get("pair_with").Known() {
			continue
		}
		if other, known := c.Get("pair_with").Text(); known {
			add(c.name+" and "+other, other, c.name, false, other, c.name)
		}
	}
	add("brake_front and brake_rear", "brake_front", "brake_rear", false, "brake_front", "brake_rear")
	// Speed is never below nothing, so that it cannot be the one that is reversed.
	add("speed and long_g", "speed", "long_g", true, "long_g")
	return out, true
}

// laid puts both on one grid; times at which either is not seen are left out of both. ok is false where one hardly moves:
// then nobody can tell.
func (c couple) laid() (a, b []float64, ok bool) {
	if len(c.a.Times) < 2 || len(c.b.Times) < 2 {
		return nil, nil, false
	}
	from, to := math.Max(c.a.Times[0], c.b.Times[0]), math.Min(c.a.Times[len(c.a.Times)-1], c.b.Times[len(c.b.Times)-1])
	to = math.Min(to, from+longest)
	var times []float64
	for t := from; t <= to; t = from + step*float64(len(times)) {
		times = append(times, t)
	}
	const reach = 10 // steps to either side over which the slope is taken
	first, second := c.a.Along(times), c.b.Along(times)
	for i := reach; i+reach < len(times); i++ {
		x, y := first[i], second[i]
		if c.slope {
			x = (first[i+reach] - first[i-reach]) / (2 * reach * step)
		}
		if finite(x) && finite(y) {
			a, b = append(a, x), append(b, y)
		}
	}
	return a, b, float64(len(a))*step >= 10
}

// together is by how much b comes late, in steps, and how well it then goes with a, -1 to 1; reversed where it goes
// best against it. NaN where nobody can tell. It is worked out once for all checks.
func (c couple) together() trade.Shift {
	type with struct { // and b
		a     *sdk.Channel
		slope bool
	}
	return sdk.Once(c.b, with{c.a, c.slope}, func() trade.Shift {
		a, b, ok := c.laid()
		if !ok {
			return trade.Shift{Correlation: math.NaN()}
		}
		with, against := trade.Lag(a, b, int(window/step))
		if -against.Correlation > with.Correlation {
			return against
		}
		return with
	})
}

// perCouple asks of each couple, with by how much its second is late and how well they go together.
func perCouple(ask func(ev *sdk.Evidence, c couple, late, correlation float64) sdk.Result) func(context.Context, *sdk.Evidence) ([]sdk.Result, error) {
	return func(_ context.Context, ev *sdk.Evidence) ([]sdk.Result, error) {
		all, ok := couples(ev)
		if !ok {
			return sdk.One(ev.NoData())
		}
		var out []sdk.Result
		for _, c := range all {
			r := sdk.CannotTell("not exercised: too little of both was seen to move")
			if s := c.together(); finite(s.Correlation) {
				r = ask(ev, c, float64(s.Lag)*step, s.Correlation)
			}
			r.Position, r.Despite = c.name, []string{c.a.Name, c.b.Name}
			out = append(out, r)
		}
		return orNone(out), nil
	}
}

var reversed = &sdk.Check{
	ID: "sensorhealth.reversed", Item: "Two that go together, correlation", System: "electrical", Health: true,
	Moments: []sdk.Moment{sdk.Run},
	Needs: sdk.Needs{
		Documents: []string{"channels"}, AllChannels: true,
		Limits: []sdk.Limit{
			{Name: "together_warn", Value: 0.5, Tighten: "up", Source: practice},
			{Name: "against_fail", Value: -0.5, Tighten: "up", Source: practice},
		},
	},
	Do:     "Which one is turned about: its mounting, its two signal wires, its line in the logger; or two are swapped.",
	Source: sdk.Source{Kind: "practice", Text: "pairs of channels.yaml; brake circuits; acceleration and the slope of speed"}, Accept: two,
	Run: perCouple(func(ev *sdk.Evidence, c couple, _, r float64) sdk.Result {
		res := sdk.Judge(sdk.Exactly(r), ev.Floor("against_fail", sdk.Fail), ev.Floor("together_warn", sdk.Warn))
		if res.Outcome == sdk.Fail {
			res.Message = "they go against each other"
			for _, s := range c.suspects {
				res.Dead = append(res.Dead, sdk.Span{Channel: s, From: 0, To: ev.Log().End, Why: "goes against what it must go with"})
			}
		}
		return res
	}),
}

var skew = &sdk.Check{
	ID: "sensorhealth.skew", Item: "Two that go together, one late by", System: "electrical", Unit: "s",
	Moments: []sdk.Moment{sdk.Run},
	Needs: sdk.Needs{
		Documents: []string{"channels"}, AllChannels: true,
		Limits: []sdk.Limit{
			{Name: "late_warn", Value: 0.1, Unit: "s", Tighten: "down", Source: practice},
			{Name: "late_fail", Value: 0.3, Unit: "s", Tighten: "down", Source: practice},
		},
	},
	Do:     "Clocks of the units they come from, filters set in the logger; every time that is taken between the two is off by as much.",
	Source: sdk.Source{Kind: "practice", Text: "cross-correlation, up to a second either way"}, Accept: two,
	Run: perCouple(func(ev *sdk.Evidence, c couple, late, r float64) sdk.Result {
		if r < 0.5 {
			return sdk.CannotTell("they do not go together well enough to tell")
		}
		res := sdk.Judge(sdk.Between(math.Abs(late)-step/2, math.Abs(late)+step/2), ev.Ceiling("late_fail", sdk.Fail), ev.Ceiling("late_warn", sdk.Warn))
		if late != 0 {
			first, second := c.a.Name, c.b.Name
			if late < 0 {
				first, second = second, first
			}
			res.Message = fmt.Sprintf("%s after %s", second, first)
		}
		return res
	}),
}
