package failsafe

import (
	"context"
	"fmt"
	"math"

	"github.com/paintmark/paintmark/plugins/sdk"
)

var gearHeld = &sdk.Check{
	ID: "failsafe.gear-state", Item: "Gearbox in its declared state without hydraulic pressure", System: "gearbox",
	Moments: []sdk.Moment{sdk.Run}, Applies: `car.gearbox.shift == "hydraulic"`, Lenient: true,
	Needs: sdk.Needs{
		Documents: []string{"car.gearbox.state_on_pressure_loss", "car.hydraulics.shift_min"},
		Channels: []sdk.ChannelNeed{
			{Name: "hyd_pressure", Quantity: "pressure", Reads: "gauge"}, {Name: "gear", Quantity: "count"}, {Name: "shift_active", Quantity: "yes-no"},
		},
		From: []string{"run", "stands", "return"},
		Limits: []sdk.Limit{
			{Name: "lost_for", Value: 0.5, Unit: "s", Source: sdk.Source{Kind: "practice", Text: "under the least pressure this long, no shift asked"}},
			{Name: "state_after", Value: 1, Unit: "s", Tighten: "down", Source: practice},
		},
	},
	Do: "Do not run: the gearbox does not do what its sheet says without pressure. Barrel detent, valve at rest, wiring.", Caution: "stored-pressure",
	Source: sdk.Source{Kind: "practice", Text: "gear before and after each loss of pressure"}, Accept: strict,
	Run: func(_ context.Context, ev *sdk.Evidence) ([]sdk.Result, error) {
		state, named := ev.Text("car.gearbox.state_on_pressure_loss")
		least := ev.Number("car.hydraulics.shift_min")
		p, gear, shift := ev.Channel("hyd_pressure"), ev.Channel("gear"), ev.Channel("shift_active")
		if !named || !sdk.AllKnown(least) {
			return sdk.One(ev.NoData())
		}
		if state != "stays in gear" && state != "goes to neutral" {
			return sdk.One(sdk.CannotTell(fmt.Sprintf("nothing is known of a gearbox that %s", state)))
		}
		lostFor, after := ev.Limit("lost_for"), ev.Limit("state_after")
		count, since := 0, math.NaN()
		for i, t := range p.Times {
			if v := p.Values[i]; !(v < least.Low) || shift.At(t) != 0 {
				since = math.NaN()
				continue
			}
			if math.IsNaN(since) {
				since = t
			}
			if t-since < math.Max(lostFor, after) {
				continue
			}
			before, now := gear.At(since), gear.At(t)
			if math.IsNaN(before) || math.IsNaN(now) || before == 0 {
				continue
			}
			count++
			if state == "stays in gear" && now != before || state == "goes to neutral" && now != 0 {
				return sdk.One(sdk.Result{
					Outcome: sdk.Fail, At: &sdk.At{Time: since, Within: p.Period},
					Message: fmt.Sprintf("gear %.0f became %.0f, declared: %s", before, now, state),
				})
			}
		}
		if count == 0 {
			r := sdk.CannotTell("not exercised: pressure was never lost in gear")
			r.Despite = []string{"hyd_pressure", "gear", "shift_active"}
			return sdk.One(r)
		}
		return sdk.One(sdk.Result{Outcome: sdk.Pass, Message: state})
	},
}

// What a trip may do when its own sensor is lost. "no action" leaves the part unwatched.
const unwatched = "no action"

var trips = &sdk.Check{
	ID: "failsafe.trips", Item: "Trip as on the sheet, proven, its sensors seen", System: "engine",
	Moments: []sdk.Moment{sdk.Run},
	Needs:   sdk.Needs{Documents: []string{"trips", "channels"}, AllChannels: true, From: []string{"run"}},
	Do:      "Load the map the sheet belongs to, read it back, prove the trip; mend the sensor it watches with.", Caution: "rotating",
	Source: sdk.Source{Kind: "practice", Text: "trip sheet against what was read back, and the newest run's channels"},
	Accept: sdk.Accept{Warn: sdk.Hats("lead-engineer", "engine"), NoData: sdk.Hats("lead-engineer", "engine")},
	Run: func(_ context.Context, ev *sdk.Evidence) ([]sdk.Result, error) {
		functions, known := ev.Each("trips.functions")
		if !known || len(functions) == 0 {
			return sdk.One(sdk.CannotTell("the trip sheet lists no functions"))
		}
		declared, _ := ev.Each("channels")
		var all []sdk.Result
		for i, f := range functions {
			name, known := f.Get("name").Text()
			if !known {
				name = fmt.Sprintf("function %d", i+1)
			}
			r := trip(ev.For(name), f.For(name), name, declared)
			r.Position = name
			all = append(all, r)
		}
		return all, nil
	},
}

func trip(ev *sdk.Evidence, f sdk.Node, name string, declared []sdk.Node) sdk.Result {
	sheet, holds := words(f.Get("sheet")), words(f.Get("unit_holds"))
	enabled, said := f.Get("enabled").Yes()
	onFault, told := f.Get("on_sensor_fault").Text()
	_, proven := f.Get("proven").Time()
	switch {
	case sheet != "" && holds != "" && sheet != holds:
		return sdk.Result{Outcome: sdk.Fail, Message: fmt.Sprintf("the unit holds %s, the sheet says %s", holds, sheet)}
	case said && !enabled:
		return sdk.Result{Outcome: sdk.Fail, Message: "switched off in the unit"}
	case sheet == "" || holds == "" || !said || !told || !proven:
		return ev.NoData()
	}
	watched := 0
	var none []string // channels that say of no trip that they are its sensor; without any left it is no data
	for _, c := range declared {
		if !c.Get("protects").Known() {
			none = append(none, c.Get("protects").Path())
			continue
		}
		protects, _ := c.Get("protects").Each()
		channel, _ := c.Get("name").Text()
		for _, p := range protects {
			if what, _ := p.Text(); what != name {
				continue
			}
			watched++
			ch := ev.Channel(channel)
			if ch == nil {
				return ev.NoData()
			}
			if n := len(ch.Gaps); n > 0 && onFault == unwatched {
				g := ch.Gaps[n-1]
				return sdk.Result{
					Outcome: sdk.NoData, At: &sdk.At{Time: g.From, Within: ch.Period},
					Message: fmt.Sprintf("blind without %s, which was not seen; the trip then takes no action", channel),
				}
			}
		}
	}
	if watched == 0 {
		return sdk.CannotTell("channels.yaml names no sensor that it watches with")
	}
	return sdk.Result{Outcome: sdk.Pass, Message: fmt.Sprintf("%s, on a lost sensor: %s", holds, onFault), Despite: none}
}

// words is a value as it may be compared: text, or a number.
func words(n sdk.Node) string {
	if t, known := n.Text(); known {
		return t
	}
	return ""
}
