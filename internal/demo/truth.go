package demo

import "math"

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
	// Channels are those the measure rests on.
	Channels []string
	// Blind says that some of their samples are missing in this log, so that
	// nobody can be sure of the answer.
	Blind bool
	// Seen is how often the thing measured took place at all: closings, shifts,
	// milliseconds under the condition.
	Seen int
}

// Moment is one occurrence with its own value.
type Moment struct {
	At    float64 // s
	Value float64
}

// The measures. Conditions are those of the names; under load is throttle over 70 % and
// over 4000 rpm.
const (
	WingReturn        = "wing_return"         // s, longest time from the order to close until over 36.5°; +Inf when it never came
	ShiftPressure     = "shift_pressure"      // bar, lowest while a shift is active
	OilInHand         = "oil_in_hand"         // bar, lowest of oil pressure less 0.9 times the baseline, under load
	OilInHandWarm     = "oil_in_hand_warm"    // the same where the oil is over 80 °C
	OilAtLoad         = "oil_at_load"         // °C, lowest under load
	OilPeak           = "oil_peak"            // °C
	WaterPeak         = "water_peak"          // °C
	GearboxPeak       = "gearbox_peak"        // °C
	RevPeak           = "rev_peak"            // rpm
	ManifoldPeak      = "manifold_peak"       // bar absolute
	FuelDifference    = "fuel_difference"     // bar, lowest of rail less manifold, under load
	ThrottleSplitTime = "throttle_split_time" // s, longest spell of more than 10 points between the two sensors
	BrakeSplitTime    = "brake_split_time"    // s, longest spell of more than 10 bar between the front reading and the rear over 0.695
	ShiftTime         = "shift_time"          // s, longest shift
	PumpTime          = "pump_time"           // s, longest spell of the pump
	DiscPeak          = "disc_peak"           // °C
	TurboPeak         = "turbo_peak"          // rpm
	SupplyLow         = "supply_low"          // bar, lowest wing supply
	Shifts            = "shifts"              // count
	Launches          = "launches"            // count
	WingOpenings      = "wing_openings"       // count
	BatteryLow        = "battery_low"         // V
	Distance          = "distance"            // m
	FullThrottle      = "full_throttle"       // s over 95 % and 4000 rpm
)

// backAt is the angle beyond which the wing counts as back, deg.
const backAt = 36.5

// watcher finds the truth while the model runs.
type watcher struct {
	m     *model
	bound map[string]float64
	thr   float64 // bounds of throttle, %, and rpm
	rev   float64

	oilLine Curve

	wing, shiftP, oil, oilWarm, oilAt, oilPeak, water, box, revs, man, fuel, disc, turbo, supply, volts Extreme
	split, brakes, shift, pump                                                                          spell
	returns                                                                                             returns
	full                                                                                                total
	launches, openings                                                                                  int
	closings, lows                                                                                      []Moment
	wasShift, wasOrder, wasSlip                                                                         bool
}

func lowest(unit string, channels ...string) Extreme {
	return Extreme{Value: math.Inf(1), Low: math.Inf(1), High: math.Inf(1), Unit: unit, Channels: channels}
}

func highest(unit string, channels ...string) Extreme {
	return Extreme{Value: math.Inf(-1), Low: math.Inf(-1), High: math.Inf(-1), Unit: unit, Channels: channels}
}

func (e *Extreme) least(x, t float64) {
	e.Seen++
	if x < e.Value {
		e.Value, e.At = x, t
	}
}

func (e *Extreme) most(x, t float64) {
	e.Seen++
	if x > e.Value {
		e.Value, e.At = x, t
	}
}

// leastSample bounds a minimum by one sample: sure says the sample counts whatever the
// noise, otherwise it may.
func (e *Extreme) leastSample(x, bound float64, sure bool) {
	e.Low = min(e.Low, x-bound)
	if sure {
		e.High = min(e.High, x+bound)
	}
}

func (e *Extreme) mostSample(x, bound float64) {
	e.High = max(e.High, x+bound)
	e.Low = max(e.Low, x-bound)
}

// spell finds the longest time a thing is true, and how long sampling can make it.
type spell struct {
	Extreme
	began      float64
	is         bool
	may, must  int // samples in a row
	most, sure int
	period     float64 // s
}

func newSpell(period int, channels ...string) spell {
	return spell{Extreme: Extreme{Unit: "s", Channels: channels}, period: float64(period) / 1000}
}

func (s *spell) step(is bool, t float64) {
	if is && !s.is {
		s.began = t
		s.Seen++
	}
	s.is = is
	if is && t+step-s.began > s.Value {
		s.Value, s.At = t+step-s.began, s.began
	}
}

func (s *spell) sample(may, must bool) {
	if s.may++; !may {
		s.may = 0
	}
	if s.must++; !must {
		s.must = 0
	}
	s.most, s.sure = max(s.most, s.may), max(s.sure, s.must)
}

// total is how long a thing is true in all.
type total struct {
	steps     int // ms
	may, must int // samples
}

func (c total) finish(period float64, channels ...string) Extreme {
	return Extreme{
		Value: float64(c.steps) * step, Unit: "s", Channels: channels, Seen: c.steps,
		Low: float64(c.must) * period, High: float64(c.may) * period,
	}
}

// finish adds a period either way: a sample says nothing about the time around it.
func (s *spell) finish(missing bool) Extreme {
	e := s.Extreme
	if s.most > 0 {
		e.High = float64(s.most+1) * s.period
	}
	e.Low = max(float64(s.sure-1)*s.period, 0)
	if missing {
		// A spell may go on through the gap.
		e.Low, e.High = 0, math.Inf(1)
	}
	return e
}

// returns follows each closing of the wing.
type returns struct {
	pending   bool    // ordered and not back
	ordered   float64 // s
	waiting   bool    // the same, as the samples show it
	trigger   float64 // s, the sample that shows the order; NaN before it
	soonest   float64 // s, the first sample that may show the flap back; NaN before it
	gapped    bool    // the logger was away meanwhile
	count     int
	worst, at float64 // s
	low, high float64 // s, bounds of the worst as sampled
}

// watch sets up for one run.
func watch(m *model) *watcher {
	w := &watcher{
		m: m, bound: map[string]float64{}, oilLine: m.car.OilLine,
		shiftP:  lowest("bar", "hyd_pressure", "shift_active"),
		oil:     lowest("bar", "oil_pressure", "rpm", "throttle"),
		oilWarm: lowest("bar", "oil_pressure", "rpm", "throttle", "oil_temp"),
		oilAt:   lowest("°C", "oil_temp", "throttle", "rpm"),
		oilPeak: highest("°C", "oil_temp"), water: highest("°C", "water_temp"), box: highest("°C", "gearbox_temp"),
		revs: highest("rpm", "rpm"), man: highest("bar", "manifold"),
		fuel: lowest("bar", "fuel_rail", "manifold", "throttle", "rpm"),
		disc: highest("°C", "disc_front"), turbo: highest("rpm", "turbo_speed"), supply: lowest("bar", "wing_supply"),
		volts: lowest("V", "battery"),
		split: newSpell(10, "throttle", "throttle_b"), brakes: newSpell(10, "brake_front", "brake_rear"),
		shift: newSpell(5, "shift_active"), pump: newSpell(50, "hyd_pump_on"),
	}
	for i := range ternSensors {
		w.bound[ternSensors[i].name] = ternSensors[i].bound()
	}
	w.thr, w.rev = w.bound["throttle"], w.bound["rpm"]
	return w
}

// under says whether the engine is under load within these margins (%, rpm).
func (w *watcher) under(thr, rev float64) bool {
	return 100*w.m.throttle > 70+thr && w.m.rpm() > 4000+rev
}

// look takes in the model as it is now. hidden says that the logger writes nothing now.
func (w *watcher) look(hidden bool) {
	m := w.m
	t := m.now()
	w.truth(t)
	if m.ms%5 == 0 {
		w.fast(hidden)
	}
	if m.ms%10 == 0 {
		w.hundred(t, hidden)
	}
	if m.ms%20 == 0 && !hidden {
		w.turbo.mostSample(m.car.Engine.turboSpeed(m.air.boost, m.ambient), w.bound["turbo_speed"])
	}
	if m.ms%50 == 0 {
		w.pump.sample(m.circuit.pump && !hidden, m.circuit.pump && !hidden)
		if !hidden {
			w.supply.leastSample((m.wing.supply-m.ambient)/bar, w.bound["wing_supply"], true)
		}
	}
	if m.ms%100 == 0 && !hidden {
		w.disc.mostSample(m.discs.temp, w.bound["disc_front"])
		w.volts.leastSample(m.battery, w.bound["battery"], true)
	}
	if m.ms%200 == 0 && !hidden {
		w.slow()
	}
}

// truth is the part without sensors, every millisecond.
func (w *watcher) truth(t float64) {
	m := w.m
	rpm := m.rpm()
	w.revs.most(rpm, t)
	w.man.most(m.air.manifold/bar, t)
	w.oilPeak.most(m.oilHeat.temp(), t)
	w.water.most(m.water.temp(), t)
	w.box.most(m.boxT.temp(), t)
	w.disc.most(m.discs.temp, t)
	w.turbo.most(m.car.Engine.turboSpeed(m.air.boost, m.ambient), t)
	w.supply.least((m.wing.supply-m.ambient)/bar, t)
	w.volts.least(m.battery, t)
	if w.under(0, 0) {
		in := (m.oil.pressure - 0.9*w.oilLine.At(rpm)) / bar
		w.oil.least(in, t)
		temp := m.oilHeat.temp()
		if temp > 80 {
			w.oilWarm.least(in, t)
		}
		w.oilAt.least(temp, t)
		w.fuel.least(w.fuelDifference(), t)
	}
	if m.box.active {
		p := m.circuit.acc.pressure() / bar
		w.shiftP.least(p, t)
		if !w.wasShift {
			w.lows = append(w.lows, Moment{t, p})
		}
		if last := &w.lows[len(w.lows)-1]; p < last.Value {
			*last = Moment{t, p}
		}
	}
	w.wasShift = m.box.active
	if 100*m.throttle > 95 && rpm > 4000 {
		w.full.steps++
	}
	w.split.step(math.Abs(m.throttleB()-100*m.throttle) > 10, t)
	w.brakes.step(w.brakeSplit() > 10, t)
	w.shift.step(m.box.active, t)
	w.pump.step(m.circuit.pump, t)
	w.count()
	w.closing(t)
}

// fuelDifference is rail over manifold by the two sensors and the paddock's barometer, bar.
func (w *watcher) fuelDifference() float64 {
	return (w.m.fuelRail() + w.m.run.Station - w.m.air.manifold) / bar
}

// brakeSplit is how far the two brake sensors are apart, bar at the front.
func (w *watcher) brakeSplit() float64 {
	return math.Abs(w.m.brakeFront()-w.m.brake) / bar
}

func (w *watcher) count() {
	m := w.m
	slip := m.clutch == slipping
	if slip && !w.wasSlip {
		w.launches++
	}
	w.wasSlip = slip
	if m.wingOrder && !w.wasOrder {
		w.openings++
	}
}

// fast is the channels at 200 Hz.
func (w *watcher) fast(hidden bool) {
	m := w.m
	active := m.box.active && !hidden
	w.shift.sample(active, active)
	if active {
		w.shiftP.leastSample(m.circuit.acc.pressure()/bar, w.bound["hyd_pressure"], true)
	}
}

// hundred is the channels at 100 Hz.
func (w *watcher) hundred(t float64, hidden bool) {
	m := w.m
	rpm := m.rpm()
	if !hidden {
		w.revs.mostSample(rpm, w.rev)
		w.man.mostSample(m.air.manifold/bar, w.bound["manifold"])
	}
	if 100*m.throttle > 95-w.thr && rpm > 4000-w.rev {
		w.full.may++
		if 100*m.throttle > 95+w.thr && rpm > 4000+w.rev && !hidden {
			w.full.must++
		}
	}
	d := math.Abs(clip(m.throttleB(), 0, 100) - 100*m.throttle)
	both := w.thr + w.bound["throttle_b"]
	w.split.sample(d > 10-both && !hidden, d > 10+both && !hidden)
	b := w.brakeSplit()
	both = w.bound["brake_front"] + w.bound["brake_rear"]/rearPressure
	w.brakes.sample(b > 10-both && !hidden, b > 10+both && !hidden)
	w.closingSample(t, hidden)
	if hidden || !w.under(-w.thr, -w.rev) {
		return
	}
	sure := w.under(w.thr, w.rev)
	const steepest = 0.9 * 0.75e-3 // bar/rpm, of the line
	in := (m.oil.pressure - 0.9*w.oilLine.At(rpm)) / bar
	bound := w.bound["oil_pressure"] + steepest*w.rev
	w.oil.leastSample(in, bound, sure)
	warm := w.bound["oil_temp"]
	if m.held > 80-warm {
		w.oilWarm.leastSample(in, bound, sure && !m.oilOpen() && m.held > 80+warm)
	}
	if !m.oilOpen() {
		// Oil warms by less than 0.1 K from one of its own samples to the next.
		w.oilAt.leastSample(m.held, warm+0.1, sure)
	}
	w.fuel.leastSample(w.fuelDifference(), w.bound["fuel_rail"]+w.bound["manifold"], sure)
}

func clip(x, low, high float64) float64 { return min(max(x, low), high) }

// slow is the channels at 5 Hz.
func (w *watcher) slow() {
	m := w.m
	w.water.mostSample(m.water.temp(), w.bound["water_temp"])
	w.box.mostSample(m.boxT.temp(), w.bound["gearbox_temp"])
	if !m.oilOpen() {
		w.oilPeak.mostSample(m.oilHeat.temp(), w.bound["oil_temp"])
	}
}

// closing follows the wing back, as it really is.
func (w *watcher) closing(t float64) {
	m, r := w.m, &w.returns
	if w.wasOrder && !m.wingOrder {
		r.count++
		if !r.pending { // an order while an earlier one is unanswered changes nothing
			r.pending, r.waiting, r.gapped = true, true, false
			r.ordered, r.trigger, r.soonest = t, math.NaN(), math.NaN()
		}
	}
	w.wasOrder = m.wingOrder
	if r.pending && m.wing.angle() > backAt {
		r.pending = false
		took := t - r.ordered
		w.closings = append(w.closings, Moment{r.ordered, took})
		if took > r.worst {
			r.worst, r.at = took, r.ordered
		}
	}
}

// closingSample follows the same through the logger's eyes, at 100 Hz.
func (w *watcher) closingSample(t float64, hidden bool) {
	m, r := w.m, &w.returns
	if !r.waiting {
		return
	}
	if hidden {
		r.gapped = true
		return
	}
	if math.IsNaN(r.trigger) {
		r.trigger = t
	}
	angle, bound := m.wing.angle(), w.bound["wing_angle"]
	if math.IsNaN(r.soonest) && angle+bound > backAt {
		r.soonest = t
	}
	if angle-bound > backAt {
		r.waiting = false
		low, high := r.soonest-r.trigger, t-r.trigger
		if r.gapped {
			low, high = 0, math.Inf(1)
		}
		r.low, r.high = max(r.low, low), max(r.high, high)
	}
}

// finish closes the books at the end of the log.
func (w *watcher) finish() map[string]Extreme {
	m, r := w.m, &w.returns
	gap := m.planted.gap != nil
	w.wing = Extreme{Value: r.worst, At: r.at, Unit: "s", Channels: []string{"wing_command", "wing_angle"}, Seen: r.count}
	const period = 0.010 // s, of both channels
	w.wing.Low, w.wing.High = max(r.low-period, 0), r.high+period
	if r.pending {
		w.wing.Value, w.wing.At = math.Inf(1), r.ordered
		w.wing.Low, w.wing.High = max(w.wing.Low, m.now()-r.ordered-2*period), math.Inf(1)
	}
	all := map[string]Extreme{
		WingReturn: w.wing, ShiftPressure: w.shiftP, OilInHand: w.oil, OilInHandWarm: w.oilWarm, OilAtLoad: w.oilAt,
		OilPeak: w.oilPeak, WaterPeak: w.water, GearboxPeak: w.box, RevPeak: w.revs, ManifoldPeak: w.man,
		FuelDifference: w.fuel, DiscPeak: w.disc, TurboPeak: w.turbo, SupplyLow: w.supply, BatteryLow: w.volts,
		ThrottleSplitTime: w.split.finish(gap), BrakeSplitTime: w.brakes.finish(gap),
		ShiftTime: w.shift.finish(gap), PumpTime: w.pump.finish(gap),
		Shifts:       counted(len(w.lows), "shift_active"),
		Launches:     counted(w.launches, "clutch_slip", "gear", "speed", "throttle"),
		WingOpenings: counted(w.openings, "wing_command"),
		Distance:     w.distance(),
		FullThrottle: w.full.finish(0.010, "throttle", "rpm"),
	}
	for key, e := range all {
		for _, c := range e.Channels {
			e.Blind = e.Blind || gap || c == "oil_temp" && m.planted.oilOpen != nil
		}
		if gap && e.Low == e.High && e.Unit == "1" {
			e.Low, e.High = 0, math.Inf(1)
		}
		all[key] = e
	}
	return all
}

// counted is a count that sampling cannot change.
func counted(n int, channels ...string) Extreme {
	return Extreme{Value: float64(n), Low: float64(n), High: float64(n), Unit: "1", Channels: channels, Seen: n}
}

// distance allows each speed sample its error, and the trapezoids theirs.
func (w *watcher) distance() Extreme {
	m := w.m
	bound := w.bound["speed"]/3.6*m.now() + 1
	if f := m.planted.gap; f != nil {
		const fastest = 60 // m/s
		bound += fastest * f.For
	}
	return Extreme{
		Value: m.driven, At: m.now(), Low: m.driven - bound, High: m.driven + bound,
		Unit: "m", Channels: []string{"speed"}, Seen: 1,
	}
}
