// Package sensorhealth looks at the sensors themselves: whether each is logged as often as declared, spikes,
// stands at zero at rest, agrees with the others when all is cold, moves the way of what it must move
// with, and at the same time. What no one may believe it calls dead, before anything else is asked.
//
// What is out of its range, stands still beside what moves, sits at an end of its range or is apart from its pair the
// program takes away by itself, of every log; this package does not say it again.
package sensorhealth

import (
	"context"
	"math"
	"slices"

	"github.com/paintmark/paintmark/plugins/sdk"
)

// Plugin is the checks of this package.
func Plugin() sdk.Plugin {
	return sdk.Plugin{Name: "sensorhealth", Version: "1.0.0", Checks: []*sdk.Check{
		electrical, switches, reversed, swapped, orders, rate, dropout, spikes, noise, noiseRise, skew, apart, pairShift, wheels, rest, drift, cold,
	}}
}

var (
	practice = sdk.Source{Kind: "practice"}
	// two may run with a sensor that is not quite right; the rules that lean on it say what they need.
	two = sdk.Accept{
		Warn: sdk.Hats("lead-engineer", "data").ForRuns(2), Fail: sdk.Hats("lead-engineer", "data").ForRuns(1), NoData: sdk.Hats("lead-engineer", "data"),
	}
)

// declared is one channel of channels.yaml.
type declared struct {
	sdk.Node
	name   string
	logged bool         // it is in this log
	here   *sdk.Channel // for who was asked of it; what nobody looks at is not read
}

// channels are those of channels.yaml, in their order; ok is false where the list is not known.
func channels(ev *sdk.Evidence) (all []declared, ok bool) {
	items, ok := ev.Each("channels")
	if !ok {
		return nil, false
	}
	there := map[string]bool{}
	for _, name := range ev.Channels() {
		there[name] = true
	}
	for _, n := range items {
		name, known := n.Get("name").Text()
		if !known {
			return nil, false
		}
		all = append(all, declared{Node: n.For(name), name: name, logged: there[name]})
	}
	return all, true
}

// inLog gives a declared channel by its name, nil where it is not in the log.
func inLog(ev *sdk.Evidence, all []declared) func(name string) *sdk.Channel {
	return func(name string) *sdk.Channel {
		if !slices.ContainsFunc(all, func(c declared) bool { return c.name == name && c.logged }) {
			return nil
		}
		return ev.For(name).Channel(name)
	}
}

// unseen says that nothing of a channel was seen, or nothing of it is to be believed.
func (c declared) unseen() bool { return !slices.ContainsFunc(c.here.Values, finite) }

// perChannel asks of each channel that is declared and in the log, and of which there is anything to be asked by its declaration.
// ok is false where there is nothing to say of it: that it is not in the log is for rate to say, and for whoever needs it. What
// a question leaves out of a channel does not change its answer.
func perChannel(of func(c declared) bool, ask func(ev *sdk.Evidence, c declared) (r sdk.Result, ok bool)) func(context.Context, *sdk.Evidence) ([]sdk.Result, error) {
	return func(_ context.Context, ev *sdk.Evidence) ([]sdk.Result, error) {
		all, ok := channels(ev)
		if !ok {
			return sdk.One(ev.NoData())
		}
		var out []sdk.Result
		for _, c := range all {
			if !c.logged || !of(c) {
				continue
			}
			if c.here = ev.For(c.name).Channel(c.name); c.here == nil || len(c.here.Values) == 0 {
				continue
			}
			if r, ok := ask(ev, c); ok {
				r.Position, r.Despite = c.name, []string{c.name}
				out = append(out, r)
			}
		}
		return orNone(out), nil
	}
}

// every channel is asked of.
func every(declared) bool { return true }

// switches says that a channel is on or off.
func (c declared) switches() bool {
	unit, _ := c.Get("unit").Text()
	return unit == "state"
}

// measures says that a channel is neither on or off nor a count.
func (c declared) measures() bool {
	unit, _ := c.Get("unit").Text()
	return unit != "state" && unit != "count"
}

// orNone: with no element to look at, the check does not apply.
func orNone(out []sdk.Result) []sdk.Result {
	if len(out) == 0 {
		return []sdk.Result{{Outcome: sdk.NotApplicable, Message: "no such channel in this log"}}
	}
	return out
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
