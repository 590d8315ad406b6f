package hydraulics

import (
	"context"
	"fmt"
	"math"

	"github.com/paintmark/paintmark/internal/trade"
	"github.com/paintmark/paintmark/plugins/sdk"
)

// dip is what one shift did to the pressure: before and lowest, gauge, Pa.
type dip struct{ at, before, after float64 }

// dips are the shifts of a log that the pressure tells something of: the pump at rest all the
// while, nothing unseen, another shift not begun. pump may be nil.
func dips(p, shift, pump *sdk.Channel, settle float64) []dip {
	var found []dip
	for i := 1; i < len(shift.Times); i++ {
		if shift.Values[i-1] != 0 || shift.Values[i] != 1 {
			continue
		}
		t := shift.Times[i]
		end := t
		for j := i; j < len(shift.Times) && shift.Values[j] == 1; j++ {
			end = shift.Times[j]
		}
		d := dip{at: t, before: p.At(t - p.Period), after: math.Inf(1)}
		for s := t; s <= end+settle; s += p.Period {
			x := p.At(s)
			if math.IsNaN(x) || pump != nil && pump.At(s) != 0 {
				d.after = math.NaN()
				break
			}
			d.after = math.Min(d.after, x)
		}
		if d.before > d.after { // false where either is NaN
			found = append(found, d)
		}
	}
	return found
}

var oilPerShift = &sdk.Check{
	ID: "hydraulics.oil-per-shift", Item: "Oil a shift takes, from the dip of the pressure", System: "hydraulics",
	Moments: []sdk.Moment{sdk.Run}, Applies: fitted, Unit: "mL",
	Needs: sdk.Needs{
		Documents: []string{"car.hydraulics", "measured.hydraulics.precharge"},
		Channels: []sdk.ChannelNeed{
			{Name: "hyd_pressure", Quantity: "pressure", Reads: "gauge"},
			{Name: "shift_active", Quantity: "yes-no"},
			{Name: "hyd_pump_on", Quantity: "yes-no"},
		},
		Limits: []sdk.Limit{
			{Name: "oil_over", Value: 2, Tighten: "down", Source: sdk.Source{Kind: "practice", Text: "times what the sheet says a shift takes"}},
			{Name: "dips_seen", Value: 5, Source: sdk.Source{Kind: "practice", Text: "shifts enough to say something"}},
		},
	},
	Do: "Actuator seals, then the valve; a shift that takes more oil leaks inside.", Caution: "stored-pressure",
	Source: sdk.Source{Kind: "practice", Text: "gas law over each dip, exponent 1 to 1.4, median of the run"}, Accept: adviser,
	Run: func(_ context.Context, ev *sdk.Evidence) ([]sdk.Result, error) {
		volume, each := ev.Number("car.hydraulics.accumulator_volume"), ev.Number("car.hydraulics.oil_per_shift")
		read, at := ev.Number("measured.hydraulics.precharge.value"), ev.Number("measured.hydraulics.precharge.gas_at")
		p, shift, pump := ev.Channel("hyd_pressure"), ev.Channel("shift_active"), ev.Channel("hyd_pump_on")
		if !sdk.AllKnown(volume, each, read, at) {
			return sdk.One(ev.NoData())
		}
		var least, most []float64
		for _, d := range dips(p, shift, pump, 0.1) {
			lo, hi := math.Inf(1), 0.0
			for _, t := range []float64{coldest, hot} {
				p0 := trade.GaugeAt(read.Mid(), station, at.Mid(), t)
				for _, n := range []float64{slow, fast} {
					if v := trade.AccumulatorGives(volume.Mid(), p0+station, d.after+station, d.before+station, n); v >= 0 {
						lo, hi = math.Min(lo, v), math.Max(hi, v)
					}
				}
			}
			if hi > 0 {
				least, most = append(least, lo), append(most, hi)
			}
		}
		seen := []string{"hyd_pressure", "shift_active", "hyd_pump_on"} // an unseen shift is one shift fewer, no more
		if float64(len(least)) < ev.Limit("dips_seen") {
			r := sdk.CannotTell(fmt.Sprintf("not exercised: %d shifts with the pump at rest", len(least)))
			r.Despite = seen
			return sdk.One(r)
		}
		r := sdk.Judge(sdk.Between(trade.Median(least), trade.Median(most)), sdk.Ceiling(each.Mid()*ev.Limit("oil_over"), sdk.Fail).From(practice))
		r.Message = fmt.Sprintf("median of %d shifts with the pump at rest", len(least))
		r.Despite = seen
		return sdk.One(r)
	},
}
