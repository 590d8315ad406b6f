package demo

import "math"

// Wing is the data of the moveable rear wing: opened by air, closed by a spring.
// Closed is high downforce.
type Wing struct {
	Closed, Open float64 // deg
	SpringMoment float64 // N·m, closing
	Friction     float64 // N·m
	Inertia      float64 // kg·m², flap and linkage
	Area         float64 // m²
	NormalForce  float64 // coefficient
	Centre       float64 // m, centre of pressure before the hinge, opening
	Piston       float64 // m²
	Arm          float64 // m, piston to hinge
	Dead         float64 // m³, cylinder and line with the flap closed
	Supply       float64 // Pa gauge, the regulator
	OpenTime     float64 // s, what the supply orifice is sized for
	CloseTime    float64 // s, what the exhaust orifice is sized for
}

const radPerDeg = math.Pi / 180

// wingState is the flap in motion.
type wingState struct {
	data     *Wing
	open     float64 // rad, away from closed
	rate     float64 // rad/s
	pressure float64 // Pa absolute, in the cylinder
	feed     float64 // m³/(s·Pa), conductance of the supply
	vent     float64 // m³/(s·Pa), conductance of the exhaust
	// Pa absolute: what the regulator gives, and what is behind it.
	regulated, supply float64
	jammed            bool // held where it is
}

// newWing sizes both orifices so that the flap opens and closes in the data's times at 45 m/s.
func newWing(w *Wing, ambient float64) wingState {
	s := wingState{data: w, pressure: ambient, regulated: w.Supply + ambient, supply: w.Supply + ambient}
	s.feed = conductance(func(c float64) float64 { return s.timeToOpen(c, ambient) }, w.OpenTime)
	s.vent = s.ventFor(w.CloseTime, ambient)
	return s
}

// angle is the flap's, deg.
func (s *wingState) angle() float64 { return s.data.Closed - s.open/radPerDeg }

// travel is the whole way, rad.
func (w *Wing) travel() float64 { return (w.Closed - w.Open) * radPerDeg }

// flow is the flow through an orifice in volume at standard pressure times that pressure,
// Pa·m³/s, after ISO 6358 with a critical ratio of 0.3.
func flow(conductance, up, down float64) float64 {
	const critical = 0.3
	r := down / up
	if r >= 1 {
		return 0
	}
	q := conductance * up * standardAir
	if r > critical {
		x := (r - critical) / (1 - critical)
		q *= math.Sqrt(1 - x*x)
	}
	return q
}

// step moves the flap on by dt. aero is the opening moment of the air, N·m.
func (s *wingState) step(command bool, aero, ambient, dt float64) {
	w := s.data
	s.supply += (s.regulated - s.supply) * dt / 0.15
	if !command && s.open == 0 && s.pressure-ambient < 1 {
		return // at rest on its closed stop
	}
	q := -flow(s.vent, s.pressure, ambient)
	if command {
		q = flow(s.feed, s.supply, s.pressure)
		s.supply -= q * dt / 0.4e-3 // the line behind the regulator sags while it flows
	}
	volume := w.Dead + w.Piston*w.Arm*s.open
	s.pressure += (q - s.pressure*w.Piston*w.Arm*s.rate) * dt / volume
	s.pressure = max(s.pressure, ambient)
	if s.jammed {
		s.rate = 0
		return
	}
	s.move((s.pressure-ambient)*w.Piston*w.Arm+aero-w.SpringMoment, dt)
}

// move applies a moment, less friction, between the two stops.
func (s *wingState) move(moment, dt float64) {
	w := s.data
	switch {
	case s.rate > 0, s.rate == 0 && moment > w.Friction:
		moment -= w.Friction
	case s.rate < 0, s.rate == 0 && moment < -w.Friction:
		moment += w.Friction
	default:
		return // sticks
	}
	before := s.rate
	s.rate += moment / w.Inertia * dt
	s.open += (before + s.rate) / 2 * dt
	if s.open <= 0 {
		s.open, s.rate = 0, 0
	}
	if end := w.travel(); s.open >= end {
		s.open, s.rate = end, 0
	}
}

// aero is the opening moment at this speed, N·m.
func (w *Wing) aero(v, density float64) float64 {
	return 0.5 * density * v * v * w.Area * w.NormalForce * w.Centre
}

// closedEnough is where the wing counts as back to high downforce, deg before the stop.
const closedEnough = 1.5

// ventFor gives the exhaust conductance with which the flap is back in this time at 45 m/s.
func (s *wingState) ventFor(t, ambient float64) float64 {
	return conductance(func(c float64) float64 { return s.timeToClose(c, ambient) }, t)
}

// conductance searches for the one that makes the time, which falls as it grows.
func conductance(time func(float64) float64, want float64) float64 {
	low, high := 1e-10, 1e-7
	for range 40 {
		mid := math.Sqrt(low * high)
		if time(mid) > want {
			low = mid
		} else {
			high = mid
		}
	}
	return math.Sqrt(low * high)
}

const (
	sizingSpeed   = 45.0 // m/s
	sizingDensity = 1.19 // kg/m³
	tooLong       = 4.0  // s
)

func (s *wingState) timeToClose(vent, ambient float64) float64 {
	x := *s
	x.open, x.rate, x.pressure, x.vent, x.jammed = x.data.travel(), 0, x.data.Supply+ambient, vent, false
	aero := x.data.aero(sizingSpeed, sizingDensity)
	t := 0.0
	for ; x.open > closedEnough*radPerDeg && t < tooLong; t += step {
		x.step(false, aero, ambient, step)
	}
	return t
}

func (s *wingState) timeToOpen(feed, ambient float64) float64 {
	x := *s
	x.open, x.rate, x.pressure, x.feed, x.jammed = 0, 0, ambient, feed, false
	aero := x.data.aero(sizingSpeed, sizingDensity)
	t := 0.0
	for end := x.data.travel() - closedEnough*radPerDeg; x.open < end && t < tooLong; t += step {
		x.step(true, aero, ambient, step)
	}
	return t
}

// flap runs the wing's control and the flap.
func (m *model) flap(t float64) {
	lateral := math.Abs(m.lateral)
	order := m.wingOrder
	switch {
	case order:
		order = m.brake < 5*bar && m.throttle > 0.85 && lateral < 0.55 && m.v > 30
		if f := m.planted.interlock; f != nil && f.on(t) && m.v > 10 {
			if order {
				m.shutAt = t
			}
			order = t-m.shutAt < f.Size
		}
	case m.wingSince > 1.2:
		order = m.brake < 2*bar && m.throttle > 0.95 && lateral < 0.4 && m.v > 35.5 && m.box.gear >= 3 && m.straightAhead()
	}
	if m.wingOrder && !order {
		m.wingSince = 0
		m.wing.vent = m.vent
		if f := m.planted.wingSlow; f != nil && f.on(t) {
			m.wing.vent = m.slowVent
		}
	}
	m.wingOrder = order
	m.wingSince += step
	if f := m.planted.wingStuck; f != nil && t >= f.At && m.wing.open == m.car.Wing.travel() {
		m.wing.jammed = true
	}
	m.wing.regulated = size(m.planted.supply, t, bar, m.car.Wing.Supply) + m.ambient
	m.wing.step(order, m.car.Wing.aero(m.v, m.density), m.ambient, step)
}
