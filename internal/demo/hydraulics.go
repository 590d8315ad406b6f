package demo

// Hydraulics is the data of the shift hydraulics.
type Hydraulics struct {
	Volume    float64 // m³, the accumulator with no oil in it
	Precharge float64 // Pa gauge at 20 °C
	PumpOn    float64 // Pa gauge
	PumpOff   float64 // Pa gauge
	PumpFlow  float64 // m³/s
	Leak      float64 // m³/s, through the valves
	ShiftOil  float64 // m³ while the barrel moves
	ReturnOil float64 // m³ in the 100 ms after
}

const nitrogen = 1.4 // exponent; common practice up to about 200 bar

// accumulator is a quantity of gas behind a bladder.
type accumulator struct {
	gas  float64 // m³
	temp float64 // K
	nR   float64 // J/K, amount of gas times the gas constant
	wall float64 // K
	lag  float64 // s, exchange of heat with the shell; 0 for none
}

// newAccumulator charges one at 20 °C and then brings it to a pressure, at shell temperature.
func newAccumulator(volume, precharge, pressure, wall float64) accumulator {
	a := accumulator{temp: wall, wall: wall, lag: 9}
	a.nR = (precharge + standardAir) * volume / (20 + zeroCelsius)
	a.gas = min(a.nR*wall/(pressure+standardAir), volume)
	return a
}

const standardAir = 1.01325 * bar

// pressure is gauge, Pa.
func (a *accumulator) pressure() float64 { return a.nR*a.temp/a.gas - standardAir }

// draw takes oil out (or lets it in, negative): the gas grows by as much.
func (a *accumulator) draw(oil, dt float64) {
	// Midpoint in the volume keeps the adiabat true to second order.
	a.temp -= (nitrogen - 1) * a.temp * oil / (a.gas + nitrogen*oil/2)
	a.gas += oil
	if a.lag > 0 {
		a.temp += (a.wall - a.temp) * dt / a.lag
	}
}

// circuit is accumulator and pump at work.
type circuit struct {
	data     *Hydraulics
	acc      accumulator
	pump     bool
	flow     float64 // m³/s, what the pump gives now
	returned float64 // s of return flow left
}

// step moves the circuit on. shiftFlow is what the barrel takes, m³/s; onAt is the
// pressure at which the pump starts, leak what is lost inside.
func (c *circuit) step(shiftFlow, onAt, leak float64) {
	p := c.acc.pressure()
	switch {
	case p < onAt:
		c.pump = true
	case p > c.data.PumpOff:
		c.pump = false
	}
	want := 0.0
	if c.pump {
		want = c.data.PumpFlow
	}
	const spin = 0.03 // s
	c.flow += (want - c.flow) * step / spin
	out := shiftFlow + leak - c.flow
	if shiftFlow == 0 && c.returned > 0 {
		out += c.data.ReturnOil / returnTime
		c.returned -= step
	}
	c.acc.draw(out*step, step)
}

const returnTime = 0.1 // s

// hydraulics moves the circuit on: what a shift takes, and the pump.
func (m *model) hydraulics(t float64) {
	h := m.car.Hydraulic
	flow := 0.0
	if m.box.active {
		flow = h.ShiftOil / m.box.span
		m.circuit.returned = returnTime
	}
	m.circuit.step(flow, size(m.planted.pumpLate, t, bar, h.PumpOn), h.Leak+size(m.planted.leak, t, 1e-6, 0))
}
