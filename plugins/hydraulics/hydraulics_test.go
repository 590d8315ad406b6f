package hydraulics

import (
	"math"
	"strconv"
	"testing"

	"github.com/paintmark/paintmark/internal/trade"
	"github.com/paintmark/paintmark/plugins/sdk"
	"github.com/paintmark/paintmark/plugins/sdk/sdktest"
)

func TestThePluginIsValid(t *testing.T) {
	p := Plugin()
	if err := p.Validate(); err != nil {
		t.Fatal(err)
	}
}

// 0.25 L, precharge 100 bar, between 110 and 200 bar: 81 mL fast, 102 mL slow (common practice).
func TestReserve(t *testing.T) {
	a := Accumulator{Volume: 0.25e-3, Precharge: 100 * bar, Low: 110 * bar, Full: 200 * bar}
	if got := a.gives(100*bar, fast) * 1e6; math.Abs(got-81) > 0.5 {
		t.Errorf("fast: %.2f mL, want 81", got)
	}
	if got := a.gives(100*bar, slow) * 1e6; math.Abs(got-102) > 0.5 {
		t.Errorf("slow: %.2f mL, want 102", got)
	}
	least, most := a.Reserve()
	if !(least > 60e-6 && least <= a.gives(100*bar, fast) && most >= a.gives(100*bar, slow) && most < 130e-6) {
		t.Errorf("reserve from %.1f to %.1f mL", least*1e6, most*1e6)
	}
	if got := (Accumulator{Volume: 1e-3, Precharge: 210 * bar, Low: 110 * bar, Full: 200 * bar}).gives(210*bar, fast); got != 0 {
		t.Errorf("precharged beyond its working pressure it gives %g m³, want 0", got)
	}
}

const accumulatorCar = `{"hydraulics": {"accumulator_volume": 0.25e-3, "shift_min": 105e5, "pump_off": 190e5, "oil_per_shift": 8e-6, "precharge_at_20C": 85e5}, "gearbox": {"shift": "hydraulic"}}`

func TestShiftsLeft(t *testing.T) {
	for _, c := range []struct {
		measured string
		want     sdk.Outcome
	}{
		{`{"hydraulics": {"precharge": {"value": 85e5, "gas_at": 293.15}}}`, sdk.Pass},
		{`{"hydraulics": {"precharge": {"value": 28e5, "gas_at": 293.15}}}`, sdk.NoData}, // between, by how fast
		{`{"hydraulics": {"precharge": {"value": 20e5, "gas_at": 293.15}}}`, sdk.Fail},
		{`{"hydraulics": {"precharge": {"value": 85e5}}}`, sdk.NoData},
		{`{}`, sdk.NoData},
	} {
		got := sdktest.Run(t, shiftsLeft, sdktest.Evidence{Documents: map[string]string{"car": accumulatorCar, "measured": c.measured}})
		if got[0].Outcome != c.want {
			t.Errorf("%s: %s (%s), want %s", c.measured, got[0].Outcome, got[0].Message, c.want)
		}
	}
}

func TestLeakAtRest(t *testing.T) {
	for minutes, want := range map[float64]sdk.Outcome{11: sdk.Pass, 4: sdk.Warn, 1: sdk.Fail} {
		doc := `{"hydraulics": {"precharge": {"value": 85e5, "gas_at": 293.15}, "leakdown_180_to_150": {"value": ` + number(minutes*60) + `, "oil_at": 318.15}}}`
		got := sdktest.Run(t, leakAtRest, sdktest.Evidence{
			Documents: map[string]string{"car": accumulatorCar, "measured": doc},
			Limits:    map[string]float64{"lost_warn": 5e-6 / 60, "lost_fail": 12e-6 / 60},
		})
		if got[0].Outcome != want {
			t.Errorf("%g min: %s at %g mL/min, want %s", minutes, got[0].Outcome, got[0].Measured.Mid()*60e6, want)
		}
	}
}

// The decay of an accumulator that leaks at a steady rate, by the gas law, down to its
// precharge, then the pressure of the oil alone within 0.2 s.
func decay(precharge, full, leak, volume, step float64, from float64) (times, pressures []float64) {
	gas := volume * (precharge + station) / (full + station)
	t := 0.0
	for ; t < from; t += step { // running first
		times, pressures = append(times, t), append(pressures, full-5*bar*math.Mod(t, 1))
	}
	for {
		p := volume*(precharge+station)/gas - station
		if gas >= volume {
			break
		}
		times, pressures = append(times, t), append(pressures, p)
		gas += leak * step
		t += step
	}
	for i := 0.0; i*step <= 0.25; i++ {
		times, pressures = append(times, t), append(pressures, precharge*math.Max(0, 1-i*step/0.2))
		t += step
	}
	return times, pressures
}

func TestKinkFindsThePrecharge(t *testing.T) {
	for _, precharge := range []float64{60 * bar, 85 * bar, 110 * bar} {
		times, p := decay(precharge, 190*bar, 4e-6, 0.25e-3, 0.05, 20)
		low, high, at, ok := Kink(times, p, 1*bar)
		if !ok || !(low <= precharge*1.001 && high >= precharge*0.999) || high-low > 30*bar {
			t.Errorf("precharge %g bar: from %.1f to %.1f bar at %.1f s, %v", precharge/bar, low/bar, high/bar, at, ok)
		}
	}
	times, p := decay(85*bar, 190*bar, 4e-6, 0.25e-3, 0.05, 20)
	if _, _, _, ok := Kink(times[:len(times)-8], p[:len(p)-8], bar); ok {
		t.Error("a kink in a fall that never reaches the precharge")
	}
	flat := make([]float64, 1000)
	ts := make([]float64, 1000)
	for i := range flat {
		ts[i], flat[i] = float64(i)*0.05, 150*bar
	}
	if _, _, _, ok := Kink(ts, flat, bar); ok {
		t.Error("a kink in a level line")
	}
	if _, _, _, ok := Kink(nil, nil, bar); ok {
		t.Error("a kink in nothing")
	}
}

func TestPrechargeSeen(t *testing.T) {
	at := func(precharge float64) sdk.Result {
		times, p := decay(precharge, 190*bar, 4e-6, 0.25e-3, 0.005, 5)
		c := sdktest.Channel("hyd_pressure", 200, p...)
		return sdktest.Run(t, prechargeSeen, sdktest.Evidence{
			Documents: map[string]string{"car": accumulatorCar}, Log: sdktest.Log(times[len(times)-1], c),
		})[0]
	}
	if got := at(110 * bar); got.Outcome != sdk.Pass {
		t.Errorf("gas at 110 bar hot: %s, %s", got.Outcome, got.Message)
	}
	if got := at(88 * bar); got.Outcome != sdk.NoData {
		t.Errorf("88 bar may be hot gas or cold: %s, %s", got.Outcome, got.Message)
	}
	if got := at(60 * bar); got.Outcome != sdk.Fail {
		t.Errorf("60 bar: %s, %s", got.Outcome, got.Message)
	}
}

func TestOilPerShift(t *testing.T) {
	run := func(each float64, shifts int, pumping bool) sdk.Result {
		const rate, precharge, volume = 200.0, 85 * bar, 0.25e-3
		var p, s, pump []float64
		gas := volume * math.Pow((precharge+station)/(190*bar+station), 1/1.2)
		for i := range 200 * (shifts + 2) {
			shifting := i%200 >= 100 && i%200 < 110 && i/200 < shifts
			if shifting {
				gas += each / 10
			} else if i%200 == 50 {
				gas = volume * math.Pow((precharge+station)/(190*bar+station), 1/1.2)
			}
			on := 0.0
			if pumping || i%200 < 60 {
				on = 1
			}
			p = append(p, (precharge+station)*math.Pow(volume/gas, 1.2)-station)
			s, pump = append(s, yes(shifting)), append(pump, on)
		}
		return sdktest.Run(t, oilPerShift, sdktest.Evidence{
			Documents: map[string]string{"car": accumulatorCar, "measured": `{"hydraulics": {"precharge": {"value": 85e5, "gas_at": 293.15}}}`},
			Log: sdktest.Log(float64(len(p))/rate, sdktest.Channel("hyd_pressure", rate, p...),
				sdktest.Channel("shift_active", rate, s...), sdktest.Channel("hyd_pump_on", rate, pump...)),
		})[0]
	}
	if got := run(8e-6, 20, false); got.Outcome != sdk.Pass || !(got.Measured.Low <= 8e-6 && got.Measured.High >= 8e-6) {
		t.Errorf("8 mL a shift: %s, %+v", got.Outcome, got.Measured)
	}
	if got := run(25e-6, 20, false); got.Outcome != sdk.Fail {
		t.Errorf("25 mL a shift: %s, %+v", got.Outcome, got.Measured)
	}
	if got := run(8e-6, 3, false); got.Outcome != sdk.NoData {
		t.Errorf("three shifts: %s", got.Outcome)
	}
	if got := run(8e-6, 20, true); got.Outcome != sdk.NoData {
		t.Errorf("the pump running all the while: %s", got.Outcome)
	}
}

func yes(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

func number(x float64) string { return strconv.FormatFloat(x, 'g', -1, 64) }

// 151773/38363/3339 per mL are 24/22/19, 492/149/15 are 16/14/11 (worked codings, scribd 412503513).
func TestOilCode(t *testing.T) {
	for _, c := range []struct {
		counts, target string
		want           sdk.Outcome
	}{
		{`"from_4um": 492, "from_6um": 149, "from_14um": 15`, "16/14/11", sdk.Pass},
		{`"from_4um": 492, "from_6um": 149, "from_14um": 25`, "16/14/11", sdk.Warn},
		{`"from_4um": 151773, "from_6um": 38363, "from_14um": 3339`, "16/14/11", sdk.Fail},
		{`"from_4um": 151773, "from_6um": 38363, "from_14um": 3339`, "24/22/19", sdk.Pass},
		{`"from_4um": 100, "from_6um": 161, "from_14um": 3`, "16/14/11", sdk.Warn}, // cleaner elsewhere does not make up
		{`"from_4um": 492, "from_6um": 149`, "16/14/11", sdk.NoData},
		{`"from_4um": 492, "from_6um": 149, "from_14um": 15`, "sixteen", sdk.NoData},
	} {
		got := sdktest.Run(t, cleanliness, sdktest.Evidence{Documents: map[string]string{
			"car": `{"hydraulics": {"cleanliness_target": "` + c.target + `"}}`, "measured": `{"hydraulics": {"particles": {` + c.counts + `}}}`,
		}})
		if got[0].Outcome != c.want {
			t.Errorf("%s against %s: %s (%s), want %s", c.counts, c.target, got[0].Outcome, got[0].Message, c.want)
		}
	}
}

// Beta 75 holds back 98.7 %, 200 holds back 99.5 % (hawe.com; jyfiltec.com).
func TestBeta(t *testing.T) {
	for behind, want := range map[string]sdk.Outcome{"0.07": sdk.Pass, "0.12": sdk.Warn, "0.4": sdk.Fail, "0": sdk.NoData} {
		got := sdktest.Run(t, beta, sdktest.Evidence{Documents: map[string]string{
			"car": `{"hydraulics": {"filter": {"beta_14um": 200}}}`, "measured": `{"hydraulics": {"particles": {"from_14um": 15, "behind_filter_14um": ` + behind + `}}}`,
		}})
		if got[0].Outcome != want {
			t.Errorf("%s behind: %s (%s), want %s", behind, got[0].Outcome, got[0].Message, want)
		}
	}
}

func TestFilterDue(t *testing.T) {
	car := `{"hydraulics": {"filter": {"place": "hydraulic.filter", "drop_clean": 0.5e5, "drop_due": 2.5e5, "drop_at": 333.15}, "oil": {"viscosity_40C": 32e-6, "viscosity_100C": 5.4e-6}}}`
	limits := map[string]float64{"due_warn": 0.9, "due_fail": 1}
	run := func(life, drop string) sdk.Result {
		return sdktest.Run(t, filter, sdktest.Evidence{Documents: map[string]string{
			"car": car, "life": life, "measured": `{"hydraulics": {"filter_drop": ` + drop + `}}`,
		}, Limits: limits})[0]
	}
	young := `{"limits": [{"place": "hydraulic.filter", "meter": "distance", "share": 0.4}, {"place": "engine", "meter": "hours", "share": 0.99}]}`
	old := `{"limits": [{"place": "hydraulic.filter", "meter": "distance", "share": 0.4}, {"place": "hydraulic.filter", "meter": "events", "share": 1.2}]}`
	// At 20 °C the oil is several times as thick as at 60 °C: the same drop is no sign of dirt.
	cold, warm := trade.Viscosity(32e-6, 313.15, 5.4e-6, 373.15, 293.15), trade.Viscosity(32e-6, 313.15, 5.4e-6, 373.15, 333.15)
	if cold/warm < 4 {
		t.Fatalf("viscosities %g and %g", cold, warm)
	}
	for _, c := range []struct {
		life, drop string
		want       sdk.Outcome
	}{
		{young, `{"value": 1.2e5, "oil_at": 333.15}`, sdk.Pass},
		{young, `{"value": 3.0e5, "oil_at": 333.15}`, sdk.Fail},
		{young, `{"value": 3.0e5, "oil_at": 293.15}`, sdk.Pass},
		{old, `{"value": 1.2e5, "oil_at": 333.15}`, sdk.Fail},
		{young, `{}`, sdk.NoData},
		{`{"limits": []}`, `{"value": 1.2e5, "oil_at": 333.15}`, sdk.NoData},
		{`{"limits": [{"place": "hydraulic.filter", "meter": "distance"}]}`, `{"value": 1.2e5, "oil_at": 333.15}`, sdk.NoData},
	} {
		if got := run(c.life, c.drop); got.Outcome != c.want {
			t.Errorf("%s, %s: %s (%s), want %s", c.life, c.drop, got.Outcome, got.Message, c.want)
		}
	}
}
