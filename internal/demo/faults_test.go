package demo

import (
	"math"
	"testing"
)

// Each kind of fault moves its own measure to where its size says, and touches no other
// by more than the car itself explains.
func TestEachFaultMovesItsMeasure(t *testing.T) {
	good := HealthyRun57()
	was := good.Record().Truth
	for _, x := range []struct {
		fault     Fault
		key       string
		low, high float64 // of the truth
	}{
		{Fault{Kind: WingSlow, Size: 0.46}, WingReturn, 0.43, 0.49},
		{Fault{Kind: WingStuck, At: 40}, WingReturn, 1e9, math.Inf(1)},
		{Fault{Kind: PumpLate, At: 20, Size: 98}, ShiftPressure, 92, 103},
		{Fault{Kind: OilDip, At: 20, Size: 1.5}, OilInHand, -1.1, -0.5},
		{Fault{Kind: GearboxHot, Size: 136}, GearboxPeak, 134, 138},
		{Fault{Kind: WaterHot, Size: 112}, WaterPeak, 110, 114},
		{Fault{Kind: OverRev, At: 20, Size: 7900}, RevPeak, 7800, 7950},
		{Fault{Kind: OverBoost, At: 20, Size: 2.85}, ManifoldPeak, 2.84, 2.86},
		{Fault{Kind: FuelLoss, At: 20, Size: 0.4}, FuelDifference, 3.08, 3.12},
		{Fault{Kind: InternalLeak, At: 20, Size: 12}, PumpShare, 0.10, 0.20},
		{Fault{Kind: ThrottleSplit, At: 20, Size: 12, For: 0.25}, ThrottleSplitTime, 0.249, 0.252},
		{Fault{Kind: ThrottleSplit, At: 20, Size: 9, For: 0.25}, ThrottleSplitTime, 0, 0},
		{Fault{Kind: SlowShift, At: 20, Size: 0.120}, ShiftTime, 0.118, 0.122},
		{Fault{Kind: ColdOil, Size: 55}, OilAtLoad, 54.9, 55.2},
		{Fault{Kind: BrakeSensorStuck, At: 20}, BrakeSplitTime, 0.5, 30},
		{Fault{Kind: PumpLate, At: 20, Size: 98}, PumpStart, 1, 20},
		{Fault{Kind: OverBoost, At: 20, Size: 2.95}, OverBoostTime, 1, 20},
		{Fault{Kind: OverBoost, At: 20, Size: 2.95}, TurboPeak, 158e3, 175e3},
		{Fault{Kind: GearCrash, At: 20, Size: 0.118}, BetweenGears, 0.115, 0.120},
		{Fault{Kind: InterlockLate, At: 14, Size: 0.3}, OpenOnBrake, 0.2, 0.31},
		{Fault{Kind: OilHot, Size: 135}, OilPeak, 132, 138},
		{Fault{Kind: BrakesHot, Size: 0.95}, DiscPeak, 340, 600},
		{Fault{Kind: ChargingLost, At: 20, Size: 11.5}, BatteryLow, 11.4, 11.7},
		{Fault{Kind: SupplyWeak, At: 20, Size: 7.5}, SupplyLow, 6.8, 7.5},
	} {
		t.Run(string(x.fault.Kind), func(t *testing.T) {
			bad := good
			bad.Faults = []Fault{x.fault}
			got := bad.Record().Truth
			if v := got[x.key].Value; v < x.low || v > x.high {
				t.Errorf("%s is %.4g, want %g to %g (without the fault %.4g)", x.key, v, x.low, x.high, was[x.key].Value)
			}
			for key, e := range got {
				if _, moved := moves[x.fault.Kind][key]; key == x.key || moved {
					continue
				}
				if d := e.Value - was[key].Value; d > 0.06*was[key].Value+0.3 || d < -0.06*was[key].Value-0.3 {
					t.Errorf("%s moved too: %.4g, was %.4g", key, e.Value, was[key].Value)
				}
			}
		})
	}
}

// moves is what a fault brings with it besides its own measure.
var moves = map[Kind]map[string]struct{}{
	PumpLate:      {ShiftPressure: {}, PumpTime: {}, PumpStart: {}},
	InternalLeak:  {ShiftPressure: {}, PumpShare: {}, PumpStart: {}},
	OilDip:        {OilInHandWarm: {}, OilOverLine: {}},
	GearboxHot:    {GearboxSmooth: {}},
	ThrottleSplit: {ThrottleSplitMean: {}},
	ChargingLost:  {LowVoltsTime: {}},
	SupplyWeak:    {SupplyOpening: {}, WingOpening: {}},
	GearCrash:     {ShiftTime: {}, ShiftPressure: {}, PumpTime: {}},
	InterlockLate: {OpenOnBrake: {}, OpenInBend: {}, WingOpenings: {}},
	OverBoost:     {OverBoostTime: {}, DiscPeak: {}, ManifoldPeak: {}, TurboPeak: {}, WaterPeak: {}, GearboxPeak: {}, OilPeak: {}, FullThrottle: {}, Shifts: {}, WingOpenings: {}},
	ColdOil:       {OilPeak: {}, OilInHand: {}, OilInHandWarm: {}, OilOverLine: {}},
	SlowShift:     {Shifts: {}, WingOpenings: {}, ShiftPressure: {}, PumpTime: {}, FullThrottle: {}},
	OilHot:        {OilInHand: {}, OilInHandWarm: {}, OilOverLine: {}},
	OverRev:       {Shifts: {}, ShiftPressure: {}, PumpTime: {}},
}

func TestLowPrechargeMakesThePumpRunMoreOften(t *testing.T) {
	good, bad := HealthyRun57(), HealthyRun57()
	bad.Faults = []Fault{{Kind: LowPrecharge, Size: 55}}
	if g, b := good.Record().Truth[PumpTime].Seen, bad.Record().Truth[PumpTime].Seen; b < g+2 {
		t.Errorf("pump ran %d times, %d with a good precharge", b, g)
	}
}

func TestLoggerGapLeavesRowsOutAndBlindsEveryMeasure(t *testing.T) {
	r := HealthyRun57()
	r.Faults = []Fault{{Kind: LoggerGap, At: 30, For: 0.7}}
	rec := r.Record()
	for i := 1; i < len(rec.Millis); i++ {
		if d := rec.Millis[i] - rec.Millis[i-1]; d != 1 && (d != 701 || rec.Millis[i-1] != 29999) {
			t.Fatalf("a gap of %d ms after %d ms", d, rec.Millis[i-1])
		}
	}
	for key, e := range rec.Truth {
		if !e.Blind {
			t.Errorf("%s is not blind", key)
		}
	}
}

func TestHealthyRunsAreHealthy(t *testing.T) {
	for _, r := range []Run{Run55(), Run56(), HealthyRun57()} {
		truth := r.Record().Truth
		for key, want := range map[string][2]float64{
			WingReturn: {0.2, 0.30}, ShiftPressure: {113.5, 190}, OilInHand: {0.3, 2}, OilAtLoad: {82, 95}, OilPeak: {90, 110},
			WaterPeak: {80, 98}, GearboxPeak: {70, 110}, RevPeak: {7300, 7400}, ManifoldPeak: {2.5, 2.65}, FuelDifference: {3.45, 3.55},
			ThrottleSplitTime: {0, 0}, BrakeSplitTime: {0, 0}, ShiftTime: {0.04, 0.06}, PumpTime: {0.5, 1.3}, DiscPeak: {200, 500},
			TurboPeak: {120e3, 150e3}, SupplyLow: {8.2, 9.1}, SupplyOpening: {8.2, 9.1}, WingOpening: {0.2, 0.3}, OpenOnBrake: {0, 0.001}, OpenInBend: {0, 0},
			PumpStart: {0, 0.06}, PumpShare: {0.03, 0.06}, BetweenGears: {0, 0}, LaunchSlip: {1, 1.9}, LowVoltsTime: {0, 0}, OverBoostTime: {0, 0},
			ThrottleSplitMean: {0, 0}, GearboxSmooth: {70, 110}, OilOverLine: {1, 4}, BatteryLow: {13.5, 13.9}, Launches: {2, 2},
		} {
			if v := truth[key].Value; v < want[0] || v > want[1] {
				t.Errorf("run %d: %s is %.4g, want %g to %g", r.Number, key, v, want[0], want[1])
			}
		}
	}
}

// Random runs bring every kind, and sizes on both sides of the usual limits.
func TestRandomRunsCoverTheKinds(t *testing.T) {
	limits := map[Kind]float64{
		WingSlow: 0.40, PumpLate: 105, GearboxHot: 120, OverRev: 7900, OverBoost: 2.8, FuelLoss: 0.35, WaterHot: 105, ThrottleSplit: 10,
		SlowShift: 0.080, GearCrash: 0.20, InterlockLate: 0.14, ColdOil: 60, OilDip: 1.0, InternalLeak: 10, LowPrecharge: 76.5,
		OilHot: 130, BrakesHot: 0.5, ChargingLost: 12.0, SupplyWeak: 8.0,
	}
	under, over, none := map[Kind]int{}, map[Kind]int{}, 0
	for seed := range uint64(200) {
		r := RandomRun(seed)
		if len(r.Faults) == 0 {
			none++
		}
		for _, f := range r.Faults {
			if f.Size > limits[f.Kind] {
				over[f.Kind]++
			} else {
				under[f.Kind]++
			}
		}
	}
	for _, s := range spreads {
		if limit, sized := limits[s.kind]; sized && (under[s.kind] < 2 || over[s.kind] < 2) {
			t.Errorf("%s: %d under and %d over %g in 200 seeds", s.kind, under[s.kind], over[s.kind], limit)
		}
		if under[s.kind]+over[s.kind] < 5 {
			t.Errorf("%s: only %d in 200 seeds", s.kind, under[s.kind]+over[s.kind])
		}
	}
	if none < 20 {
		t.Errorf("only %d runs without a fault", none)
	}
}
