package demo

// Extreme is the model's own answer to one measure.
type Extreme struct {
	// Value is what happened, found at every millisecond before any sensor, in Unit.
	Value float64
	Unit  string
	// At is when, s from the log's first row.
	At float64
	// Low and High bound what the same measure can come to when it is taken from the
	// logged samples, time resolution included: sampling, noise and rounding can do no more.
	Low, High float64
	// Sampled is what happened at the times of the samples alone, before any sensor, where the
	// measure is an extreme; Value where it is not.
	Sampled float64
	// Channels are those the measure rests on.
	Channels []string
	// Blind says that some of their samples are missing in this log, so that
	// nobody can be sure of the answer.
	Blind bool
	// Seen is how often the thing measured took place at all: spells, triggers (one
	// that stands in the first row counts), or milliseconds under the condition.
	Seen int
}

// Moment is one occurrence with its own value.
type Moment struct {
	At    float64 // s
	Value float64
}

// The measures. Under load is throttle over 70 % and over 4000 rpm.
const (
	WingReturn        = "wing_return"         // s, longest from the order to close until over 36.5°; +Inf when it never came
	WingOpening       = "wing_opening"        // s, longest from the order to open until under 10.5°
	OpenOnBrake       = "open_on_brake"       // s, longest with the wing told to open and over 5 bar in the front brakes
	OpenInBend        = "open_in_bend"        // s, longest with the wing told to open and over 0.6 g0 to the side
	SupplyLow         = "supply_low"          // bar, lowest wing supply
	SupplyOpening     = "supply_opening"      // bar, lowest wing supply while told to open
	ShiftPressure     = "shift_pressure"      // bar, lowest while a shift is active
	PumpStart         = "pump_start"          // s, longest from under 113 bar until the pump is on
	PumpTime          = "pump_time"           // s, longest spell of the pump
	PumpShare         = "pump_share"          // share of the log with the pump on
	ShiftTime         = "shift_time"          // s, longest shift
	BetweenGears      = "between_gears"       // s, longest in gear 0 over 30 km/h
	GearboxPeak       = "gearbox_peak"        // °C
	GearboxSmooth     = "gearbox_smooth"      // °C, highest mean of 2 s
	LaunchSlip        = "launch_slip"         // s, longest with the clutch slipping by more than 800 rpm
	OilInHand         = "oil_in_hand"         // bar, lowest of oil pressure less 0.9 times the baseline, under load
	OilInHandWarm     = "oil_in_hand_warm"    // the same where the oil is over 80 °C
	OilOverLine       = "oil_over_line"       // bar, lowest of oil pressure less 0.5 bar per 1000 rpm, under load
	OilAtLoad         = "oil_at_load"         // °C, lowest under load
	OilPeak           = "oil_peak"            // °C
	WaterPeak         = "water_peak"          // °C
	RevPeak           = "rev_peak"            // rpm
	ManifoldPeak      = "manifold_peak"       // bar absolute
	OverBoostTime     = "over_boost_time"     // s, longest over 2.85 bar absolute
	TurboPeak         = "turbo_peak"          // rpm
	FuelDifference    = "fuel_difference"     // bar, lowest of rail less manifold by the paddock's barometer, under load
	ThrottleSplitTime = "throttle_split_time" // s, longest spell of more than 10 points between the two sensors
	ThrottleSplitMean = "throttle_split_mean" // points, highest mean of 100 ms between the two sensors
	BrakeSplitTime    = "brake_split_time"    // s, longest spell of more than 10 bar between front and rear over 0.695
	DiscPeak          = "disc_peak"           // °C
	BatteryLow        = "battery_low"         // V
	LowVoltsTime      = "low_volts_time"      // s, longest under 13.2 V over 1500 rpm
	FullThrottle      = "full_throttle"       // s over 95 % and 4000 rpm
	Distance          = "distance"            // m
	Shifts            = "shifts"              // count
	Launches          = "launches"            // count
	WingOpenings      = "wing_openings"       // count
)

// Thresholds of the measures.
const (
	backAt     = 36.5 // deg, over it the wing counts as back
	openAt     = 10.5 // deg, under it the wing counts as open
	loadAt     = 70.0 // %
	loadRPM    = 4000.0
	warmOil    = 80.0     // °C
	shareOfOil = 0.9      // of the baseline
	tripLine   = 0.5e-3   // bar/rpm
	pumpSlack  = 2 * bar  // Pa under the pressure at which the pump should start
	splitAt    = 10.0     // points, or bar
	slipAt     = 800.0    // rpm
	boostAt    = 2.85     // bar absolute
	voltsAt    = 13.2     // V
	brakeAt    = 5.0      // bar
	bendAt     = 0.6      // g0
	rollingAt  = 30 / 3.6 // m/s
	fullAt     = 95.0     // %
)
