package failsafe

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/paintmark/paintmark/plugins/sdk"
	"github.com/paintmark/paintmark/plugins/sdk/sdktest"
)

func TestThePluginIsValid(t *testing.T) {
	p := Plugin()
	if err := p.Validate(); err != nil {
		t.Fatal(err)
	}
}

func outcome(t *testing.T, what string, r sdk.Result, want sdk.Outcome, says string) {
	t.Helper()
	if r.Outcome != want || !strings.Contains(r.Message, says) {
		t.Errorf("%s: %s, %q, %+v; want %s with %q", what, r.Outcome, r.Message, r.Measured, want, says)
	}
}

const deg = math.Pi / 180

const wingCar = `{"gearbox": {"shift": "hydraulic", "state_on_pressure_loss": "stays in gear"}, "hydraulics": {"shift_min": 105e5},
 "turbo": {"wastegate_spring": 0.75e5},
 "wing": {"angle_closed": 0.66322512, "angle_open": 0.15707963, "spring_force": 680, "spring_arm": 0.085, "normal_force_coefficient": 1.15, "centre_of_pressure_arm": 0.030,
  "open_end": {"spring_force": 760, "spring_arm": 0.085, "normal_force_coefficient": 0.35, "centre_of_pressure_arm": 0.030},
  "flap_area": 0.31, "friction_moment": 4, "max_speed": 65, "supply": {"regulator": 9e5, "bottle": 0.5e-3, "stroke_volume": 48e-6},
  "cylinder": {"bore": 0.040, "arm": 0.110, "supply_min": 8e5, "stroke": 0.050, "dead_volume": 6e-6, "vent_bore": 0.0022}}}`

const forecast = `{"forecast": {"station_pressure": 97600, "air": 287.15}, "per_run": {"wing_actuations": 13}}`

// wingLog has one loss of the order at 2 s and one of the brakes at 6 s; the wing is back after
// the times given, NaN for never.
func wingLog(order, brakes float64, unseen func(t float64) bool) *sdk.Log {
	return wingLogOf(order, brakes, math.NaN(), unseen)
}

// wingLogOf has the angle standing still where one is given.
func wingLogOf(order, brakes, still float64, unseen func(t float64) bool) *sdk.Log {
	const rate = 100.0
	var command, angle, brake, lat []float64
	for i := range 1000 {
		t := float64(i) / rate
		on := t >= 1 && t < 2 || t >= 5 && t < 6.04
		command = append(command, yes(on))
		open := t >= 1.2 && !(t >= 2+order && t < 5) && !(t >= 6+brakes)
		a := 38 * deg
		if open {
			a = 9 * deg
		}
		if !math.IsNaN(still) {
			a = still
		}
		if unseen != nil && unseen(t) {
			a = math.NaN()
		}
		angle = append(angle, a)
		brake = append(brake, 20e5*yes(t >= 6 && t < 8))
		lat = append(lat, 0)
	}
	return sdktest.Log(10, sdktest.Channel("wing_command", rate, command...), sdktest.Channel("wing_angle", rate, angle...),
		sdktest.Channel("brake_front", rate, brake...), sdktest.Channel("lat_g", rate, lat...))
}

func yes(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

var wingLimits = map[string]float64{
	"back_warn": 0.35, "back_fail": 0.40, "reaction": 0.1, "brake_shuts": 5e5, "grip_shuts": 0.6 * 9.80665, "end_stop": 1.5 * deg,
}

func TestWingLosses(t *testing.T) {
	look := func(log *sdk.Log) map[string]sdk.Result {
		all := map[string]sdk.Result{}
		for _, r := range sdktest.Run(t, wingLosses, sdktest.Evidence{Documents: map[string]string{"car": wingCar}, Limits: wingLimits, Log: log}) {
			all[r.Position] = r
		}
		return all
	}
	good := look(wingLog(0.25, 0.30, nil))
	outcome(t, "command off, 0.25 s", good["command off"], sdk.Pass, "slowest of 2")
	outcome(t, "brakes, 0.30 s", good["brakes"], sdk.Pass, "")
	outcome(t, "corner never taken", good["corner"], sdk.NoData, "not exercised")
	if m := good["brakes"].Measured; !(m.Low <= 0.30 && m.High >= 0.30 && m.High-m.Low < 0.021) {
		t.Errorf("0.30 s is said to be from %g to %g s", m.Low, m.High)
	}
	late := look(wingLog(0.46, 0.30, nil))
	outcome(t, "command off, 0.46 s", late["command off"], sdk.Fail, "")
	if at := late["command off"].At.Time; at != 2 {
		t.Errorf("late at %g s, want 2", at)
	}
	outcome(t, "brakes, 0.56 s", look(wingLog(0.25, 0.56, nil))["brakes"], sdk.Fail, "")
	outcome(t, "command off, 0.40 s, between the samples", look(wingLog(0.40, 0.30, nil))["command off"], sdk.NoData, "")
	outcome(t, "never back", look(wingLog(10, 10, nil))["command off"], sdk.Fail, "")
	outcome(t, "angle unseen from the loss on", look(wingLog(0.25, 0.30, func(t float64) bool { return t > 2.1 && t < 4 }))["command off"], sdk.NoData, "")
	outcome(t, "unseen when it was lost", look(wingLog(0.25, 0.30, func(t float64) bool { return t > 1.9 && t < 4 }))["command off"], sdk.NoData, "nobody saw")
	outcome(t, "a sensor that stands closed", look(wingLogOf(0.25, 0.30, 38*deg, nil))["command off"], sdk.NoData, "not exercised")
	outcome(t, "a sensor that stands open", look(wingLogOf(0.25, 0.30, 9*deg, nil))["command off"], sdk.Fail, "")
}

// Half rho v² S C x + friction against 0.9·F·arm, worked by hand: air of 97600 Pa and 4 °C, dry, is
// 1.2267 kg/m³ (ideal gas, 287.05 J/kgK); 0.5·1.2267·65²·0.31·1.15·0.030 = 27.72 N·m; 52.02/31.72 = 1.640.
func TestWingMoments(t *testing.T) {
	look := func(car string) []sdk.Result {
		return sdktest.Run(t, wingMoments, sdktest.Evidence{
			Documents: map[string]string{"car": car, "plan": forecast},
			Limits:    map[string]float64{"spring_worst": 0.9, "moment_warn": 1.5, "moment_fail": 1.2, "colder": 10},
		})
	}
	got := look(wingCar)
	outcome(t, "closed", got[0], sdk.Pass, "at 65 m/s")
	outcome(t, "open", got[1], sdk.Pass, "")
	if m := got[0].Measured.Mid(); math.Abs(m-1.640) > 0.003 {
		t.Errorf("margin %.4f, want 1.640", m)
	}
	outcome(t, "a tired spring", look(strings.Replace(wingCar, `"spring_force": 680`, `"spring_force": 560`, 1))[0], sdk.Warn, "")
	outcome(t, "a weak spring", look(strings.Replace(wingCar, `"spring_force": 680`, `"spring_force": 480`, 1))[0], sdk.Fail, "")
	outcome(t, "no figure for the open end", look(strings.Replace(wingCar, `"spring_force": 760`, `"spring_force": null`, 1))[1], sdk.NoData, "spring_force")
	outcome(t, "and the closed end all the same", look(strings.Replace(wingCar, `"spring_force": 760`, `"spring_force": null`, 1))[0], sdk.Pass, "")
	behind := strings.ReplaceAll(wingCar, `"centre_of_pressure_arm": 0.030`, `"centre_of_pressure_arm": -0.030`)
	if m := look(behind)[0].Measured.Mid(); math.Abs(m-52.02/4) > 0.01 {
		t.Errorf("air that closes is counted on: margin %g", m)
	}
}

// 50 mm at 6 bar push with 1178 N (trade sheets); here 40 mm at 8 bar: 1005.3 N · 0.11 m = 110.6 N·m
// against 1.1 · 760 · 0.085 + 4 = 75.06 N·m: 1.473.
func TestWingCylinder(t *testing.T) {
	look := func(car string) sdk.Result {
		return sdktest.Run(t, wingCylinder, sdktest.Evidence{
			Documents: map[string]string{"car": car}, Limits: map[string]float64{"spring_strong": 1.1, "cylinder_warn": 1.3, "cylinder_fail": 1},
		})[0]
	}
	got := look(wingCar)
	outcome(t, "8 bar", got, sdk.Pass, "")
	if m := got.Measured.Mid(); math.Abs(m-1.473) > 0.002 {
		t.Errorf("margin %.4f, want 1.473", m)
	}
	outcome(t, "6 bar", look(strings.Replace(wingCar, `"supply_min": 8e5`, `"supply_min": 6e5`, 1)), sdk.Warn, "")
	outcome(t, "4 bar", look(strings.Replace(wingCar, `"supply_min": 8e5`, `"supply_min": 4e5`, 1)), sdk.Fail, "")
	outcome(t, "no bore", look(strings.Replace(wingCar, `"bore": 0.040`, `"bore": null`, 1)), sdk.NoData, "bore")
}

func TestWingVent(t *testing.T) {
	look := func(car string) sdk.Result {
		return sdktest.Run(t, wingVent, sdktest.Evidence{
			Documents: map[string]string{"car": car, "plan": forecast},
			Limits:    map[string]float64{"spring_worst": 0.9, "vent_warn": 0.35, "vent_fail": 0.40, "colder": 10},
		})[0]
	}
	got := look(wingCar)
	outcome(t, "2.2 mm", got, sdk.Pass, "")
	// Choked as long as the cylinder is above 3.3 bar absolute, after that slower: the time lies
	// above the choked one, V/(C·p0)·ln(p1/p2), and below twice that.
	left := (0.9*680*0.085 - 27.72 - 4) / (0.110 * math.Pi / 4 * 0.04 * 0.04)
	choked := (6e-6 + math.Pi/4*0.04*0.04*0.05) / (conductance(0.0022) * 1e5) * math.Log((9e5+97600)/(left+97600))
	if m := got.Measured.Mid(); !(m > choked && m < 2*choked) {
		t.Errorf("%.3f s; choked all the way %.3f s", m, choked)
	}
	outcome(t, "0.9 mm", look(strings.Replace(wingCar, `"vent_bore": 0.0022`, `"vent_bore": 0.0009`, 1)), sdk.Fail, "")
	outcome(t, "a spring that cannot close", look(strings.Replace(wingCar, `"spring_force": 680`, `"spring_force": 300`, 1)), sdk.Fail, "nothing to close with")
}

func TestWingStrokes(t *testing.T) {
	least, most := strokes(172e5, 0.5e-3, 9e5, 48e-6, 97600)
	// By hand: (173 − 10) bar · 0.5 L / (10 bar · 48 mL) ≈ 170 at one temperature.
	if math.Abs(most-170) > 1 || !(least > 120 && least < most) {
		t.Errorf("from %.1f to %.1f openings", least, most)
	}
	look := func(bottle string) sdk.Result {
		return sdktest.Run(t, wingBottle, sdktest.Evidence{Documents: map[string]string{"car": wingCar, "plan": forecast, "measured": `{"wing": {"bottle": ` + bottle + `}}`}})[0]
	}
	outcome(t, "172 bar", look("172e5"), sdk.Pass, "the next run uses 13")
	outcome(t, "20 bar", look("20e5"), sdk.Fail, "")
	outcome(t, "under the regulator", look("5e5"), sdk.Fail, "0 to 0")
	outcome(t, "not read", look("null"), sdk.NoData, "bottle")
}

func TestTracking(t *testing.T) {
	look := func(apart func(t float64) float64, moves bool) sdk.Result {
		var a, b []float64
		for i := range 1000 {
			at := float64(i) / 100
			x := 0.5
			if moves {
				x += 0.4 * math.Sin(at)
			}
			a, b = append(a, x), append(b, x+apart(at))
		}
		return sdktest.Run(t, pairs, sdktest.Evidence{
			Documents: map[string]string{"channels": `[{"name": "throttle"}]`},
			Limits:    map[string]float64{"apart": 0.1, "apart_time": 0.1, "driven": 0.3},
			Log:       sdktest.Log(10, sdktest.Channel("throttle", 100, a...), sdktest.Channel("throttle_b", 100, b...)),
		})[0]
	}
	at := func(from, to, by float64) func(float64) float64 {
		return func(t float64) float64 { return by * yes(t >= from && t < to) }
	}
	outcome(t, "alike", look(at(0, 0, 0), true), sdk.Pass, "")
	outcome(t, "8 points", look(at(0, 10, 0.08), true), sdk.Pass, "")
	outcome(t, "15 points for 60 ms", look(at(3, 3.06, 0.15), true), sdk.Pass, "")
	outcome(t, "15 points for 300 ms", look(at(3, 3.3, 0.15), true), sdk.Fail, "")
	outcome(t, "15 points for 100 ms", look(at(3, 3.1, 0.15), true), sdk.NoData, "")
	outcome(t, "never moved", look(at(0, 0, 0), false), sdk.NoData, "not exercised")
	outcome(t, "one not seen for 500 ms", look(func(t float64) float64 {
		if t >= 3 && t < 3.5 {
			return math.NaN()
		}
		return 0
	}, true), sdk.NoData, "")
}

func TestBoostFalls(t *testing.T) {
	look := func(closed float64) sdk.Result {
		var p, th []float64
		for i := range 1000 {
			at := float64(i) / 100
			x, m := 1.0, 2.5e5
			if at > 5 {
				x, m = 0, closed
			}
			if at > 5 && at < 5.5 {
				m = 2.5e5
			}
			p, th = append(p, m), append(th, x)
		}
		return sdktest.Run(t, boostFalls, sdktest.Evidence{
			Documents: map[string]string{"car": wingCar, "weather": `{"station_pressure": 97600}`},
			Limits:    map[string]float64{"closed": 0.05, "settle": 1, "boost_over": 0.1e5},
			Log:       sdktest.Log(10, sdktest.Channel("manifold", 100, p...), sdktest.Channel("throttle", 100, th...)),
		})[0]
	}
	outcome(t, "falls", look(0.6e5), sdk.Pass, "")
	outcome(t, "stays up", look(2.4e5), sdk.Fail, "")
}

func TestGearState(t *testing.T) {
	look := func(after float64, lost bool) sdk.Result {
		var p, g, s []float64
		for i := range 1000 {
			at := float64(i) / 100
			x, gear := 150e5, 3.0
			if lost && at > 4 {
				x = 40e5
			}
			if at > 4.2 {
				gear = after
			}
			p, g, s = append(p, x), append(g, gear), append(s, 0)
		}
		return sdktest.Run(t, gearHeld, sdktest.Evidence{
			Documents: map[string]string{"car": wingCar}, Limits: map[string]float64{"lost_for": 0.5, "state_after": 1},
			Log: sdktest.Log(10, sdktest.Channel("hyd_pressure", 100, p...), sdktest.Channel("gear", 100, g...), sdktest.Channel("shift_active", 100, s...)),
		})[0]
	}
	outcome(t, "stays", look(3, true), sdk.Pass, "stays in gear")
	outcome(t, "falls out", look(0, true), sdk.Fail, "gear 3 became 0")
	outcome(t, "never lost", look(3, false), sdk.NoData, "not exercised")
}

func TestTrips(t *testing.T) {
	look := func(function string, values ...float64) sdk.Result {
		return sdktest.Run(t, trips, sdktest.Evidence{
			Documents: map[string]string{
				"trips":    `{"functions": [` + function + `]}`,
				"channels": `[{"name": "oil_pressure", "protects": ["low oil"]}, {"name": "speed"}]`,
			},
			Log: sdktest.Log(10, sdktest.Channel("oil_pressure", 100, values...)),
		})[0]
	}
	function := func(holds, enabled, onFault string) string {
		return fmt.Sprintf(`{"name": "low oil", "sheet": "0.5 bar", "unit_holds": %q, "enabled": %s, "on_sensor_fault": %q, "proven": "2026-05-15"}`, holds, enabled, onFault)
	}
	outcome(t, "as on the sheet", look(function("0.5 bar", "true", "cuts"), 4, 4), sdk.Pass, "cuts")
	outcome(t, "another figure", look(function("0.3 bar", "true", "cuts"), 4, 4), sdk.Fail, "the unit holds 0.3 bar")
	outcome(t, "off", look(function("0.5 bar", "false", "cuts"), 4, 4), sdk.Fail, "switched off")
	outcome(t, "blind, and the unit does nothing", look(function("0.5 bar", "true", "no action"), 4, math.NaN()), sdk.NoData, "blind")
	outcome(t, "a hole", look(function("0.5 bar", "true", "cuts"), 4, math.NaN(), 4), sdk.NoData, "unseen")
	outcome(t, "never proven", look(`{"name": "low oil", "sheet": "0.5 bar", "unit_holds": "0.5 bar", "enabled": true, "on_sensor_fault": "cuts"}`, 4), sdk.NoData, "proven")
	outcome(t, "no sensor", look(strings.Replace(function("0.5 bar", "true", "cuts"), "low oil", "other", 1), 4), sdk.NoData, "names no sensor")
}
