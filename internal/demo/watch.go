package demo

import "math"

// peak is the least or greatest value of a thing, under a condition or all the time.
type peak struct {
	Extreme
	least  bool
	period int // ms, of its samples
	bound  float64
	value  func(*model) float64
	// shown is what its sensor has before it at a sample, NaN when it shows nothing; nil
	// where that is the value itself.
	shown func(*model) float64
	when  condition // nil for always
}

func (p *peak) look(m *model, t float64, hidden bool) {
	if p.when == nil || p.when(m, 0) {
		x := p.value(m)
		p.Seen++
		if p.least && x < p.Value || !p.least && x > p.Value {
			p.Value, p.At = x, t
		}
	}
	if m.ms%p.period != 0 || hidden {
		return
	}
	if p.when == nil || p.when(m, 0) {
		if x := p.value(m); p.least && x < p.Sampled || !p.least && x > p.Sampled {
			p.Sampled = x
		}
	}
	if p.when != nil && !p.when(m, 1) {
		return
	}
	sees := p.shown
	if sees == nil {
		sees = p.value
	}
	x := sees(m)
	if math.IsNaN(x) {
		return
	}
	sure := p.when == nil || p.when(m, -1)
	if p.least {
		p.Low = min(p.Low, x-p.bound)
		if sure {
			p.High = min(p.High, x+p.bound)
		}
		return
	}
	p.High = max(p.High, x+p.bound)
	if sure {
		p.Low = max(p.Low, x-p.bound)
	}
}

// watcher finds the truth while the model runs.
type watcher struct {
	peaks     map[string]*peak
	spells    map[string]*spell
	reactions map[string]*reaction
	means     map[string]*mean
	// The same in a fixed order.
	order []interface {
		look(m *model, t float64, hidden bool)
	}
	lows               []Moment // lowest pressure of each shift
	shifting           bool
	launches, openings int
	wasSlip, wasOrder  bool
}

// bounds of the sensors by the names of their channels.
var bounds = func() map[string]float64 {
	b := map[string]float64{}
	for i := range ternSensors {
		b[ternSensors[i].name] = ternSensors[i].bound()
	}
	return b
}()

// Bounds that conditions use.
var (
	throttleBound = bounds["throttle"]
	revBound      = bounds["rpm"]
	angleBound    = bounds["wing_angle"]
	oilTempBound  = bounds["oil_temp"]
)

// underLoad is throttle and speed together.
func underLoad(m *model, slack float64) bool {
	return 100*m.throttle > loadAt-slack*throttleBound && m.rpm() > loadRPM-slack*revBound
}

// warmUnderLoad asks of the oil temperature as it is, or as it was last sampled.
func warmUnderLoad(m *model, slack float64) bool {
	switch {
	case !underLoad(m, slack):
		return false
	case slack == 0:
		return m.oilHeat.temp() > warmOil
	case slack < 0 && m.oilOpen():
		return false // nobody can be sure
	}
	return m.held > warmOil-slack*oilTempBound
}

// over makes a condition of a value over a threshold.
func over(value func(*model) float64, at, bound float64) condition {
	return func(m *model, slack float64) bool { return value(m) > at-slack*bound }
}

func (m *model) oilInHand() float64 {
	return (m.oil.pressure - shareOfOil*m.car.OilLine.At(m.rpm())) / bar
}

// fuelDifference is rail over manifold by the two sensors and the paddock's barometer, bar.
func (m *model) fuelDifference() float64 {
	return (m.fuelRail() + m.run.Station - m.air.manifold) / bar
}

// watch sets up the measures.
func watch() *watcher {
	w := &watcher{peaks: map[string]*peak{}, spells: map[string]*spell{}, reactions: map[string]*reaction{}, means: map[string]*mean{}}
	w.engine()
	w.driveline()
	w.wing()
	w.rest()
	return w
}

// lowest and highest add a peak; bound is of its samples.
func (w *watcher) lowest(key, unit string, period int, bound float64, when condition, value func(*model) float64, channels ...string) *peak {
	inf := math.Inf(1)
	p := &peak{Extreme: Extreme{Value: inf, Sampled: inf, Low: inf, High: inf, Unit: unit, Channels: channels}, least: true, period: period, bound: bound, when: when, value: value}
	w.peaks[key], w.order = p, append(w.order, p)
	return p
}

func (w *watcher) highest(key, unit string, period int, bound float64, value func(*model) float64, channels ...string) *peak {
	inf := math.Inf(-1)
	p := &peak{Extreme: Extreme{Value: inf, Sampled: inf, Low: inf, High: inf, Unit: unit, Channels: channels}, period: period, bound: bound, value: value}
	w.peaks[key], w.order = p, append(w.order, p)
	return p
}

func (w *watcher) spell(key string, period int, when condition, channels ...string) {
	s := &spell{Extreme: Extreme{Channels: channels}, period: period, when: when}
	w.spells[key], w.order = s, append(w.order, s)
}

func (w *watcher) reaction(key string, triggerPeriod, reactedPeriod int, trigger, reacted condition, channels ...string) {
	nan := math.NaN()
	r := &reaction{
		Extreme: Extreme{Channels: channels}, trigger: trigger, reacted: reacted, triggerPeriod: triggerPeriod, reactedPeriod: reactedPeriod,
		sampled: sampledReaction{may: nan, must: nan, soonest: nan},
	}
	w.reactions[key], w.order = r, append(w.order, r)
}

func (w *watcher) mean(key, unit string, period, window int, bound float64, value func(*model) float64, channels ...string) {
	inf := math.Inf(-1)
	a := &mean{
		Extreme: Extreme{Value: inf, Low: inf, High: inf, Unit: unit, Channels: channels}, period: period, window: window, bound: bound, value: value,
		truth: ring{values: make([]float64, window)}, shown: ring{values: make([]float64, window/period)},
	}
	w.means[key], w.order = a, append(w.order, a)
}

func (w *watcher) engine() {
	// The baseline's steepest part, for what an error in rpm does to it.
	const steepest = 0.75e-3 // bar/rpm
	load := []string{"throttle", "rpm"}
	with := func(names ...string) []string { return append(names, load...) }
	inHand := bounds["oil_pressure"] + shareOfOil*steepest*revBound
	w.lowest(OilInHand, "bar", 10, inHand, underLoad, (*model).oilInHand, with("oil_pressure")...)
	w.lowest(OilInHandWarm, "bar", 10, inHand, warmUnderLoad, (*model).oilInHand, with("oil_pressure", "oil_temp")...)
	w.lowest(OilOverLine, "bar", 10, bounds["oil_pressure"]+tripLine*revBound, underLoad, func(m *model) float64 { return m.oil.pressure/bar - tripLine*m.rpm() }, with("oil_pressure")...)
	// Oil warms by less than 0.1 K from one of its own samples to the next.
	w.lowest(OilAtLoad, "°C", 10, oilTempBound+0.1, underLoad, func(m *model) float64 { return m.oilHeat.temp() }, with("oil_temp")...).shown = func(m *model) float64 {
		if m.oilOpen() {
			return math.NaN()
		}
		return m.held
	}
	w.highest(OilPeak, "°C", 200, oilTempBound, func(m *model) float64 { return m.oilHeat.temp() }, "oil_temp").shown = func(m *model) float64 {
		if m.oilOpen() {
			return math.NaN()
		}
		return m.oilHeat.temp()
	}
	w.highest(WaterPeak, "°C", 200, bounds["water_temp"], func(m *model) float64 { return m.water.temp() }, "water_temp")
	w.highest(RevPeak, "rpm", 10, revBound, (*model).rpm, "rpm")
	manifold := func(m *model) float64 { return m.air.manifold / bar }
	w.highest(ManifoldPeak, "bar", 10, bounds["manifold"], manifold, "manifold")
	w.spell(OverBoostTime, 10, over(manifold, boostAt, bounds["manifold"]), "manifold")
	w.highest(TurboPeak, "rpm", 20, bounds["turbo_speed"], (*model).turboSpeed, "turbo_speed")
	w.lowest(FuelDifference, "bar", 10, bounds["fuel_rail"]+bounds["manifold"], underLoad, (*model).fuelDifference, with("fuel_rail", "manifold")...)
	w.spell(FullThrottle, 10, func(m *model, slack float64) bool {
		return 100*m.throttle > fullAt-slack*throttleBound && m.rpm() > loadRPM-slack*revBound
	}, load...)
	split := func(m *model) float64 { return math.Abs(m.throttleB() - 100*m.throttle) }
	both := throttleBound + bounds["throttle_b"]
	w.spell(ThrottleSplitTime, 10, over(split, splitAt, both), "throttle", "throttle_b")
	w.mean(ThrottleSplitMean, "%", 10, 100, both, split, "throttle", "throttle_b")
}

func (w *watcher) driveline() {
	pressure := func(m *model) float64 { return m.circuit.acc.pressure() / bar }
	active := func(m *model, _ float64) bool { return m.box.active }
	w.lowest(ShiftPressure, "bar", 5, bounds["hyd_pressure"], active, pressure, "hyd_pressure", "shift_active")
	w.spell(ShiftTime, 5, active, "shift_active")
	w.spell(BetweenGears, 20, func(m *model, slack float64) bool {
		return m.gearShown() == 0 && m.v > rollingAt-slack*bounds["speed"]/3.6
	}, "gear", "speed")
	pump := func(m *model, _ float64) bool { return m.circuit.pump }
	w.spell(PumpTime, 50, pump, "hyd_pump_on")
	w.reaction(PumpStart, 5, 50, func(m *model, slack float64) bool {
		return m.circuit.acc.pressure() < m.car.Hydraulic.PumpOn-pumpSlack+slack*bounds["hyd_pressure"]*bar && m.rpm() > 500
	}, pump, "hyd_pressure", "rpm", "hyd_pump_on")
	box := func(m *model) float64 { return m.boxT.temp() }
	w.highest(GearboxPeak, "°C", 200, bounds["gearbox_temp"], box, "gearbox_temp")
	w.mean(GearboxSmooth, "°C", 200, 2000, bounds["gearbox_temp"], box, "gearbox_temp")
	w.spell(LaunchSlip, 10, over((*model).slipSpeed, slipAt, bounds["clutch_slip"]), "clutch_slip")
}

func (w *watcher) wing() {
	order := func(m *model, _ float64) bool { return m.wingOrder }
	shut := func(m *model, _ float64) bool { return !m.wingOrder }
	w.reaction(WingReturn, 10, 10, shut, func(m *model, slack float64) bool { return m.wing.angle() > backAt-slack*angleBound }, "wing_command", "wing_angle")
	w.reaction(WingOpening, 10, 10, order, func(m *model, slack float64) bool { return m.wing.angle() < openAt+slack*angleBound }, "wing_command", "wing_angle")
	w.spell(OpenOnBrake, 10, func(m *model, slack float64) bool {
		return m.wingOrder && m.brakeFront()/bar > brakeAt-slack*bounds["brake_front"]
	}, "wing_command", "brake_front")
	w.spell(OpenInBend, 10, func(m *model, slack float64) bool {
		return m.wingOrder && math.Abs(m.lateral) > bendAt-slack*bounds["lat_g"]
	}, "wing_command", "lat_g")
	supply := func(m *model) float64 { return (m.wing.supply - m.ambient) / bar }
	w.lowest(SupplyLow, "bar", 50, bounds["wing_supply"], nil, supply, "wing_supply")
	w.lowest(SupplyOpening, "bar", 50, bounds["wing_supply"], order, supply, "wing_supply", "wing_command")
}

func (w *watcher) rest() {
	split := func(m *model) float64 { return math.Abs(m.brakeFront()-m.brake) / bar }
	w.spell(BrakeSplitTime, 10, over(split, splitAt, bounds["brake_front"]+bounds["brake_rear"]/rearPressure), "brake_front", "brake_rear")
	w.highest(DiscPeak, "°C", 100, bounds["disc_front"], func(m *model) float64 { return m.discs.temp }, "disc_front")
	w.lowest(BatteryLow, "V", 100, bounds["battery"], nil, func(m *model) float64 { return m.battery }, "battery")
	w.spell(LowVoltsTime, 100, func(m *model, slack float64) bool {
		return m.battery < voltsAt+slack*bounds["battery"] && m.rpm() > 1500-slack*revBound
	}, "battery", "rpm")
}

// look takes in the model as it is now. hidden says that the logger writes nothing now.
func (w *watcher) look(m *model, hidden bool) {
	t := m.now()
	for _, o := range w.order {
		o.look(m, t, hidden)
	}
	if m.box.active {
		p := m.circuit.acc.pressure() / bar
		if !w.shifting {
			w.lows = append(w.lows, Moment{t, p})
		}
		if last := &w.lows[len(w.lows)-1]; p < last.Value {
			*last = Moment{t, p}
		}
	}
	w.shifting = m.box.active
	slip := m.clutch == slipping
	if slip && !w.wasSlip {
		w.launches++
	}
	if m.wingOrder && !w.wasOrder {
		w.openings++
	}
	w.wasSlip, w.wasOrder = slip, m.wingOrder
}

// finish closes the books at the end of the log.
func (w *watcher) finish(m *model) map[string]Extreme {
	gap := m.planted.gap != nil
	all := map[string]Extreme{
		Shifts:       counted(len(w.lows), gap, "shift_active"),
		Launches:     counted(w.launches, gap, "clutch_slip", "gear", "speed", "throttle"),
		WingOpenings: counted(w.openings, gap, "wing_command"),
		Distance:     m.distance(),
	}
	for key, p := range w.peaks {
		all[key] = p.Extreme
	}
	for key, s := range w.spells {
		all[key] = s.longest(gap)
	}
	all[FullThrottle] = w.spells[FullThrottle].inAll()
	all[PumpShare] = share(w.spells[PumpTime].inAll(), m.now())
	for key, r := range w.reactions {
		all[key] = r.longest(m.now(), gap)
	}
	for key, a := range w.means {
		all[key] = a.Extreme
	}
	for key, e := range all {
		if w.peaks[key] == nil {
			e.Sampled = e.Value
		}
		for _, c := range e.Channels {
			e.Blind = e.Blind || gap || c == "oil_temp" && m.planted.oilOpen != nil
		}
		all[key] = e
	}
	return all
}

// share makes a share of a time out of all; the ends of the log are good to two periods.
func share(e Extreme, end float64) Extreme {
	const ends = 0.1 // s
	e.Unit, e.Value, e.Low, e.High = "1", e.Value/end, max(e.Low-ends, 0)/end, (e.High+ends)/end
	return e
}

// counted is a count that sampling cannot change.
func counted(n int, gap bool, channels ...string) Extreme {
	e := Extreme{Value: float64(n), Low: float64(n), High: float64(n), Unit: "1", Channels: channels, Seen: n}
	if gap {
		e.Low, e.High = 0, math.Inf(1)
	}
	return e
}

// distance allows each speed sample its error, and the trapezoids theirs.
func (m *model) distance() Extreme {
	bound := bounds["speed"]/3.6*m.now() + 1
	if f := m.planted.gap; f != nil {
		const fastest = 60 // m/s
		bound += fastest * f.For
	}
	return Extreme{Value: m.driven, At: m.now(), Low: m.driven - bound, High: m.driven + bound, Unit: "m", Channels: []string{"speed"}, Seen: 1}
}
