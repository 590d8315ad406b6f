package hydraulics

import (
	"context"
	"fmt"
	"math"

	"github.com/paintmark/paintmark/internal/trade"
	"github.com/paintmark/paintmark/plugins/sdk"
)

// Nitrogen in an accumulator: between slow (isothermal) and fast (adiabatic) it follows p·Vⁿ. The
// gas of a car at work is between a cold start and hot oil (common practice).
const (
	slow, fast   = 1.0, 1.4
	coldest, hot = zeroC + 20, zeroC + 80 // K
)

// Accumulator is one accumulator and what it must do. Pressures are gauge, Pa; volumes m³.
type Accumulator struct {
	Volume    float64 // of gas, empty of oil
	Precharge float64 // at 20 °C
	Low, Full float64 // least pressure for a shift, and the pressure the pump stops at
}

// Reserve is the oil it gives from full to the least pressure with the pump off, m³: the least and
// the most of it for gas from 20 to 80 °C, pressed slowly or fast.
func (a Accumulator) Reserve() (least, most float64) {
	least, most = math.Inf(1), 0
	for _, t := range []float64{coldest, (coldest + hot) / 2, hot} {
		p0 := trade.GaugeAt(a.Precharge, station, coldest, t)
		for _, n := range []float64{slow, fast} {
			v := a.gives(p0, n)
			least, most = math.Min(least, v), math.Max(most, v)
		}
	}
	return least, most
}

func (a Accumulator) gives(precharge, n float64) float64 {
	low := math.Max(a.Low, precharge) // below its precharge it holds no oil
	if low >= a.Full {
		return 0
	}
	return trade.AccumulatorGives(a.Volume, precharge+station, low+station, a.Full+station, n)
}

var shiftsLeft = &sdk.Check{
	ID: "hydraulics.shifts-left", Item: "Shifts left with the pump off, from the precharge", System: "hydraulics",
	Moments: []sdk.Moment{sdk.Paddock}, Applies: fitted,
	Needs: sdk.Needs{
		Documents: []string{"car.hydraulics", "measured.hydraulics.precharge"},
		Limits: []sdk.Limit{
			{Name: "shifts_warn", Value: 7, Tighten: "up", Source: practice},
			{Name: "shifts_fail", Value: 4, Tighten: "up", Source: practice},
		},
	},
	Do: "Test the precharge with the oil side at zero; fill with dry nitrogen only, by the maker's sheet.", Caution: "stored-pressure",
	Source: sdk.Source{Kind: "practice", Text: "gas law, exponent 1 to 1.4, gas at 20 to 80 °C"}, Accept: team,
	Run: func(_ context.Context, ev *sdk.Evidence) ([]sdk.Result, error) {
		h := ev.Get("car.hydraulics")
		volume, low, full, shift := h.Get("accumulator_volume").Number(), h.Get("shift_min").Number(), h.Get("pump_off").Number(), h.Get("oil_per_shift").Number()
		read, at := ev.Number("measured.hydraulics.precharge.value"), ev.Number("measured.hydraulics.precharge.gas_at")
		if !sdk.AllKnown(volume, low, full, shift, read, at) {
			return sdk.One(ev.NoData())
		}
		p20 := trade.GaugeAt(read.Mid(), station, at.Mid(), coldest)
		least, most := Accumulator{volume.Mid(), p20, low.Mid(), full.Mid()}.Reserve()
		if math.IsNaN(least) || shift.Mid() <= 0 {
			return sdk.One(sdk.CannotTell("the accumulator's data make no sense together"))
		}
		r := sdk.Judge(sdk.Between(math.Floor(least/shift.Mid()), math.Floor(most/shift.Mid())), ev.Floor("shifts_fail", sdk.Fail), ev.Floor("shifts_warn", sdk.Warn))
		r.Message = fmt.Sprintf("precharge %.1f bar at 20 °C, %.0f to %.0f mL from full", p20/bar, least*1e6, most*1e6)
		return sdk.One(r)
	},
}

var leakAtRest = &sdk.Check{
	ID: "hydraulics.leak-at-rest", Item: "Oil lost a minute at rest, from the leak-down", System: "hydraulics",
	Moments: []sdk.Moment{sdk.Paddock}, Applies: fitted, Unit: "mL/min",
	Needs: sdk.Needs{
		Documents: []string{"car.hydraulics", "measured.hydraulics.precharge", "measured.hydraulics.leakdown_180_to_150"},
		Limits: []sdk.Limit{
			{Name: "lost_warn", Value: 5, Unit: "mL/min", Tighten: "down", Source: practice},
			{Name: "lost_fail", Value: 12, Unit: "mL/min", Tighten: "down", Source: practice},
		},
	},
	Do: "Leak look with a card, never a hand; then valve, actuator seals, accumulator.", Caution: "stored-pressure",
	Source: sdk.Source{Kind: "practice", Text: "gas law at one temperature over the measured leak-down"}, Accept: adviser,
	Run: func(_ context.Context, ev *sdk.Evidence) ([]sdk.Result, error) {
		volume := ev.Number("car.hydraulics.accumulator_volume")
		read, at := ev.Number("measured.hydraulics.precharge.value"), ev.Number("measured.hydraulics.precharge.gas_at")
		lasted, oil := ev.Number("measured.hydraulics.leakdown_180_to_150.value"), ev.Number("measured.hydraulics.leakdown_180_to_150.oil_at")
		if !sdk.AllKnown(volume, read, at, lasted, oil) {
			return sdk.One(ev.NoData())
		}
		p0 := trade.GaugeAt(read.Mid(), station, at.Mid(), oil.Mid())
		if p0 >= 150*bar || lasted.Low <= 0 {
			return sdk.One(sdk.CannotTell("the leak-down does not fit the precharge"))
		}
		lost := trade.AccumulatorGives(volume.Mid(), p0+station, 150*bar+station, 180*bar+station, slow)
		return sdk.One(sdk.Judge(sdk.Between(lost/lasted.High, lost/lasted.Low), ev.Ceiling("lost_fail", sdk.Fail), ev.Ceiling("lost_warn", sdk.Warn)))
	},
}
