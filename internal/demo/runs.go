package demo

// The three runs of the demonstration. Run 57 is the newest; what is planted in it is
// written down in testdata/cars/tern-3/faults-planted.txt.

// Run55 is the first shakedown of the day before.
func Run55() Run {
	r := tern(55, "2026-05-15", "13:31:06", 550)
	r.Pace, r.Air, r.Station = 0.955, 15, 0.979*bar
	r.OilStart, r.WaterAt, r.BoxStart, r.Charged = 84, 77, 52, 99*bar
	return r
}

// Run56 is the second shakedown; the oil pressure baseline was taken from it.
func Run56() Run {
	r := tern(56, "2026-05-15", "14:19:40", 560)
	r.Pace, r.Air, r.Station = 0.97, 14, 0.979*bar
	r.OilStart, r.WaterAt, r.BoxStart, r.Charged = 85, 79, 58, 101*bar
	return r
}

// Run57 is practice 1 at Coldharrow Bank with its planted faults.
func Run57() Run {
	r := HealthyRun57()
	r.Faults = []Fault{
		{Kind: OilSensorOpen, At: 22.1},
		{Kind: WingSlow, At: 24.5, For: 1.5, Size: 0.50},
		{Kind: PumpLate, At: 45, For: 14, Size: 100},
		{Kind: GearboxHot, Size: 122},
	}
	return r
}

// HealthyRun57 is the same run of the same car with nothing wrong.
func HealthyRun57() Run {
	r := tern(57, "2026-05-16", "08:41:47", 57)
	r.Pace, r.Air, r.Station = 0.99, 12, 0.976*bar
	r.OilStart, r.WaterAt, r.BoxStart, r.Charged = 87, 80, 64, 100*bar
	return r
}

func tern(number int, date, clock string, seed uint64) Run {
	return Run{Car: Tern3(), Number: number, Date: date, Clock: clock, Logger: "LG-88", Seed: seed, Practice: true, LaunchAt: 12.4}
}

// FallowRun is the second car's run, with the oil drawn away from its pick-up in a long bend.
func FallowRun() Run {
	return Run{
		Car: Fallow9(), Course: DroveEnd(), Number: 214, Date: "2026-06-06", Clock: "10:32:08", Logger: "QD-3", Seed: 214, LaunchAt: 8.5,
		Pace: 0.97, Air: 17, Station: 29.9 * inHg, OilStart: 86, WaterAt: 82, BoxStart: 60,
		Faults: []Fault{{Kind: OilDip, At: 18, For: 0.6, Size: 2.2}},
	}
}
