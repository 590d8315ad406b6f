package demo

// Kind is a kind of planted fault.
type Kind string

// The kinds. Size is in the unit given; For is how long it lasts, 0 to the end of the log.
// "Whole run" kinds take no At.
const (
	WingSlow         Kind = "wing slow to close"          // Size: closing time at 45 m/s, s; closings that begin in At..At+For
	WingStuck        Kind = "wing not closing"            // held open from At on
	PumpLate         Kind = "pump starts late"            // Size: pressure at which the pump starts, bar; low pressure in a shift
	LowPrecharge     Kind = "low precharge"               // Size: bar at 20 °C; whole run
	OilDip           Kind = "oil pressure dip in a bend"  // Size: bar; from the first corner under load after At, for For (default 0.6 s)
	OilSensorOpen    Kind = "oil temperature sensor open" // reads -40 °C from At
	GearboxHot       Kind = "gearbox overheating"         // Size: peak asked for, °C, good to some °C; whole run
	OverRev          Kind = "over-rev on a downshift"     // Size: rpm; at the first braking after At that reaches it
	OverBoost        Kind = "over-boost"                  // Size: absolute bar asked for
	FuelLoss         Kind = "fuel pressure loss"          // Size: bar lost at full load
	BrakeSensorStuck Kind = "brake pressure sensor stuck" // front reading frozen at its value at At
	WaterHot         Kind = "water temperature high"      // Size: peak asked for, °C, good to some °C; whole run
	InternalLeak     Kind = "pump running too long"       // Size: inner leak, mL/s
	ThrottleSplit    Kind = "throttle sensors disagree"   // Size: points added to the second sensor
	SlowShift        Kind = "slow shift"                  // Size: s; shifts that begin in At..At+For
	GearCrash        Kind = "gear crash"                  // Size: s between two gears, in the first up-shift after At
	InterlockLate    Kind = "wing interlock late"         // Size: s the wing is still told to open after it should close
	ColdOil          Kind = "cold oil at load"            // Size: oil temperature at the start, °C; whole run
	OilHot           Kind = "oil temperature high"        // Size: peak asked for, °C, good to some °C; whole run
	BrakesHot        Kind = "brake cooling lost"          // Size: share of the cooling air that is gone
	ChargingLost     Kind = "charging lost"               // Size: V the battery sinks towards, with a lag of 15 s
	SupplyWeak       Kind = "wing supply low"             // Size: bar, what the regulator gives
	BoostLeak        Kind = "boost leak"                  // Size: share by which the turbo turns faster for the same boost; over-speed
	LaunchSlipped    Kind = "clutch slipped at launch"    // Size: share of the usual torque that the clutch is let take
	LoggerGap        Kind = "logger dropout"              // no rows from At for For
)

// Fault is one planted fault. Times are seconds from the log's first row.
type Fault struct {
	Kind Kind
	At   float64
	Size float64
	For  float64
}

// on says whether the fault is at work at t.
func (f *Fault) on(t float64) bool { return t >= f.At && (f.For == 0 || t < f.At+f.For) }

// find gives the fault of a kind, nil if it was not planted.
func (r *Run) find(k Kind) *Fault {
	for i := range r.Faults {
		if r.Faults[i].Kind == k {
			return &r.Faults[i]
		}
	}
	return nil
}

// planted holds the faults of one run by kind, looked up once.
type planted struct {
	wingSlow, wingStuck, pumpLate, oilDip, oilOpen, overRev, overBoost,
	fuelLoss, brakeStuck, leak, split, slowShift, crash, interlock, brakesHot, charging, supply, boostLeak, launchSlip, gap *Fault
}

func (r *Run) planted() planted {
	return planted{
		wingSlow: r.find(WingSlow), wingStuck: r.find(WingStuck), pumpLate: r.find(PumpLate), oilDip: r.find(OilDip),
		oilOpen: r.find(OilSensorOpen), overRev: r.find(OverRev), overBoost: r.find(OverBoost), fuelLoss: r.find(FuelLoss),
		brakeStuck: r.find(BrakeSensorStuck), leak: r.find(InternalLeak), split: r.find(ThrottleSplit),
		slowShift: r.find(SlowShift), crash: r.find(GearCrash), interlock: r.find(InterlockLate), brakesHot: r.find(BrakesHot), charging: r.find(ChargingLost), supply: r.find(SupplyWeak),
		boostLeak: r.find(BoostLeak), launchSlip: r.find(LaunchSlipped), gap: r.find(LoggerGap),
	}
}

// size gives what the fault brings now, or the usual value.
func size(f *Fault, t, unit, usual float64) float64 {
	if f != nil && f.on(t) {
		return f.Size * unit
	}
	return usual
}

// turboSpeed is the turbo's speed now, rpm.
func (m *model) turboSpeed() float64 {
	return m.car.Engine.turboSpeed(m.air.boost, m.ambient) * (1 + size(m.planted.boostLeak, m.now(), 1, 0))
}

// overRev gives the gear of the downshift that over-revs, one or two down; 0 while there is none.
func (m *model) overRev(rpm float64) int {
	f := m.planted.overRev
	if f == nil || m.overRevved || m.now() < f.At || m.brake < 10*bar || m.box.gear < 3 || m.box.since < 0.1 {
		return 0
	}
	const lost = 90 // rpm, the car slows down while the box shifts
	for to := m.box.gear - 1; to >= m.box.gear-2; to-- {
		after := rpm * m.car.ratio(to) / m.car.ratio(m.box.gear)
		if after >= f.Size-lost && after <= f.Size+lost {
			m.overRevved = true
			return to
		}
	}
	return 0
}

// oilDip is how far the oil pressure is pulled down now, Pa: up in 50 ms, level, down in 100 ms.
func (m *model) oilDip() float64 {
	f := m.planted.oilDip
	if f == nil || m.now() < f.At {
		return 0
	}
	if m.dipAt == 0 {
		cornering := m.lateral > 0.9 || m.lateral < -0.9
		if !cornering || m.throttle < 0.8 || m.rpm() < 4300 || m.driver.phase != racing {
			return 0
		}
		m.dipAt = m.now()
	}
	lasts := f.For
	if lasts == 0 {
		lasts = 0.6
	}
	t := m.now() - m.dipAt
	switch {
	case t < 0.05:
		return f.Size * bar * t / 0.05
	case t < lasts:
		return f.Size * bar
	case t < lasts+0.1:
		return f.Size * bar * (lasts + 0.1 - t) / 0.1
	}
	return 0
}
