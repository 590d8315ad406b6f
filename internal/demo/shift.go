package demo

import "math"

// gearbox is a sequential box; gear 0 is neutral.
type gearbox struct {
	gear     int
	to       int
	from     float64 // rad/s of the engine when the shift began
	span     float64 // s, how long this shift takes
	progress float64 // 0..1 while shifting
	active   bool
	crashing bool    // this shift hangs between the gears
	since    float64 // s since the last shift ended
}

func (g *gearbox) begin(to int, span, engine float64) {
	g.to, g.span, g.from, g.progress, g.active, g.crashing = to, span, engine, 0, true, false
}

func (g *gearbox) step() {
	if !g.active {
		g.since += step
		return
	}
	g.progress += step / g.span
	if g.progress >= 0.5 {
		g.gear = g.to
	}
	if g.progress >= 1-1e-9 {
		g.active, g.crashing, g.since = false, false, 0
	}
}

// shiftSpan is how long a shift takes at this oil pressure: less pressure, slower barrel.
func shiftSpan(nominal, pressure float64) float64 {
	return nominal * math.Sqrt(120*bar/max(pressure, 40*bar))
}

// The clutch.
type clutch uint8

const (
	open clutch = iota
	slipping
	closed
)

// clutchCapacity is what a closed clutch can hold, N·m.
const clutchCapacity = 700

// slip moves a slipping clutch on: engine on one side, gearbox input on the other. It
// returns the torque that goes through and the new engine speed. full is the torque the engine
// has, hold the speed the launch control keeps.
func slip(e *Engine, engine, full, through, hold float64) (passed, speed float64) {
	// An engine about to stall takes its clutch foot back.
	through *= min(max((engine*rpmPerRad-1500)/1000, 0), 1)
	asked := through + e.Inertia*(hold-engine)/0.08
	given := min(full, max(asked, 0))
	return through, engine + (given-through)/e.Inertia*step
}

// shift begins the shift the driver asks for and moves the box on.
func (m *model) shift(t float64) {
	if !m.box.active {
		if want := m.gearWanted(); want != m.box.gear {
			span := m.car.ShiftTime
			if m.car.Hydraulic != nil {
				span = shiftSpan(span, m.circuit.acc.pressure())
			}
			span *= 0.96 + 0.08*m.chance()
			m.box.begin(want, size(m.planted.slowShift, t, 1, span), m.engine)
			if f := m.planted.crash; f != nil && !m.crashed && t >= f.At && want > m.box.gear && m.box.gear > 0 {
				m.box.span, m.box.crashing, m.crashed = f.Size/0.6, true, true
			}
		}
	}
	m.box.step()
}
