package failsafe

import (
	"context"
	"fmt"
	"math"

	"github.com/paintmark/paintmark/plugins/sdk"
)

// loss is one time an interlock was lost with the wing open, and how long the wing took to be
// back at high downforce, s. High is infinite where the log does not show it.
type loss struct {
	at, low, high float64
	within        float64 // time resolution of at
}

// losses finds each of them. lost says of a sample of the trigger whether the interlock is lost,
// shut of an angle whether the wing is at high downforce. A loss that is over before it has
// lasted grace says nothing: the wing has that much time. unsure counts the losses for which nobody
// saw whether the wing was open.
func losses(trigger, angle *sdk.Channel, lost, shut func(float64) bool, grace float64) (found []loss, unsure int) {
	for i := 1; i < len(trigger.Times); i++ {
		before, now := trigger.Values[i-1], trigger.Values[i]
		if math.IsNaN(before) || math.IsNaN(now) || lost(before) || !lost(now) {
			continue
		}
		t := trigger.Times[i]
		state := angle.At(t)
		if math.IsNaN(state) {
			unsure++
			continue
		}
		if shut(state) {
			continue
		}
		until := math.Inf(1) // when the interlock was well again
		for j := i; j < len(trigger.Times); j++ {
			if v := trigger.Values[j]; !math.IsNaN(v) && !lost(v) {
				until = trigger.Times[j]
				break
			}
		}
		l := loss{at: t, within: t - trigger.Times[i-1], low: math.Inf(1), high: math.Inf(1)}
		end := t
		for k, s := range angle.Times {
			if s <= t {
				continue
			}
			end = s
			v := angle.Values[k]
			if math.IsNaN(v) {
				l.low = math.Min(l.low, s-t) // it may have been back by then
				continue
			}
			if shut(v) {
				l.low, l.high = math.Min(l.low, s-t), s-t
				break
			}
			if s > until {
				break
			}
		}
		if math.IsInf(l.high, 1) {
			lasted := math.Min(until, end) - t
			if lasted < grace {
				continue
			}
			l.low = math.Min(l.low, lasted)
		}
		l.low, l.high = math.Max(l.low-angle.Period, 0), l.high+l.within
		found = append(found, l)
	}
	return found, unsure
}

var wingLosses = &sdk.Check{
	ID: "failsafe.wing-losses", Item: "Wing back to high downforce after every loss of an interlock", System: "wing",
	Moments: []sdk.Moment{sdk.Run}, Applies: springBack, Unit: "s",
	Needs: sdk.Needs{
		Documents: []string{"car.wing"},
		Channels: []sdk.ChannelNeed{
			{Name: "wing_command", Quantity: "yes-no"},
			{Name: "wing_angle", Quantity: "angle"},
			{Name: "brake_front", Quantity: "pressure", Reads: "gauge"},
			{Name: "lat_g", Quantity: "acceleration"},
			{Name: "speed", Quantity: "speed", Optional: true},
		},
		From: []string{"run"},
		Limits: []sdk.Limit{
			{Name: "back_warn", Value: 0.35, Unit: "s", Tighten: "down", Source: practice},
			{Name: "back_fail", Value: 0.40, Unit: "s", Tighten: "down", Source: practice},
			{Name: "reaction", Value: 0.1, Unit: "s", Tighten: "down", Source: sdk.Source{Kind: "practice", Text: "the control unit's own, from brake or corner to its command"}},
			{Name: "brake_shuts", Value: 5, Unit: "bar", Tighten: "down", Source: practice},
			{Name: "grip_shuts", Value: 0.6, Unit: "g0", Tighten: "down", Source: practice},
			{Name: "end_stop", Value: 1.5, Unit: "deg", Source: sdk.Source{Kind: "practice", Text: "the position sensor at its ends"}},
		},
	},
	Do: "Lock the wing in high downforce and run without it, or find the restriction: exhaust port, valve, spring, hinge.", Caution: "pinch",
	Source: sdk.Source{Kind: "practice", Text: "each loss of command, brake and corner interlock while the wing was open"},
	Accept: strict,
	Run: func(_ context.Context, ev *sdk.Evidence) ([]sdk.Result, error) {
		closed, open := ev.Number("car.wing.angle_closed"), ev.Number("car.wing.angle_open")
		if !sdk.AllKnown(closed, open) {
			return sdk.One(ev.NoData())
		}
		// Closed may be the greater angle or the smaller one.
		stop := ev.Limit("end_stop")
		shut := func(a float64) bool { return a > closed.Mid()-stop }
		if closed.Mid() < open.Mid() {
			shut = func(a float64) bool { return a < closed.Mid()+stop }
		}
		angle, speed := ev.Channel("wing_angle"), ev.Channel("speed")
		brake, grip := ev.Limit("brake_shuts"), ev.Limit("grip_shuts")
		var all []sdk.Result
		for _, interlock := range []struct {
			position, channel string
			lost              func(float64) bool
			reaction          float64
		}{
			{"command off", "wing_command", func(v float64) bool { return v == 0 }, 0},
			{"brakes", "brake_front", func(v float64) bool { return v > brake }, ev.Limit("reaction")},
			{"corner", "lat_g", func(v float64) bool { return math.Abs(v) > grip }, ev.Limit("reaction")},
		} {
			fail, warn := ev.Ceiling("back_fail", sdk.Fail), ev.Ceiling("back_warn", sdk.Warn)
			fail.High, warn.High = fail.High+interlock.reaction, warn.High+interlock.reaction
			trigger := ev.For(interlock.position).Channel(interlock.channel)
			found, unsure := losses(trigger, angle, interlock.lost, shut, fail.High)
			r := worst(found, unsure, speed, fail, warn)
			if interlock.position == "command off" {
				r.ClearedWith = "wing.close-time" // timed on stands; how the car loses the others cannot be done there
			}
			r.Position, r.Despite = interlock.position, []string{"speed"} // it only says how far the car went
			all = append(all, r)
		}
		return all, nil
	},
}

// worst is the result of the slowest return.
func worst(found []loss, unsure int, speed *sdk.Channel, bounds ...sdk.Bound) sdk.Result {
	if len(found) == 0 {
		return sdk.CannotTell("not exercised: the wing was never open when it was lost")
	}
	slowest, low, high := found[0], 0.0, 0.0
	for _, l := range found {
		if l.high > slowest.high || l.high == slowest.high && l.low > slowest.low {
			slowest = l
		}
		low, high = math.Max(low, l.low), math.Max(high, l.high)
	}
	r := sdk.Judge(sdk.Between(low, high), bounds...)
	if unsure > 0 && r.Outcome != sdk.Fail {
		r = sdk.CannotTell(fmt.Sprintf("%d of %d times nobody saw where the wing was", unsure, len(found)+unsure))
	}
	r.At = &sdk.At{Time: slowest.at, Within: slowest.within}
	r.Message = join(r.Message, fmt.Sprintf("slowest of %d", len(found)))
	if speed != nil && !math.IsInf(high, 1) {
		if v := speed.At(slowest.at); v > 0 {
			way, digits := v*(slowest.low+slowest.high)/2, 0
			if way < 10 {
				digits = 1
			}
			r.Message = join(r.Message, fmt.Sprintf("%.*f m travelled meanwhile", digits, way))
		}
	}
	return r
}

func join(a, b string) string {
	if a == "" {
		return b
	}
	return a + "; " + b
}
