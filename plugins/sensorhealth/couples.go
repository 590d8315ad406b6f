package sensorhealth

import (
	"context"
	"fmt"
	"math"
	"slices"

	"github.com/paintmark/paintmark/internal/trade"
	"github.com/paintmark/paintmark/plugins/sdk"
)

// trace is the course of one channel, or by how much it is above another.
type trace struct{ of, above *sdk.Channel }

// along is the course at rising times.
func (c trace) along(times []float64) []float64 {
	out := c.of.Along(times)
	if c.above != nil {
		for i, below := range c.above.Along(times) {
			out[i] -= below
		}
	}
	return out
}

// couple are two traces that go up and down together, at once.
type couple struct {
	name     string
	a, b     trace
	slope    bool     // it is a's slope that b goes with
	suspects []string // whom nobody may believe where they go against each other
}

// channels are those the couple is made of.
func (c couple) channels() (out []*sdk.Channel) {
	for _, ch := range []*sdk.Channel{c.a.of, c.a.above, c.b.of, c.b.above} {
		if ch != nil {
			out = append(out, ch)
		}
	}
	return out
}

func (c trace) String() string {
	if c.above == nil {
		return c.of.Name
	}
	return c.of.Name + " less " + c.above.Name
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
	here := inLog(ev, all)
	add := func(name, a, b string, slope bool, suspects ...string) {
		if first, second := here(a), here(b); first != nil && second != nil {
			out = append(out, couple{name, trace{of: first}, trace{of: second}, slope, suspects})
		}
	}
	for _, c := range all {
		if !c.logged || !c.Get("pair_with").Known() {
			continue
		}
		if other, known := c.Get("pair_with").Text(); known {
			add(c.name+" and "+other, other, c.name, false, other, c.name)
		}
	}
	add("brake_front and brake_rear", "brake_front", "brake_rear", false, "brake_front", "brake_rear")
	// Speed is never below nothing, so that it cannot be the one that is reversed.
	add("speed and long_g", "speed", "long_g", true, "long_g")
	// In a bend the outer wheels turn faster at both ends of the car: an end of which left and right are swapped goes against
	// the other.
	var wheel [4]*sdk.Channel
	for i, name := range wheelNames[:4] {
		wheel[i] = here(name)
	}
	if !slices.Contains(wheel[:], nil) {
		out = append(out, couple{"wheels left and right, front and rear", trace{wheel[0], wheel[1]}, trace{wheel[2], wheel[3]}, false, wheelNames[:4]})
	}
	return out, true
}

// laid puts both on one grid; times at which either is not seen are left out of both. ok is false where one hardly moves:
// then nobody can tell.
func (c couple) laid() (a, b []float64, ok bool) {
	from, to := math.Inf(-1), math.Inf(1)
	for _, ch := range c.channels() {
		if len(ch.Times) < 2 {
			return nil, nil, false
		}
		from, to = math.Max(from, ch.Times[0]), math.Min(to, ch.Times[len(ch.Times)-1])
	}
	to = math.Min(to, from+longest)
	if !(to >= from) {
		return nil, nil, false
	}
	times := make([]float64, 0, int((to-from)/step)+2)
	for t := from; t <= to; t = from + step*float64(len(times)) {
		times = append(times, t)
	}
	const reach = 10 // steps to either side over which the slope is taken
	first, second := c.a.along(times), c.b.along(times)
	a, b = make([]float64, 0, len(times)), make([]float64, 0, len(times))
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
	type together struct {
		a, b  trace
		slope bool
	}
	return sdk.Once(c.b.of, together{c.a, c.b, c.slope}, func() trade.Shift {
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
			r.Position = c.name
			for _, ch := range c.channels() {
				r.Despite = append(r.Despite, ch.Name)
			}
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
	Source: sdk.Source{Kind: "practice", Text: "pairs of channels.yaml; brake circuits; acceleration and the slope of speed; wheels in a bend"}, Accept: two,
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
			first, second := c.a, c.b
			if late < 0 {
				first, second = second, first
			}
			res.Message = fmt.Sprintf("%s after %s", second, first)
		}
		return res
	}),
}
