package demo

import (
	"math/rand/v2"
)

// Run is all that decides a log: the same Run gives the same bytes.
type Run struct {
	Car      Car
	Course   *Course // nil for Coldharrow Bank
	Number   int
	Date     string // "2026-05-16"
	Clock    string // time of day of the first row, "09:42:10", for loggers that stamp it
	Logger   string
	Seed     uint64
	Practice bool    // a practice start in the lane first
	LaunchAt float64 // s, the start
	Pace     float64 // share of the grip in the corners, 0 for 0.97
	Station  float64 // Pa, pressure in the paddock
	Air      float64 // °C
	OilStart float64 // °C
	WaterAt  float64 // °C, water at the start
	BoxStart float64 // °C, gearbox oil at the start
	Charged  float64 // Pa gauge, accumulator at the start
	Faults   []Fault
}

// model is the car on the hill at one moment.
type model struct {
	run     *Run
	car     *Car
	course  *Course
	planted planted
	road    *rand.PCG // driver, road

	ms      int
	ambient float64 // Pa
	density float64 // kg/m³
	s, v    float64 // m from the start line, m/s
	driven  float64 // m, all the way driven
	accel   float64 // m/s²
	lateral float64 // g0, positive to the left
	start   float64 // s, launch up the hill
	finish  float64 // s, over the line; 0 before

	driver   driver
	throttle float64 // 0..1
	brake    float64 // Pa gauge, front
	engine   float64 // rad/s
	air      air
	clutch   clutch
	engaged  float64 // 0..1
	box      gearbox

	circuit   circuit
	wing      wingState
	wingOrder bool
	wingSince float64 // s since it was last told to close
	shutAt    float64 // s, when a sound interlock would have closed it
	vent      float64 // m³/(s·Pa), of the healthy exhaust
	slowVent  float64 // and of the restricted one

	discs                discs
	oil                  oil
	oilHeat, water, boxT body
	power                float64 // W
	battery              float64 // V
	damper               float64 // mm
	bump                 float64

	overRevved bool
	crashed    bool
	dipAt      float64
	frozen     float64 // Pa, what the stuck brake sensor shows
	held       float64 // °C, true oil temperature at its last sample
}

func (m *model) now() float64 { return float64(m.ms) * step }

func (m *model) rpm() float64 { return m.engine * rpmPerRad }

// usual rises of temperature over a run without faults, K; found by running the model.
const (
	usualGearboxRise = 31.2
	usualWaterRise   = 14.8
	usualOilRise     = 15.7
)

// coldharrow is laid out once; nothing changes it.
var coldharrow = ColdharrowBank()

func newModel(r *Run) *model {
	course := r.Course
	if course == nil {
		course = coldharrow
	}
	m := &model{run: r, car: &r.Car, course: course, planted: r.planted(), road: rand.NewPCG(r.Seed, 0x9e3779b97f4a7c15)}
	m.weather()
	pace := r.Pace
	if pace == 0 {
		pace = 0.97
	}
	m.driver.allowed = m.course.speeds(m.car, pace, m.density)
	m.s = -60
	m.engine = m.car.Engine.Idle / rpmPerRad
	m.air = air{boost: m.ambient, manifold: idleVacuum * m.ambient}
	m.clutch = open
	m.box.since = 1
	m.battery = 13.9
	m.damper = 22
	m.discs = discs{temp: 95}
	m.oilHeat = body{start: r.OilStart, gain: 1, share: 0.055, heat: 26e3, lag: 120}
	m.water = body{start: r.WaterAt, gain: 1, share: 0.080, heat: 38e3, lag: 100}
	m.boxT = body{start: r.BoxStart, gain: 1, share: 0.036, heat: 9.0e3, lag: 150}
	if f := r.find(ColdOil); f != nil {
		m.oilHeat.start = f.Size
	}
	if f := r.find(OilHot); f != nil {
		m.oilHeat.gain = m.oilHeat.gainFor(f.Size, usualOilRise)
	}
	if f := r.find(GearboxHot); f != nil {
		m.boxT.gain = m.boxT.gainFor(f.Size, usualGearboxRise)
	}
	if f := r.find(WaterHot); f != nil {
		m.water.gain = m.water.gainFor(f.Size, usualWaterRise)
	}
	m.held = m.oilHeat.start
	m.oil.pressure = m.car.OilLine.At(m.rpm()) * thin(m.oilHeat.temp())
	if h := m.car.Hydraulic; h != nil {
		precharge := h.Precharge
		if f := r.find(LowPrecharge); f != nil {
			precharge = f.Size * bar
		}
		m.circuit = circuit{data: h, acc: newAccumulator(h.Volume, precharge, r.Charged, 45+zeroCelsius)}
	}
	if m.car.Wing != nil {
		m.wing = newWing(m.car.Wing, m.ambient)
		m.vent = m.wing.vent
		if f := m.planted.wingSlow; f != nil {
			m.slowVent = m.wing.ventFor(f.Size, m.ambient)
		}
		m.wingSince = 10
	}
	return m
}

// weather follows the height: 11.7 Pa to the metre near the ground.
func (m *model) weather() {
	height := max(m.s, 0) * m.course.Slope
	m.ambient = m.run.Station - 11.7*height
	m.density = m.ambient / (airConstant * (m.run.Air + zeroCelsius))
}

// done says that the log is over.
func (m *model) done() bool {
	return m.driver.phase == stopped && m.now() > m.driver.ready+restAfter || m.now() > 150
}

// launch lets the clutch in.
func (m *model) launch() { m.clutch, m.engaged = slipping, 0 }

// step moves everything on by one millisecond.
func (m *model) step() {
	t := m.now()
	throttle, brake := m.pedals()
	m.throttle = slew(m.throttle, throttle, step/0.11, step/0.07)
	m.brake = slew(m.brake, brake/m.car.BrakeGain, 900*bar*step, 1400*bar*step)
	m.shift(t)
	m.drive(t)
	m.place()
	if m.car.Hydraulic != nil {
		m.hydraulics(t)
	}
	if m.car.Wing != nil {
		m.flap(t)
	}
	m.heat()
	m.oil.step(m.car.OilLine.At(m.rpm()), m.oilHeat.temp(), m.oilDip())
	m.ms++
}

// slew moves x towards a target by no more than up or down.
func slew(x, target, up, down float64) float64 {
	return min(max(target, x-down), x+up)
}

// chance draws from 0..1.
func (m *model) chance() float64 { return unit(m.road.Uint64()) }

// unit maps a draw to 0..1.
func unit(u uint64) float64 { return float64(u>>11) * 0x1p-53 }
