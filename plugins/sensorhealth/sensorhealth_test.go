package sensorhealth

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/paintmark/paintmark/internal/trade"
	"github.com/paintmark/paintmark/plugins/sdk"
	"github.com/paintmark/paintmark/plugins/sdk/sdktest"
)

const g0 = 9.80665

func TestThePluginIsValid(t *testing.T) {
	p := Plugin()
	if err := p.Validate(); err != nil {
		t.Fatal(err)
	}
}

// list is channels.yaml as a plugin is given it: "name unit", and more fields of each.
func list(lines ...string) map[string]string {
	var items []string
	for _, l := range lines {
		name, rest, _ := strings.Cut(l, " ")
		unit, more, _ := strings.Cut(rest, " ")
		items = append(items, strings.TrimSuffix(fmt.Sprintf(`{"name": %q, "unit": %q, %s`, name, unit, more), ", ")+"}")
	}
	return map[string]string{"channels": "[" + strings.Join(items, ", ") + "]"}
}

// made are values at a rate for so many seconds.
func made(rate, seconds float64, f func(t float64) float64) (out []float64) {
	for i := range int(rate * seconds) {
		out = append(out, f(float64(i)/rate))
	}
	return out
}

// course goes up and down like a driven car, never the same way twice.
func course(t float64) float64 {
	return math.Sin(t) + 0.6*math.Sin(2.3*t+1) + 0.3*math.Sin(5.1*t+2)
}

func found(t *testing.T, c *sdk.Check, e sdktest.Evidence, position string) sdk.Result {
	t.Helper()
	for _, r := range sdktest.Run(t, c, e) {
		if r.Position == position {
			return r
		}
	}
	t.Fatalf("%s says nothing of %q", c.ID, position)
	return sdk.Result{}
}

func TestRate(t *testing.T) {
	for logged, want := range map[float64]sdk.Outcome{100: sdk.Pass, 104: sdk.Pass, 90: sdk.Fail, 50: sdk.Fail, 200: sdk.Fail} {
		e := sdktest.Evidence{Documents: list(`rpm rpm "rate": 100`), Log: sdktest.Log(10, sdktest.Channel("rpm", logged, made(logged, 10, course)...))}
		if got := found(t, rate, e, "rpm"); got.Outcome != want {
			t.Errorf("logged at %v Hz: %s, want %s", logged, got.Outcome, want)
		}
	}
	e := sdktest.Evidence{Documents: list(`rpm rpm "rate": 100`, `speed km/h "rate": 100`), Log: sdktest.Log(10, sdktest.Channel("rpm", 100, made(100, 10, course)...))}
	if got := found(t, rate, e, "speed"); got.Outcome != sdk.NoData {
		t.Errorf("not in the log: %s", got.Outcome)
	}
}

// Of a channel of which nothing was seen nobody can tell whether it trembles, spikes or switches.
func TestNothingSeen(t *testing.T) {
	unseen := sdktest.Channel("x", 100, made(100, 10, func(float64) float64 { return math.NaN() })...)
	unseen.Within = 1
	for c, unit := range map[*sdk.Check]string{spikes: "bar", noise: "bar", switches: "state"} {
		e := sdktest.Evidence{Documents: list("x " + unit), Log: sdktest.Log(10, unseen), Limits: map[string]float64{"noise_warn": 0.75, "noise_fail": 1}}
		if got := found(t, c, e, "x"); got.Outcome != sdk.NoData {
			t.Errorf("%s: %s", c.ID, got.Outcome)
		}
	}
}

func TestDropout(t *testing.T) {
	// 100 samples of 1000 missing in one piece from 3 s on.
	var times []float64
	for i := range 1000 {
		if i < 300 || i >= 400 {
			times = append(times, float64(i)/100)
		}
	}
	share, widest, at := Lost(times, 0.01)
	if math.Abs(share-0.1) > 1e-9 || math.Abs(widest-1.01) > 1e-9 || at != 2.99 {
		t.Errorf("%v lost, %v s wide at %v s; want a tenth, 1.01 s at 2.99 s", share, widest, at)
	}
	if share, _, _ := Lost(times[:300], 0.01); share != 0 {
		t.Errorf("%v lost where nothing is", share)
	}
	if share, _, _ := Lost([]float64{0, 0.014, 0.021, 0.03}, 0.01); share != 0 {
		t.Errorf("%v lost: that is jitter", share)
	}
	// Here and there, to the last one.
	src := rand.New(rand.NewPCG(5, 5))
	for _, p := range []float64{0.01, 0.05, 0.1, 0.3} {
		var times []float64
		gone := 0
		for i := range 5000 {
			if i > 0 && i < 4999 && src.Float64() < p {
				gone++
				continue
			}
			times = append(times, float64(i)/100)
		}
		if share, _, _ := Lost(times, 0.01); math.Abs(share-float64(gone)/5000) > 1e-9 {
			t.Errorf("of %v lost here and there %v were told", float64(gone)/5000, share)
		}
	}
}

// What is called calm has no spike, however little it trembles; both answers are given.
func TestCalm(t *testing.T) {
	calms, spiky := 0, 0
	for seed := range uint64(400) {
		src := rand.New(rand.NewPCG(seed, 2))
		values := make([]float64, 2+src.IntN(3000))
		level, noise := 0.0, math.Pow(10, 2-4*src.Float64())
		for i := range values {
			level += src.NormFloat64()
			values[i] = level + noise*src.NormFloat64()
			switch src.IntN(1000) {
			case 0:
				values[i] += 100 * src.NormFloat64()
			case 1:
				values[i] = math.NaN()
			}
		}
		n, _ := Spikes(make([]float64, len(values)), values, 0, 0.3)
		switch calm := calm(values, 0.3); {
		case calm && n > 0:
			t.Errorf("seed %d: called calm, and has %d spikes", seed, n)
		case calm:
			calms++
		case n > 0:
			spiky++
		}
	}
	if calms < 50 || spiky < 50 {
		t.Errorf("%d calm, %d with spikes: too few to show anything", calms, spiky)
	}
}

// Planted spikes are found to the last, and what is only noise or steep has none.
func TestSpikes(t *testing.T) {
	for seed := range uint64(20) {
		src := rand.New(rand.NewPCG(seed, 1))
		values := made(100, 60, func(t float64) float64 { return 10*course(t) + 0.2*src.NormFloat64() })
		times := made(100, 60, func(t float64) float64 { return t })
		if n, at := Spikes(times, values, sigmaOf(values), 0.3); n != 0 {
			t.Errorf("seed %d: %d spikes, one at %v s, where there are none", seed, n, at)
		}
		planted := 10 + int(seed)/2
		for k := range planted {
			values[200*(k+1)] += 25
		}
		values[2000] += 15 // the widest, at 20 s
		if n, at := Spikes(times, values, sigmaOf(values), 0.3); n != planted || at != 20 {
			t.Errorf("seed %d: %d spikes, the widest at %v s; %d were planted, the widest at 20 s", seed, n, at, planted)
		}
		noise := made(100, 60, func(float64) float64 { return src.NormFloat64() })
		if n, _ := Spikes(times, noise, sigmaOf(noise), 0.3); n != 0 {
			t.Errorf("seed %d: %d spikes in bare noise", seed, n)
		}
	}
	start := append([]float64{0, 4}, slices.Repeat([]float64{10}, 400)...) // on the way up, with little before it
	if n, _ := Spikes(make([]float64, len(start)), start, sigmaOf(start), 0.3); n != 0 {
		t.Errorf("%d spikes in a steep start", n)
	}
	steps := made(100, 10, func(t float64) float64 { return math.Floor(t) })
	if n, _ := Spikes(make([]float64, len(steps)), steps, sigmaOf(steps), 0.3); n != 0 {
		t.Errorf("%d spikes in steps", n)
	}
}

// The noise that is put on is the noise that is told, whatever the car does under it.
func TestNoise(t *testing.T) {
	for _, sigma := range []float64{0.05, 0.2, 1} {
		for seed := range uint64(5) {
			src := rand.New(rand.NewPCG(seed, 3))
			values := made(100, 60, func(t float64) float64 { return 2*course(t) + sigma*src.NormFloat64() })
			values[300], values[301] = math.NaN(), 80
			if got, _ := trade.Noise(values); math.Abs(got/sigma-1) > 0.06 {
				t.Errorf("%v is told as %v", sigma, got)
			}
			for within, want := range map[float64]sdk.Outcome{1.7 * sigma: sdk.Pass, 1.2 * sigma: sdk.Warn, 0.9 * sigma: sdk.Fail} {
				c := sdktest.Channel("p", 100, values...)
				c.Within = within
				e := sdktest.Evidence{Documents: list("p bar"), Limits: map[string]float64{"noise_warn": 0.75, "noise_fail": 1}, Log: sdktest.Log(60, c)}
				if r := found(t, noise, e, "p"); r.Outcome != want {
					t.Errorf("sigma %v within %v: %s, want %s", sigma, within, r.Outcome, want)
				}
			}
		}
	}
	if got, _ := trade.Noise(make([]float64, 50)); !math.IsNaN(got) {
		t.Error("of fifty samples it cannot be told")
	}
}

func coupled(b func(t float64) float64) sdktest.Evidence {
	return sdktest.Evidence{
		Documents: list(`throttle %`, `throttle_b % "pair_with": "throttle"`),
		Limits:    map[string]float64{"late_warn": 0.1, "late_fail": 0.3},
		Log:       sdktest.Log(60, sdktest.Channel("throttle", 100, made(100, 60, course)...), sdktest.Channel("throttle_b", 50, made(50, 60, b)...)),
	}
}

func TestReversed(t *testing.T) {
	src := rand.New(rand.NewPCG(1, 2))
	for _, c := range []struct {
		name string
		b    func(t float64) float64
		want sdk.Outcome
		dead int
	}{
		{"the same", course, sdk.Pass, 0},
		{"scaled, shifted and noisy", func(t float64) float64 { return 3 + 7*course(t) + src.NormFloat64() }, sdk.Pass, 0},
		{"turned about", func(t float64) float64 { return 5 - course(t) }, sdk.Fail, 2},
		{"turned about and late", func(t float64) float64 { return -course(t - 0.2) }, sdk.Fail, 2},
		{"another thing", func(float64) float64 { return src.NormFloat64() }, sdk.Warn, 0},
		{"standing still", func(float64) float64 { return 4 }, sdk.NoData, 0},
	} {
		got := found(t, reversed, coupled(c.b), "throttle_b and throttle")
		if got.Outcome != c.want || len(got.Dead) != c.dead {
			t.Errorf("%s: %s, %d dead; want %s, %d", c.name, got.Outcome, len(got.Dead), c.want, c.dead)
		}
	}
}

// An acceleration that is turned about is the one to doubt, not the speed.
func TestReversedAcceleration(t *testing.T) {
	speed := made(50, 60, func(t float64) float64 { return 30 + 8*math.Sin(t/2) })
	long := made(100, 60, func(t float64) float64 { return -4 * math.Cos(t/2) })
	e := sdktest.Evidence{
		Documents: list(`speed km/h`, `long_g g0`),
		Log:       sdktest.Log(60, sdktest.Channel("speed", 50, speed...), sdktest.Channel("long_g", 100, long...)),
	}
	got := found(t, reversed, e, "speed and long_g")
	if got.Outcome != sdk.Fail || len(got.Dead) != 1 || got.Dead[0].Channel != "long_g" || got.Dead[0].To != 60 {
		t.Errorf("%s, dead %v", got.Outcome, got.Dead)
	}
}

func TestSkew(t *testing.T) {
	for late, want := range map[float64]sdk.Outcome{0: sdk.Pass, 0.04: sdk.Pass, 0.2: sdk.Warn, -0.2: sdk.Warn, 0.5: sdk.Fail} {
		got := found(t, skew, coupled(func(t float64) float64 { return course(t - late) }), "throttle_b and throttle")
		if got.Outcome != want || math.Abs(got.Measured.Mid()-math.Abs(late)) > step {
			t.Errorf("late by %v s: %s, %v s; want %s", late, got.Outcome, got.Measured.Mid(), want)
		}
		if after := strings.HasPrefix(got.Message, "throttle_b after"); late > 0.1 && !after || late < -0.1 && after {
			t.Errorf("late by %v s: %s", late, got.Message)
		}
	}
}

// rested is a run that stands, drives and stands again, with what an acceleration reads at rest before and after.
func rested(before, after float64) sdktest.Evidence {
	moving := func(t float64) bool { return t >= 10 && t < 30 }
	speed := made(50, 45, func(t float64) float64 {
		if moving(t) {
			return 20
		}
		return 0
	})
	long := made(100, 45, func(t float64) float64 {
		switch {
		case moving(t):
			return 5
		case t < 10:
			return before * g0
		}
		return after * g0
	})
	return sdktest.Evidence{
		Limits: map[string]float64{"rest_warn": 0.1 * g0, "rest_fail": 0.25 * g0, "drift_warn": 0.05 * g0, "drift_fail": 0.2 * g0},
		Log:    sdktest.Log(45, sdktest.Channel("speed", 50, speed...), sdktest.Channel("long_g", 100, long...)),
	}
}

func TestAtRest(t *testing.T) {
	for _, c := range []struct {
		before, after float64
		rest, drift   sdk.Outcome
	}{
		{0.01, 0.02, sdk.Pass, sdk.Pass},
		{-0.15, -0.15, sdk.Warn, sdk.Pass},
		{0.3, 0.3, sdk.Fail, sdk.Pass},
		{0, 0.09, sdk.Pass, sdk.Warn},
		{0, -0.22, sdk.Pass, sdk.Fail}, // longer after than before: in the middle it is the later
	} {
		e := rested(c.before, c.after)
		if got := found(t, drift, e, "long_g"); got.Outcome != c.drift {
			t.Errorf("from %v to %v: drift %s, want %s", c.before, c.after, got.Outcome, c.drift)
		}
		if c.after == -0.22 {
			continue
		}
		if got := found(t, rest, e, "long_g"); got.Outcome != c.rest {
			t.Errorf("from %v to %v: at rest %s, want %s", c.before, c.after, got.Outcome, c.rest)
		}
		if got := found(t, rest, e, "lat_g"); got.Outcome != sdk.NoData {
			t.Errorf("without the channel: %s", got.Outcome)
		}
	}
	e := sdktest.Evidence{Limits: rested(0, 0).Limits, Log: sdktest.Log(20,
		sdktest.Channel("speed", 50, made(50, 20, func(float64) float64 { return 20 })...), sdktest.Channel("long_g", 50, make([]float64, 1000)...))}
	if got := found(t, rest, e, "long_g"); got.Outcome != sdk.NoData {
		t.Errorf("never stood: %s", got.Outcome)
	}
}

func TestCold(t *testing.T) {
	for apart, want := range map[float64]sdk.Outcome{1: sdk.Pass, 5: sdk.Warn, 12: sdk.Fail, -5: sdk.Warn} {
		log := sdktest.Log(20, sdktest.Channel("oil_temp", 5, made(5, 20, func(float64) float64 { return 285 })...),
			sdktest.Channel("water_temp", 5, made(5, 20, func(t float64) float64 { return 285 + apart + 40*math.Floor(t/11) })...),
			sdktest.Channel("gearbox_temp", 5, made(5, 20, func(float64) float64 { return 285 + apart/2 })...))
		log.Kind = "cold"
		e := sdktest.Evidence{Limits: map[string]float64{"cold_warn": 3, "cold_fail": 6}, Log: log}
		if got := sdktest.One(t, cold, e); got.Outcome != want || (got.Message == "oil_temp reads least, water_temp most") != (apart > 0) {
			t.Errorf("%v K apart: %s (%s), want %s", apart, got.Outcome, got.Message, want)
		}
	}
}

// A signal that says that it is none is a fault of its own, and dead for as long as it says so.
func TestElectrical(t *testing.T) {
	at := func(normal, odd float64) []float64 {
		return made(100, 10, func(t float64) float64 {
			if t >= 4 && t < 4.5 {
				return odd
			}
			return normal
		})
	}
	for _, c := range []struct {
		line        string
		normal, odd float64
		want        sdk.Outcome
	}{
		{`p V "sensor": "ratiometric 5 V"`, 2.5, 4.9, sdk.Fail},
		{`p V "sensor": "ratiometric 5 V"`, 2.5, 4.6, sdk.Pass}, // beyond its range is no fault of the signal
		{`p mA "sensor": "4-20 mA"`, 0.012, 0.002, sdk.Fail},
		{`p mA "sensor": "4-20 mA"`, 0.012, 0.0037, sdk.Pass},
		{`p count "sensor": "J1939, 1 byte"`, 120, 0xfe, sdk.Fail},
		{`p count "sensor": "J1939, 2 bytes"`, 64000, 0xff00, sdk.Fail},
		{`p count "sensor": "J1939, 2 bytes"`, 120, 0xfe, sdk.Pass},
	} {
		e := sdktest.Evidence{Documents: list(c.line), Limits: map[string]float64{"fault_time": 0.05}, Log: sdktest.Log(10, sdktest.Channel("p", 100, at(c.normal, c.odd)...))}
		got := found(t, electrical, e, "p")
		if got.Outcome != c.want {
			t.Errorf("%s at %v: %s, want %s", c.line, c.odd, got.Outcome, c.want)
		}
		if c.want == sdk.Fail && (len(got.Dead) != 1 || math.Abs(got.Dead[0].From-4) > 1e-9 || math.Abs(got.Dead[0].To-4.5) > 1e-9) {
			t.Errorf("%s at %v: dead %v, want 4 to 4.5 s", c.line, c.odd, got.Dead)
		}
	}
	// Logged as what it measures, there is nothing electrical to see.
	e := sdktest.Evidence{Documents: list(`p bar "sensor": "ratiometric 5 V"`), Limits: map[string]float64{"fault_time": 0.05}, Log: sdktest.Log(10, sdktest.Channel("p", 100, at(1e5, 2e5)...))}
	if got := sdktest.One(t, electrical, e); got.Outcome != sdk.NotApplicable {
		t.Errorf("in bar: %s", got.Outcome)
	}
}

func TestWheels(t *testing.T) {
	// Slow or in a bend the wheels differ by more, as they must.
	speed := func(off float64) []float64 {
		return made(50, 20, func(t float64) float64 {
			switch {
			case t < 12:
				return 12 * (1 + 10*off)
			case t > 15:
				return 30 * (1 + 10*off)
			}
			return 30 * (1 + off)
		})
	}
	lat := made(50, 20, func(t float64) float64 {
		if t > 15 {
			return 8
		}
		return 0
	})
	e := sdktest.Evidence{
		Limits: map[string]float64{"wheel_warn": 0.01, "wheel_fail": 0.02},
		Log: sdktest.Log(20, sdktest.Channel("lat_g", 50, lat...), sdktest.Channel("long_g", 50, make([]float64, 1000)...),
			sdktest.Channel("wheel_speed_fl", 50, speed(0)...), sdktest.Channel("wheel_speed_fr", 50, speed(0.001)...),
			sdktest.Channel("wheel_speed_rl", 50, speed(0.015)...), sdktest.Channel("wheel_speed_rr", 50, speed(-0.04)...)),
	}
	for name, want := range map[string]sdk.Outcome{"wheel_speed_fl": sdk.Pass, "wheel_speed_fr": sdk.Pass, "wheel_speed_rl": sdk.Warn, "wheel_speed_rr": sdk.Fail} {
		if got := found(t, wheels, e, name); got.Outcome != want {
			t.Errorf("%s: %s, want %s", name, got.Outcome, want)
		}
	}
}

// flap is a wing that begins to move 0.06 s after it is ordered and takes 0.2 s for its way; open is whether it
// is ordered open.
func flap(open func(t float64) bool, seconds float64) (order, angle []float64) {
	a := 38.0
	for i := range int(1000 * seconds) {
		t := float64(i) / 1000
		if open(t - 0.06) {
			a = max(a-29/200., 9)
		} else {
			a = min(a+29/200., 38)
		}
		if i%10 == 0 {
			o := 0.0
			if open(t) {
				o = 1
			}
			order, angle = append(order, o), append(angle, a)
		}
	}
	return order, angle
}

func TestOrderFirst(t *testing.T) {
	open := func(t float64) bool { return t > 0 && math.Mod(t, 5) > 3 }
	src := rand.New(rand.NewPCG(8, 8))
	for _, c := range []struct {
		late float64 // by which the order's channel comes late
		want sdk.Outcome
	}{{0, sdk.Pass}, {0.05, sdk.Pass}, {0.1, sdk.NoData}, {0.2, sdk.Fail}, {0.4, sdk.Fail}, {-0.2, sdk.Pass}} {
		order, angle := flap(open, 60)
		late, _ := flap(func(t float64) bool { return open(t - c.late) }, 60)
		for i := range angle {
			angle[i] += 0.1 * src.NormFloat64()
		}
		own, after := sdktest.Channel("wing_command", 100, order...), sdktest.Channel("wing_command", 100, late...)
		effect := sdktest.Channel("wing_angle", 100, angle...)
		moves := After(own, effect, false)
		if m := slices.Sorted(slices.Values(moves)); len(m) != 23 || m[0] < 0.06-1e-9 || m[22] > 0.08 { // a twentieth of the way is 10 ms
			t.Errorf("it moves %v after its order", m)
		}
		e := sdktest.Evidence{Documents: list("wing_command state", "wing_angle deg"), Log: sdktest.Log(60, after, effect)}
		got := found(t, orders, e, "wing_angle after wing_command")
		if got.Outcome != c.want || got.Outcome == sdk.Fail && len(got.Dead) != 2 {
			t.Errorf("an order late by %v s: %s, %+v, %d dead; want %s", c.late, got.Outcome, got.Measured, len(got.Dead), c.want)
		}
		if got.Measured == nil || got.Measured.Low > 0.07-c.late+1e-9 || got.Measured.High < 0.07-c.late-1e-9 {
			t.Errorf("an order late by %v s: it moves %+v after", c.late, got.Measured)
		}
	}
	still := sdktest.Evidence{Documents: list("wing_command state", "wing_angle deg"), Log: sdktest.Log(60,
		sdktest.Channel("wing_command", 100, make([]float64, 6000)...), sdktest.Channel("wing_angle", 100, make([]float64, 6000)...))}
	if got := found(t, orders, still, "wing_angle after wing_command"); got.Outcome != sdk.NoData {
		t.Errorf("never ordered: %s", got.Outcome)
	}
}

// A gear steps within the shift it is asked by, and the end of a shift asks for none.
func TestGearAfterShift(t *testing.T) {
	for late, want := range map[float64]sdk.Outcome{0: sdk.Pass, 0.1: sdk.Fail} {
		shift := made(200, 30, func(t float64) float64 {
			if t -= late; t > 0 && math.Mod(t, 3) > 2.9 {
				return 1
			}
			return 0
		})
		gear := made(50, 30, func(t float64) float64 { return math.Floor((t+0.1-0.035)/3) + 1 })
		e := sdktest.Evidence{Documents: list("shift_active state", "gear count"), Log: sdktest.Log(30, sdktest.Channel("shift_active", 200, shift...), sdktest.Channel("gear", 50, gear...))}
		if got := found(t, orders, e, "gear after shift_active"); got.Outcome != want {
			t.Errorf("a shift late by %v s: %s, %+v; want %s", late, got.Outcome, got.Measured, want)
		}
	}
}

// Of a switch in bare noise every fourth sample stands alone; one that works has none, one that is loose some.
func TestSwitches(t *testing.T) {
	src := rand.New(rand.NewPCG(9, 9))
	works := func(t float64) float64 { return math.Mod(math.Floor(t/1.3), 2) }
	noisy := made(100, 100, func(float64) float64 { return float64(src.IntN(2)) })
	if share := Lone(noisy); math.Abs(share-0.25) > 0.02 {
		t.Errorf("%v of bare noise stand alone, want a quarter", share)
	}
	loose := made(100, 100, works)
	for k := range 30 {
		loose[300*(k+1)] = 1 - loose[300*(k+1)]
	}
	for _, c := range []struct {
		name   string
		values []float64
		want   sdk.Outcome
	}{{"sound", made(100, 100, works), sdk.Pass}, {"loose", loose, sdk.Warn}, {"noise", noisy, sdk.Fail}} {
		e := sdktest.Evidence{Documents: list("wing_command state"), Log: sdktest.Log(100, sdktest.Channel("wing_command", 100, c.values...))}
		if got := found(t, switches, e, "wing_command"); got.Outcome != c.want || (len(got.Dead) == 1) != (c.want == sdk.Fail) {
			t.Errorf("%s: %s, %+v, dead %v; want %s", c.name, got.Outcome, got.Measured, got.Dead, c.want)
		}
	}
}

// Two brake circuits have the shares of their sheet, or each the other's.
func TestSwapped(t *testing.T) {
	press := func(most float64) []float64 {
		return made(100, 20, func(t float64) float64 { return most * max(0, math.Sin(t)) })
	}
	for _, c := range []struct {
		front, rear float64 // bar
		sheet       string
		want        sdk.Outcome
		measured    float64
	}{
		{59, 41, `{"target": 0.59}`, sdk.Pass, 0.59},
		{41, 59, `{"target": 0.59}`, sdk.Fail, 0.41},
		{41, 59, `{"target": 0.41}`, sdk.Pass, 0.41},
		{59, 41, `{"target": 0.41}`, sdk.Fail, 0.59},
		{56, 44, `{"target": 0.59}`, sdk.Pass, 0.56}, // off its sheet, which is for a rule to say
		{52, 48, `{"target": 0.51}`, sdk.NoData, 0},
		{59, 41, `{"target": null}`, sdk.NoData, 0},
		{5, 3, `{"target": 0.59}`, sdk.NoData, 0},
	} {
		e := sdktest.Evidence{Limits: map[string]float64{"share_apart": 0.03}, Documents: list("brake_front bar", "brake_rear bar"), Log: sdktest.Log(20,
			sdktest.Channel("brake_front", 100, press(c.front*1e5)...), sdktest.Channel("brake_rear", 50, made(50, 20, func(t float64) float64 { return c.rear * 1e5 * max(0, math.Sin(t)) })...))}
		e.Documents["setup"] = `{"brake_bias_front": ` + c.sheet + `}`
		got := sdktest.One(t, swapped, e)
		if got.Outcome != c.want || (len(got.Dead) == 2) != (c.want == sdk.Fail) {
			t.Errorf("%v: %s, %s, %d dead", c, got.Outcome, got.Message, len(got.Dead))
		}
		if c.measured > 0 && (got.Measured == nil || math.Abs(got.Measured.Mid()-c.measured) > 0.01) {
			t.Errorf("%v: %+v", c, got.Measured)
		}
	}
}

// Left and right of one axle swapped go against the other axle, whichever way the bends go.
func TestSwappedWheels(t *testing.T) {
	yaw := func(t float64) float64 { return 0.5 * course(t/3) } // rad/s
	side := func(half, swap float64) []float64 {
		src := rand.New(rand.NewPCG(4, math.Float64bits(half*swap)))
		return made(50, 60, func(t float64) float64 { return 20 + 5*math.Sin(t/7) + half*swap*yaw(t) + 0.05*src.NormFloat64() })
	}
	for _, c := range []struct {
		front, rear float64
		want        sdk.Outcome
	}{{1, 1, sdk.Pass}, {-1, -1, sdk.Pass}, {-1, 1, sdk.Fail}, {1, -1, sdk.Fail}} {
		e := sdktest.Evidence{
			Documents: list("wheel_speed_fl km/h", "wheel_speed_fr km/h", "wheel_speed_rl km/h", "wheel_speed_rr km/h"),
			Log: sdktest.Log(60, sdktest.Channel("wheel_speed_fl", 50, side(-0.8, c.front)...), sdktest.Channel("wheel_speed_fr", 50, side(0.8, c.front)...),
				sdktest.Channel("wheel_speed_rl", 50, side(-0.75, c.rear)...), sdktest.Channel("wheel_speed_rr", 50, side(0.75, c.rear)...)),
		}
		if got := found(t, reversed, e, "wheels left and right, front and rear"); got.Outcome != c.want || (len(got.Dead) == 4) != (c.want == sdk.Fail) {
			t.Errorf("%v: %s, %+v, %d dead", c, got.Outcome, got.Measured, len(got.Dead))
		}
	}
}

// What a pair drifts apart is told as it was put on; what it is always apart by is not.
func TestPairDrift(t *testing.T) {
	for _, c := range []struct {
		off, drift float64
		want       sdk.Outcome
	}{{0, 0, sdk.Pass}, {0.3, 0, sdk.Pass}, {0, 0.15, sdk.Warn}, {-0.2, -0.15, sdk.Warn}, {0, 0.4, sdk.Fail}} {
		a := made(100, 60, course)
		b := made(100, 60, func(t float64) float64 { return course(t) + c.off + c.drift*t/60 })
		e := sdktest.Evidence{
			Limits: map[string]float64{"apart_warn": 0.02, "apart_fail": 0.05}, Documents: list(`throttle %`, `throttle_b % "pair_with": "throttle"`),
			Log: sdktest.Log(60, sdktest.Channel("throttle", 100, a...), sdktest.Channel("throttle_b", 100, b...)),
		}
		got := found(t, apart, e, "throttle_b and throttle")
		sorted := slices.Sorted(slices.Values(a))
		want := math.Abs(c.drift) * 2 / 3 / (sorted[5939] - sorted[60]) // the middles of the thirds are two thirds apart
		if got.Outcome != c.want || got.Measured == nil || math.Abs(got.Measured.Mid()-want) > 1e-3 {
			t.Errorf("off by %v, drifting by %v: %s, %+v; want %s, %v", c.off, c.drift, got.Outcome, got.Measured, c.want, want)
		}
	}
}

func sigmaOf(values []float64) float64 {
	sigma, _ := trade.Noise(values)
	return sigma
}
