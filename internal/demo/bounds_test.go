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
	order, angle, speed, supply := col("wing_command"), col("wing_angle"), col("speed"), col("wing_supply")
	gear, slip, lat, volts := col("gear"), col("clutch_slip"), col("lat_g"), col("battery")
	line := r.Run.Car.OilLine
	out := map[string]float64{
		ShiftPressure: math.Inf(1), OilInHand: math.Inf(1), OilInHandWarm: math.Inf(1), OilAtLoad: math.Inf(1), FuelDifference: math.Inf(1),
		OilOverLine: math.Inf(1), SupplyOpening: math.Inf(1),
	}
	least := func(key string, x float64) { out[key] = math.Min(out[key], x) }
	var split, brakes, shifting, pumping, full, ordered, between, slips, low, boost, braked, bent run
	returned, opened, started := answer{}, answer{}, answer{}
	distance := 0.0
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
			least(OilOverLine, oilP[i]-tripLine*rpm[i])
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
		if order[i] == 1 {
			least(SupplyOpening, supply[i])
		}
		returned.step(order[i] == 0, angle[i] > backAt, t)
		opened.step(order[i] == 1, angle[i] < openAt, t)
		started.step(hyd[i] < 113 && rpm[i] > 500, pump[i] == 1, t)
		between.step(gear[i] == 0 && speed[i] > 30, t, next)
		slips.step(slip[i] > slipAt, t, next)
		low.step(volts[i] < voltsAt && rpm[i] > 1500, t, next)
		boost.step(man[i] > boostAt, t, next)
		braked.step(order[i] == 1 && front[i] > brakeAt, t, next)
		bent.step(order[i] == 1 && math.Abs(lat[i]) > bendAt, t, next)
		distance += speed[i] / 3.6 * (next - t)
	}
	out[WingReturn], out[WingOpening], out[PumpStart] = returned.longest(), opened.longest(), started.longest()
	out[BetweenGears], out[LaunchSlip], out[LowVoltsTime], out[OverBoostTime] = between.longest, slips.longest, low.longest, boost.longest
	out[OpenOnBrake], out[OpenInBend] = braked.longest, bent.longest
	out[ThrottleSplitMean], out[GearboxSmooth] = highestMean(r, 100, thr, thrB), highestMean(r, 2000, col("gearbox_temp"), nil)
	out[PumpShare] = pumping.total / r.Length()
	out[Distance], out[FullThrottle] = distance, full.total
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

// answer is the longest time from a trigger to its reaction.
type answer struct {
	was, pending bool
	since, worst float64
}

func (a *answer) step(trigger, reacted bool, t float64) {
	if trigger && !a.was && !a.pending {
		a.pending, a.since = true, t
	}
	a.was = trigger
	if a.pending && reacted {
		a.pending, a.worst = false, math.Max(a.worst, t-a.since)
	}
}

func (a *answer) longest() float64 {
	if a.pending {
		return math.Inf(1)
	}
	return a.worst
}

// highestMean is the highest mean of |x−y| over the milliseconds just past, row by row.
func highestMean(r *Recording, window int, x, y []float64) float64 {
	sum, worst := 0.0, math.Inf(-1)
	value := func(i int) float64 {
		if y == nil {
			return x[i]
		}
		return math.Abs(x[i] - y[i])
	}
	for i := range r.Millis {
		sum += value(i)
		if i >= window {
			sum -= value(i - window)
			worst = math.Max(worst, sum/float64(window))
		}
	}
	return worst
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
	seeds := uint64(46) // twice through the kinds
	if testing.Short() {
		seeds = 5
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
			if gap && (e.Unit == "s" || e.Unit == "1" || e.Unit == "m" || key == ThrottleSplitMean || key == GearboxSmooth) {
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
		SupplyLow: 0.08, BatteryLow: 0.08, WingOpening: 0.03, SupplyOpening: 0.08, PumpStart: 0.2, PumpShare: 0.003, LaunchSlip: 0.04, OilOverLine: 0.08, GearboxSmooth: 0.6, Shifts: 0, Launches: 0, WingOpenings: 0, Distance: 20, FullThrottle: 0.8,
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
	for seed := range uint64(8) {
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
