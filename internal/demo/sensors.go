package demo

import (
	"math"
	"math/rand/v2"
)

// sensor is one logged channel: what it sees of the model, at what rate, how wrong it
// can be and how it is rounded. A value that a healthy sensor cannot give is cut off at low.
type sensor struct {
	name     string // in rules
	logged   string // in the log
	unit     string // in the log
	rate     int    // Hz, a divisor of 1000
	decimals int
	noise    float64 // greatest error before rounding, in the unit
	low      float64
	high     float64
	read     func(*model) float64
}

// bound is the greatest difference between a logged value and the truth, in the unit.
func (s *sensor) bound() float64 {
	return s.noise + 0.5*math.Pow10(-s.decimals)
}

// period is the time between two samples, ms.
func (s *sensor) period() int { return 1000 / s.rate }

// faultReads is what a thermistor with an open circuit shows, °C.
const faultReads = -40

func yes(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

// slipSpeed is engine speed over gearbox input speed, rpm, while the clutch carries torque; with
// the pedal down, in neutral or in a shift the control unit gives none.
func (m *model) slipSpeed() float64 {
	if m.box.gear == 0 || m.box.active || m.clutch == open {
		return 0
	}
	return math.Abs(m.engine-m.v*m.car.ratio(m.box.gear)/m.car.Radius) * rpmPerRad
}

// fuelRail is the rail's gauge pressure, Pa: the regulator holds 3.5 bar over the manifold.
func (m *model) fuelRail() float64 {
	demand := m.throttle * m.rpm() / m.car.Engine.Limit
	lost := size(m.planted.fuelLoss, m.now(), bar, 0) * min(demand/0.8, 1)
	return 3.5*bar - lost + m.air.manifold - m.ambient
}

// throttleB is the second throttle sensor, %; when it is wrong, then towards the middle, so
// that the end of its range does not hide it.
func (m *model) throttleB() float64 {
	apart := size(m.planted.split, m.now(), 1, 0)
	if m.throttle > 0.5 {
		apart = -apart
	}
	return 100*m.throttle + apart
}

// gearShown is the gear position, 0 while the barrel is between two gears.
func (m *model) gearShown() float64 {
	if m.box.crashing && m.box.progress > 0.2 && m.box.progress < 0.8 {
		return 0
	}
	return float64(m.box.gear)
}

// brakeFront is what the front brake pressure sensor has before it, Pa.
func (m *model) brakeFront() float64 {
	if f := m.planted.brakeStuck; f != nil && f.on(m.now()) {
		return m.frozen
	}
	return m.brake
}

// rearPressure is the share of the front pressure that reaches the rear line.
const rearPressure = 0.695

// oilTempShown is what the oil temperature sensor shows, °C.
func (m *model) oilTempShown() float64 {
	if m.oilOpen() {
		return faultReads
	}
	return m.oilHeat.temp()
}

func (m *model) oilOpen() bool {
	f := m.planted.oilOpen
	return f != nil && f.on(m.now())
}

// ternSensors is the logger of the Tern 3, in the order of its columns.
var ternSensors = []sensor{
	{"rpm", "ENG_RPM", "rpm", 100, 0, 6, 0, 9000, func(m *model) float64 { return m.rpm() }},
	{"speed", "V_CAR", "km/h", 50, 1, 0.15, 0, 260, func(m *model) float64 { return m.v * 3.6 }},
	{"throttle", "TPS", "%", 100, 1, 0.2, 0, 100, func(m *model) float64 { return 100 * m.throttle }},
	{"throttle_b", "TPS_B", "%", 100, 1, 0.2, 0, 100, (*model).throttleB},
	{"brake_front", "P_BRK_F", "bar", 100, 1, 0.2, 0, 160, func(m *model) float64 { return m.brakeFront() / bar }},
	{"brake_rear", "P_BRK_R", "bar", 100, 1, 0.2, 0, 160, func(m *model) float64 { return rearPressure * m.brake / bar }},
	{"oil_pressure", "P_OIL", "bar", 100, 2, 0.02, 0, 10, func(m *model) float64 { return m.oil.pressure / bar }},
	{"oil_temp", "T_OIL", "°C", 5, 1, 0.2, faultReads, 180, (*model).oilTempShown},
	{"water_temp", "T_WATER", "°C", 5, 1, 0.2, -20, 150, func(m *model) float64 { return m.water.temp() }},
	{"manifold", "P_MAN", "bar", 100, 3, 0.004, 0.2, 3.5, func(m *model) float64 { return m.air.manifold / bar }},
	{"fuel_rail", "P_FUEL", "bar", 100, 2, 0.02, 0, 10, func(m *model) float64 { return m.fuelRail() / bar }},
	{"hyd_pressure", "P_HYD", "bar", 200, 1, 0.3, 0, 250, func(m *model) float64 { return m.circuit.acc.pressure() / bar }},
	{"hyd_pump_on", "HYD_PMP", "state", 20, 0, 0, 0, 1, func(m *model) float64 { return yes(m.circuit.pump) }},
	{"shift_active", "SH_ACT", "state", 200, 0, 0, 0, 1, func(m *model) float64 { return yes(m.box.active) }},
	{"gear", "GEAR", "count", 50, 0, 0, 0, 6, (*model).gearShown},
	{"gearbox_temp", "T_GBX", "°C", 5, 1, 0.2, -20, 180, func(m *model) float64 { return m.boxT.temp() }},
	{"clutch_slip", "CL_SLIP", "rpm", 100, 0, 8, 0, 8000, (*model).slipSpeed},
	{"wing_command", "WNG_CMD", "state", 100, 0, 0, 0, 1, func(m *model) float64 { return yes(m.wingOrder) }},
	{"wing_angle", "WNG_POS", "deg", 100, 1, 0.12, 0, 45, func(m *model) float64 { return m.wing.angle() }},
	{"wing_supply", "P_WNG", "bar", 20, 2, 0.02, 0, 16, func(m *model) float64 { return (m.wing.supply - m.ambient) / bar }},
	{"lat_g", "A_LAT", "g0", 100, 2, 0.02, -3, 3, func(m *model) float64 { return m.lateral }},
	{"long_g", "A_LON", "g0", 100, 2, 0.02, -3, 3, func(m *model) float64 { return m.accel / gravity }},
	{"turbo_speed", "N_TRB", "rpm", 50, 0, 150, 0, 200000, (*model).turboSpeed},
	{"disc_front", "T_DSC_F", "°C", 10, 0, 1, -20, 900, func(m *model) float64 { return m.discs.temp }},
	{"battery", "V_BAT", "V", 10, 2, 0.03, 0, 20, func(m *model) float64 { return m.battery }},
	{"damper_fl", "DMP_FL", "mm", 1000, 1, 0.12, -10, 70, func(m *model) float64 { return m.damper }},
}

// Imperial readings of the second car.
const (
	psi  = 6894.757293 // Pa
	inHg = 3386.389    // Pa, at 0 °C
	mph  = 0.44704     // m/s
)

func fahrenheit(celsius float64) float64 { return celsius*1.8 + 32 }

// fallowSensors is the logger of the Fallow 9.
var fallowSensors = []sensor{
	{"rpm", "Engine Speed", "rpm", 50, 0, 8, 0, 9000, func(m *model) float64 { return m.rpm() }},
	{"speed", "Road Speed", "mph", 25, 1, 0.1, 0, 160, func(m *model) float64 { return m.v / mph }},
	{"throttle", "Throttle", "%", 50, 1, 0.3, 0, 100, func(m *model) float64 { return 100 * m.throttle }},
	{"oil_pressure", "Oil Press", "psi", 50, 1, 0.4, 0, 150, func(m *model) float64 { return m.oil.pressure / psi }},
	{"oil_temp", "Oil Temp", "°F", 5, 0, 0.6, faultReads, 350, func(m *model) float64 { return fahrenheit(m.oilTempShown()) }},
	{"water_temp", "Water Temp", "°F", 5, 0, 0.6, 0, 300, func(m *model) float64 { return fahrenheit(m.water.temp()) }},
	{"manifold", "Manifold", "inHg", 50, 1, 0.1, 0, 40, func(m *model) float64 { return m.air.manifold / inHg }},
	{"fuel_rail", "Fuel Press", "psi", 25, 1, 0.3, 0, 100, func(m *model) float64 { return m.fuelRail() / psi }},
	{"brake_front", "Front Brake", "psi", 50, 0, 3, 0, 2000, func(m *model) float64 { return m.brakeFront() / psi }},
	{"lat_g", "Lat Acc", "g0", 50, 2, 0.02, -3, 3, func(m *model) float64 { return m.lateral }},
	{"battery", "Battery", "V", 5, 2, 0.03, 0, 20, func(m *model) float64 { return m.battery }},
}

// sensors gives the logger of the car.
func (r *Run) sensors() []sensor {
	if r.Car.Wing == nil {
		return fallowSensors
	}
	return ternSensors
}

// tens are the powers of ten that a column's last decimal needs.
var tens = [...]float64{1, 10, 100, 1000}

// reading turns the truth into what is logged.
func (s *sensor) reading(truth float64, noise *rand.PCG) int32 {
	if s.noise > 0 && truth != faultReads {
		truth += s.noise * (2*unit(noise.Uint64()) - 1)
		truth = min(max(truth, s.low), s.high)
	}
	return int32(math.Floor(truth*tens[s.decimals] + 0.5))
}
