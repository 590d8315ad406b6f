package demo

import (
	"math/rand/v2"
	"slices"
)

// spread is how a kind of fault is drawn: sizes and lengths on both sides of the usual limits.
type spread struct {
	kind              Kind
	small, large      float64 // of Size
	shortest, longest float64 // s, of For; 0 for none
}

var spreads = []spread{
	{WingSlow, 0.25, 0.60, 0, 0},
	{WingStuck, 0, 0, 0, 0},
	{PumpLate, 92, 116, 0, 0},
	{LowPrecharge, 64, 88, 0, 0},
	{OilDip, 0.1, 2.2, 0.05, 1.5},
	{OilSensorOpen, 0, 0, 0, 0},
	{GearboxHot, 105, 145, 0, 0},
	{OverRev, 7450, 8300, 0, 0},
	{OverBoost, 2.55, 3.05, 0, 0},
	{FuelLoss, 0.02, 0.60, 0, 0},
	{BrakeSensorStuck, 0, 0, 0, 0},
	{WaterHot, 96, 120, 0, 0},
	{InternalLeak, 0.5, 30, 0, 0},
	{ThrottleSplit, 5, 16, 0.03, 0.40},
	{SlowShift, 0.055, 0.125, 1, 30},
	{GearCrash, 0.04, 0.40, 0, 0},
	{InterlockLate, 0.03, 0.25, 0, 0},
	{ColdOil, 45, 92, 0, 0},
	{OilHot, 98, 150, 0, 0},
	{BrakesHot, 0.2, 1.0, 0, 0},
	{ChargingLost, 10.8, 13.2, 0, 0},
	{SupplyWeak, 6.8, 9.0, 0, 0},
	{LoggerGap, 0, 0, 0.03, 1.5},
}

// RandomRun draws a run of the Tern 3 with none to four faults of different kinds. The
// same seed gives the same run.
func RandomRun(seed uint64) Run {
	src := rand.New(rand.NewPCG(seed, 0x2545f4914f6cdd1d))
	between := func(a, b float64) float64 { return a + (b-a)*src.Float64() }
	r := Run{
		Car: Tern3(), Number: 1000 + int(seed%9000), Date: "2026-05-16", Clock: "09:00:00", Logger: "LG-88", Seed: seed, Practice: true,
		LaunchAt: between(7.5, 9), Pace: between(0.95, 1.0), Station: 0.976 * bar, Air: between(5, 28),
		OilStart: between(82, 92), WaterAt: between(76, 86), BoxStart: between(55, 75), Charged: between(96, 188) * bar,
	}
	// The first fault goes through the kinds in turn, in the lower and the upper half of its
	// sizes by turns, so that a few hundred seeds leave nothing out; the others are chance.
	first, upper := int(seed%uint64(len(spreads))), float64(seed/uint64(len(spreads))%2)
	kinds := slices.DeleteFunc(src.Perm(len(spreads)), func(i int) bool { return i == first })
	for n, i := range append([]int{first}, kinds...)[:src.IntN(5)] {
		s := spreads[i]
		share := src.Float64()
		if n == 0 {
			share = (upper + share) / 2
		}
		f := Fault{Kind: s.kind, At: between(2, 70), Size: s.small + share*(s.large-s.small)}
		if s.longest > 0 {
			f.For = between(s.shortest, s.longest)
		}
		r.Faults = append(r.Faults, f)
	}
	return r
}
