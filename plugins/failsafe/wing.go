package failsafe

import (
	"context"
	"fmt"
	"math"

	"github.com/paintmark/paintmark/internal/trade"
	"github.com/paintmark/paintmark/plugins/sdk"
)

// The margin of a spring is what it closes with over what holds it open, each at its worst.

// end is the design of the wing at one of its end positions, SI.
type end struct {
	spring, arm   float64 // N, m
	coefficient   float64 // of the normal force
	pressurePoint float64 // m, centre of pressure ahead of the hinge: positive opens
}

// Margin is the closing moment over the opening one, with the spring at a share of its rate.
// Air that closes (a centre of pressure behind the hinge) is not counted on: the spring alone must
// beat friction. Density in kg/m³, speed in m/s, area in m², friction in N·m.
func (e end) Margin(share, density, speed, area, friction float64) float64 {
	air := trade.HingeMoment(density, speed, area, e.coefficient, math.Max(e.pressurePoint, 0))
	return share * e.spring * e.arm / (air + friction)
}

// ends reads the end positions: the flat figures are those of the closed end, open_end those of
// the other.
func ends(ev *sdk.Evidence) (closed, open end, okClosed, okOpen bool) {
	read := func(n sdk.Node) (e end, ok bool) {
		f, a := n.Get("spring_force").Number(), n.Get("spring_arm").Number()
		c, x := n.Get("normal_force_coefficient").Number(), n.Get("centre_of_pressure_arm").Number()
		return end{f.Mid(), a.Mid(), c.Mid(), x.Mid()}, sdk.AllKnown(f, a, c, x)
	}
	closed, okClosed = read(ev.For("closed").Get("car.wing"))
	open, okOpen = read(ev.For("open").Get("car.wing.open_end"))
	return closed, open, okClosed, okOpen
}

// densest is the air the wing meets at its heaviest: the forecast's pressure at the foot of the
// course, as cold as limits say it may get, dry. kg/m³.
func densest(ev *sdk.Evidence) (density float64, ok bool) {
	p, t := ev.Number("plan.forecast.station_pressure"), ev.Number("plan.forecast.air")
	if !sdk.AllKnown(p, t) {
		return 0, false
	}
	density = trade.AirDensity(p.High, t.Low-ev.Limit("colder"), 0)
	return density, !math.IsNaN(density)
}

var colder = sdk.Limit{Name: "colder", Value: 10, Unit: "K", Source: sdk.Source{Kind: "practice", Text: "colder than the forecast"}}

var wingMoments = &sdk.Check{
	ID: "failsafe.wing-moments", Item: "Spring over air and friction at the greatest speed, both ends", System: "wing",
	Moments: []sdk.Moment{sdk.Commit, sdk.Paddock}, Applies: springBack,
	Needs: sdk.Needs{
		Documents: []string{"car.wing", "plan.forecast"},
		Limits: []sdk.Limit{
			{Name: "moment_warn", Value: 1.5, Tighten: "up", Source: practice},
			{Name: "moment_fail", Value: 1.2, Tighten: "up", Source: practice},
			{Name: "spring_worst", Value: 90, Unit: "%", Tighten: "down", Source: sdk.Source{Kind: "practice", Text: "of its rate: tolerance, heat and setting"}},
			colder,
		},
	},
	Do: "A stiffer spring, a longer arm or a hinge further forward; until then the wing stays locked closed.", Caution: "springs",
	Source: sdk.Source{Kind: "practice", Text: "moments about the hinge; air density by CIPM-2007"}, Accept: worked,
	Run: func(_ context.Context, ev *sdk.Evidence) ([]sdk.Result, error) {
		speed, area, friction := ev.Number("car.wing.max_speed"), ev.Number("car.wing.flap_area"), ev.Number("car.wing.friction_moment")
		density, ok := densest(ev)
		if !ok || !sdk.AllKnown(speed, area, friction) {
			return sdk.One(ev.NoData())
		}
		closed, open, okClosed, okOpen := ends(ev)
		var all []sdk.Result
		for _, e := range []struct {
			position string
			end      end
			ok       bool
		}{{"closed", closed, okClosed}, {"open", open, okOpen}} {
			r := ev.For(e.position).NoData()
			if e.ok {
				m := e.end.Margin(ev.Limit("spring_worst"), density, speed.High, area.High, friction.High)
				r = sdk.Judge(sdk.Exactly(m), ev.Floor("moment_fail", sdk.Fail), ev.Floor("moment_warn", sdk.Warn))
				r.Message = fmt.Sprintf("at %.0f m/s in air of %.3f kg/m3", speed.High, density)
			}
			r.Position = e.position
			all = append(all, r)
		}
		return all, nil
	},
}

// cylinder is the wing's cylinder, SI.
type cylinder struct{ bore, arm, supply, dead, stroke, vent float64 }

func readCylinder(ev *sdk.Evidence) (c cylinder, ok bool) {
	n := ev.Get("car.wing.cylinder")
	bore, arm, least := n.Get("bore").Number(), n.Get("arm").Number(), n.Get("supply_min").Number()
	dead, stroke, vent := n.Get("dead_volume").Number(), n.Get("stroke").Number(), n.Get("vent_bore").Number()
	return cylinder{bore.Mid(), arm.Mid(), least.Mid(), dead.Mid(), stroke.Mid(), vent.Mid()}, sdk.AllKnown(bore, arm, least, dead, stroke, vent)
}

var wingCylinder = &sdk.Check{
	ID: "failsafe.wing-cylinder", Item: "Cylinder at the least supply over spring and friction", System: "wing",
	Moments: []sdk.Moment{sdk.Commit, sdk.Paddock}, Applies: pneumatic,
	Needs: sdk.Needs{
		Documents: []string{"car.wing"},
		Limits: []sdk.Limit{
			{Name: "cylinder_warn", Value: 1.3, Tighten: "up", Source: practice},
			{Name: "cylinder_fail", Value: 1.0, Tighten: "up", Source: practice},
			{Name: "spring_strong", Value: 110, Unit: "%", Tighten: "up", Source: sdk.Source{Kind: "practice", Text: "of its rate"}},
		},
	},
	Do: "More supply, a larger bore or a longer arm: a wing that opens half way is nowhere the driver expects.", Caution: "stored-pressure",
	Source: sdk.Source{Kind: "practice", Text: "force of the bore at the least supply, against the stronger end"}, Accept: worked,
	Run: func(_ context.Context, ev *sdk.Evidence) ([]sdk.Result, error) {
		c, ok := readCylinder(ev)
		friction := ev.Number("car.wing.friction_moment")
		closed, open, okClosed, okOpen := ends(ev)
		if !ok || !okClosed || !okOpen || !sdk.AllKnown(friction) {
			return sdk.One(ev.NoData())
		}
		spring := ev.Limit("spring_strong") * math.Max(closed.spring*closed.arm, open.spring*open.arm)
		m := trade.CylinderForce(c.supply, c.bore, 0) * c.arm / (spring + friction.High)
		if math.IsNaN(m) {
			return sdk.One(sdk.CannotTell("the cylinder's data make no sense together"))
		}
		return sdk.One(sdk.Judge(sdk.Exactly(m), ev.Floor("cylinder_fail", sdk.Fail), ev.Floor("cylinder_warn", sdk.Warn)))
	},
}

// conductance is the sonic conductance of a plain port, m³/(s·Pa): an area of 5 mm² passes 1
// dm³/(s·bar), as catalogues convert between the two (from memory).
func conductance(bore float64) float64 {
	area := math.Pi / 4 * bore * bore
	return area * 1e6 / 5 * 1e-3 / 1e5
}

var wingVent = &sdk.Check{
	ID: "failsafe.wing-vent", Item: "Time the exhaust port needs to let the wing close", System: "wing",
	Moments: []sdk.Moment{sdk.Commit, sdk.Paddock}, Applies: pneumatic, Unit: "s",
	Needs: sdk.Needs{
		Documents: []string{"car.wing", "plan.forecast"},
		Limits: []sdk.Limit{
			{Name: "vent_warn", Value: 0.35, Unit: "s", Tighten: "down", Source: practice},
			{Name: "vent_fail", Value: 0.40, Unit: "s", Tighten: "down", Source: practice},
			{Name: "spring_worst", Value: 90, Unit: "%", Tighten: "down", Source: practice},
			colder,
		},
	},
	Do: "A larger exhaust port or a quick exhaust valve at the cylinder; nothing that blocks all ports when it loses its current.", Caution: "pinch",
	Source: sdk.Source{Kind: "practice", Text: "flow by ISO 6358, cylinder full at supply, down to where spring beats air and friction"}, Accept: worked,
	Run: func(_ context.Context, ev *sdk.Evidence) ([]sdk.Result, error) {
		c, ok := readCylinder(ev)
		supply, speed, area := ev.Number("car.wing.supply.regulator"), ev.Number("car.wing.max_speed"), ev.Number("car.wing.flap_area")
		friction, air, cold := ev.Number("car.wing.friction_moment"), ev.Number("plan.forecast.station_pressure"), ev.Number("plan.forecast.air")
		closed, open, okClosed, okOpen := ends(ev)
		density, dense := densest(ev)
		if !ok || !okClosed || !okOpen || !dense || !sdk.AllKnown(supply, speed, area, friction, air, cold) {
			return sdk.One(ev.NoData())
		}
		// The flap must be pushed home against what is left in the cylinder: at the weaker end.
		left := math.Inf(1)
		for _, e := range []end{closed, open} {
			aero := trade.HingeMoment(density, speed.High, area.High, e.coefficient, math.Max(e.pressurePoint, 0))
			left = math.Min(left, (ev.Limit("spring_worst")*e.spring*e.arm-aero-friction.High)/(c.arm*math.Pi/4*c.bore*c.bore))
		}
		if !(left > 0) {
			return sdk.One(sdk.Result{Outcome: sdk.Fail, Message: "spring, air and friction leave nothing to close with, vented or not"})
		}
		volume := c.dead + math.Pi/4*c.bore*c.bore*c.stroke
		t := trade.VentTime(volume, supply.High+air.Mid(), left+air.Mid(), air.Mid(), conductance(c.vent), 0.3, cold.Low-ev.Limit("colder"))
		if math.IsNaN(t) {
			return sdk.One(sdk.CannotTell("the cylinder's data make no sense together"))
		}
		r := sdk.Judge(sdk.Exactly(t), ev.Ceiling("vent_fail", sdk.Fail), ev.Ceiling("vent_warn", sdk.Warn))
		r.Message = fmt.Sprintf("down to %.1f bar", left/bar)
		return sdk.One(r)
	},
}

// strokes is how many times a bottle fills a stroke, from what it reads down to the regulator:
// the least, when the gas cools as it leaves, and the most, when it keeps its warmth. Pressures
// gauge; station is the air around.
func strokes(bottle, volume, regulated, stroke, station float64) (least, most float64) {
	full, empty := bottle+station, regulated+station
	if full <= empty {
		return 0, 0
	}
	each := empty * stroke
	most = (full - empty) * volume / each
	least = full * volume * (1 - math.Pow(empty/full, 1/1.4)) / each
	return math.Min(least, most), most
}

var wingBottle = &sdk.Check{
	ID: "failsafe.wing-strokes", Item: "Openings left in the wing's bottle, warm or cold", System: "wing",
	Moments: []sdk.Moment{sdk.Paddock}, Applies: pneumatic,
	Needs: sdk.Needs{
		Documents: []string{"car.wing.supply", "measured.wing.bottle", "plan"},
		Limits: []sdk.Limit{
			{Name: "strokes_warn", Value: 3, Tighten: "up", Source: sdk.Source{Kind: "practice", Text: "times what the next run uses"}},
			{Name: "strokes_fail", Value: 2, Tighten: "up", Source: practice},
		},
	},
	Do: "Fill the bottle; leak look with the line at pressure.", Caution: "stored-pressure",
	Source: sdk.Source{Kind: "practice", Text: "gas law between one temperature and no exchange of heat"}, Accept: worked,
	Run: func(_ context.Context, ev *sdk.Evidence) ([]sdk.Result, error) {
		s := ev.Get("car.wing.supply")
		regulator, volume, stroke := s.Get("regulator").Number(), s.Get("bottle").Number(), s.Get("stroke_volume").Number()
		bottle, station, planned := ev.Number("measured.wing.bottle"), ev.Number("plan.forecast.station_pressure"), ev.Number("plan.per_run.wing_actuations")
		if !sdk.AllKnown(regulator, volume, stroke, bottle, station, planned) || planned.Low <= 0 || stroke.Low <= 0 {
			return sdk.One(ev.NoData())
		}
		least, most := strokes(bottle.Mid(), volume.Mid(), regulator.Mid(), stroke.Mid(), station.Mid())
		r := sdk.Judge(sdk.Between(least/planned.High, most/planned.Low), ev.Floor("strokes_fail", sdk.Fail), ev.Floor("strokes_warn", sdk.Warn))
		r.Message = fmt.Sprintf("%.0f to %.0f openings, the next run uses %.0f", math.Floor(least), math.Floor(most), planned.High)
		return sdk.One(r)
	},
}
