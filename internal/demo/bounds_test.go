package demo

import (
	"math"
	"testing"
)

// measured takes the measures from the logged samples alone, in the plainest way: what a
// rule over the log would find. Values are in the loggers' units; a row that the logger
// left out is not there.
func measured(r *Recording) map[string]float64 {
	col := func(name string) []float64 { return held(r, name) }
	rpm, thr, thrB := col("rpm"), col("throttle"), col("throttle_b")
	oilP, oilT, man, fuel := col("oil_pressure"), col("oil_temp"), col("manifold"), col("fuel_rail")
	hyd, shift, pump := col("hyd_pressure"), col("shift_active"), col("hyd_pump_on")
	front, rear := col("brake_front"), col("brake_rear")
	order, angle, speed := col("wing_command"), col("wing_angle"), col("speed")
	line := r.Run.Car.OilLine
	out := map[string]float64{
		ShiftPressure: math.Inf(1), OilInHand: math.Inf(1), OilInHandWarm: math.Inf(1), OilAtLoad: math.Inf(1), FuelDifference: math.Inf(1),
	}
	least := func(key string, x float64) { out[key] = math.Min(out[key], x) }
	var split, brakes, shifting, pumping, full, ordered run
	asked, worst, distance := math.NaN(), 0.0, 0.0
	for i, ms := range r.Millis {
		t, next := float64(ms)/1000, float64(ms+1)/1000
		if i+1 < len(r.Millis) {
			next = float64(r.Millis[i+1]) / 1000
		}
		if thr[i] > 70 && rpm[i] > 4000 {
			in := oilP[i] - 0.9*line.At(rpm[i])/bar
			least(OilInHand, in)
			if oilT[i] > 80 {
				least(OilInHandWarm, in)
			}
			if oilT[i] != faultReads {
				least(OilAtLoad, oilT[i])
			}
			least(FuelDifference, fuel[i]+r.Run.Station/bar-man[i])
		}
		if shift[i] == 1 {
			least(ShiftPressure, hyd[i])
		}
		split.step(math.Abs(thr[i]-thrB[i]) > 10, t, next)
		brakes.step(math.Abs(front[i]-rear[i]/rearPressure) > 10, t, next)
		shifting.step(shift[i] == 1, t, next)
		pumping.step(pump[i] == 1, t, next)
		full.step(thr[i] > 95 && rpm[i] > 4000, t, next)
		ordered.step(order[i] == 1, t, next)
		if i > 0 && order[i-1] == 1 && order[i] == 0 && math.IsNaN(asked) {
			asked = t
		}
		if !math.IsNaN(asked) && angle[i] > backAt {
			worst, asked = math.Max(worst, t-asked), math.NaN()
		}
		distance += speed[i] / 3.6 * (next - t)
	}
	if !math.IsNaN(asked) {
		worst = math.Inf(1)
	}
	out[WingReturn], out[Distance], out[FullThrottle] = worst, distance, full.total
	out[ThrottleSplitTime], out[BrakeSplitTime], out[ShiftTime], out[PumpTime] = split.longest, brakes.longest, shifting.longest, pumping.longest
	out[Shifts], out[WingOpenings] = float64(shifting.count), float64(ordered.count)
	for key, name := range map[string]string{
		OilPeak: "oil_temp", WaterPeak: "water_temp", GearboxPeak: "gearbox_temp", RevPeak: "rpm",
		ManifoldPeak: "manifold", DiscPeak: "disc_front", TurboPeak: "turbo_speed",
	} {
		out[key] = math.Inf(-1)
		for _, x := range r.Column(name).Values() {
			out[key] = math.Max(out[key], x)
		}
	}
	out[SupplyLow] = math.Inf(1)
	for _, x := range r.Column("wing_supply").Values() {
		least(SupplyLow, x)
	}
	out[BatteryLow] = math.Inf(1)
	for _, x := range r.Column("battery").Values() {
		least(BatteryLow, x)
	}
	out[Launches] = launches(r)
	return out
}

// launches counts as the car's meter does.
func launches(r *Recording) float64 {
	slip, gear, speed, thr := held(r, "clutch_slip"), held(r, "gear"), held(r, "speed"), held(r, "throttle")
	var starts run
	for i := range r.Millis {
		starts.step(slip[i] > 800 && gear[i] == 1 && speed[i] < 15 && thr[i] > 40, 0, 0)
	}
	return float64(starts.count)
}

// run is a spell of samples.
type run struct {
	is             bool
	began          float64
	longest, total float64
	count          int
}

func (r *run) step(is bool, t, next float64) {
	if is && !r.is {
		r.began = t
		r.count++
	}
	r.is = is
	if is {
		r.longest = math.Max(r.longest, next-r.began)
		r.total += next - t
	}
}

// What can be measured from the samples lies within the bounds that go with the truth,
// and so does the truth where nothing was missing, for any faults and any noise.
func TestMeasuresStayWithinTheBoundsOfTheTruth(t *testing.T) {
	seeds := uint64(60)
	if testing.Short() {
		seeds = 12
	}
	for seed := range seeds {
		rec := RandomRun(seed).Record()
		for key, got := range measured(rec) {
			e, ok := rec.Truth[key]
			if !ok {
				t.Fatalf("no truth for %s", key)
			}
			const rounding = 1e-9
			gap := rec.Run.find(LoggerGap) != nil
			if gap && (e.Unit == "s" || e.Unit == "1" || e.Unit == "m") {
				continue // what the plain measure makes of a gap says nothing
			}
			if got < e.Low-rounding || got > e.High+rounding {
				t.Errorf("seed %d, %s: measured %.5g outside %.5g to %.5g (truth %.5g at %.3f s, faults %v)",
					seed, key, got, e.Low, e.High, e.Value, e.At, rec.Run.Faults)
			}
		}
	}
}

// The bounds are worth having: without faults they are no wider than sensors and rates explain.
func TestBoundsAreTight(t *testing.T) {
	widest := map[string]float64{
		WingReturn: 0.03, ShiftPressure: 1.0, OilInHand: 0.08, OilAtLoad: 1.0, OilPeak: 0.6, WaterPeak: 0.6, GearboxPeak: 0.6,
		RevPeak: 14, ManifoldPeak: 0.012, FuelDifference: 0.08, ShiftTime: 0.011, PumpTime: 0.11, DiscPeak: 4, TurboPeak: 320,
		SupplyLow: 0.08, BatteryLow: 0.08, Shifts: 0, Launches: 0, WingOpenings: 0, Distance: 20, FullThrottle: 0.8,
	}
	rec := HealthyRun57().Record()
	for key, want := range widest {
		if e := rec.Truth[key]; e.High-e.Low > want+1e-9 || e.Blind || e.Seen == 0 {
			t.Errorf("%s: %.4g to %.4g is wider than %g, or blind %v, or not seen (%d)", key, e.Low, e.High, want, e.Blind, e.Seen)
		}
	}
}

// Where nothing is missing, a truth and the bounds of its samples differ by no more than
// sampling can explain.
func TestTruthLiesNearItsBounds(t *testing.T) {
	for seed := range uint64(12) {
		rec := RandomRun(seed).Record()
		for key, e := range rec.Truth {
			if e.Blind || math.IsInf(e.Value, 0) || e.Seen == 0 {
				continue
			}
			if slack := 0.02*math.Abs(e.Value) + 0.2; e.Value < e.Low-slack || e.Value > e.High+slack {
				t.Errorf("seed %d, %s: truth %.5g far outside %.5g to %.5g", seed, key, e.Value, e.Low, e.High)
			}
		}
	}
}
