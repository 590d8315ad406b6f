package demo

import "math"

// phase is what the driver is doing.
type phase uint8

const (
	standing phase = iota // before anything
	practice              // the practice start in the lane
	waiting               // on the line
	racing
	stopped // after the run
)

// driver turns the line over distance into pedals.
type driver struct {
	phase   phase
	allowed []float64 // m/s over metres
	brake   bool      // the practice start is over, brake
	ready   float64   // s, when the car stood after the run
}

// Times of the script, s.
const (
	firstGearAt = 1.5
	practiceAt  = 3.0
	revsBefore  = 0.9 // s before a launch
	restAfter   = 5.0 // s at rest at the end
)

// pedals gives the throttle (0..1) and the retarding force (N) the driver wants.
func (m *model) pedals() (throttle, brake float64) {
	d := &m.driver
	t := m.now()
	switch d.phase {
	case standing:
		if !m.run.Practice {
			if t >= practiceAt {
				d.phase = waiting
			}
			return 0, 0
		}
		if t >= practiceAt {
			m.launch()
			d.phase = practice
		}
		return m.revs(t, practiceAt), 0
	case practice:
		if m.v > 9 {
			d.brake = true
		}
		if !d.brake {
			return 1, 0
		}
		if m.v == 0 {
			d.phase = waiting
		}
		return 0, 0.6 * m.car.Mass * gravity
	case waiting:
		if t >= m.run.LaunchAt {
			m.launch()
			m.s = 0
			d.phase = racing
			m.start = t
		}
		return m.revs(t, m.run.LaunchAt), 0
	case racing:
		if m.s > m.course.Length+50 && m.v < 0.5 {
			d.phase, d.ready = stopped, t
		}
		return m.follow()
	default:
		return 0, 0
	}
}

// straightAhead says that the road lets the driver go on for the time a wing is worth opening.
func (m *model) straightAhead() bool {
	if m.driver.phase != racing {
		return false
	}
	for _, ahead := range [...]float64{0.3, 0.6, 0.9} { // s
		cell := m.course.cell(m.s + m.v*ahead)
		if m.driver.allowed[cell] < m.v+2 || math.Abs(m.course.Curvature[cell])*m.v*m.v > 0.4*gravity {
			return false
		}
	}
	return true
}

// revs holds the engine up shortly before a launch, under the pedal that would count as one.
func (m *model) revs(t, launch float64) float64 {
	if t > launch-revsBefore {
		return 0.32
	}
	return 0
}

// follow keeps to the line a little ahead of the car.
func (m *model) follow() (throttle, brake float64) {
	const ahead = 0.13 // s
	v := m.driver.allowed[m.course.cell(m.s+m.v*ahead)]
	want := (v - m.v) / ahead
	force := m.car.moving(m.box.gear)*want + m.car.resistance(m.v, m.density, m.course.Slope)
	if force >= 0 {
		full := m.available(m.air.boost)
		if full <= 0 {
			return 1, 0
		}
		return min(force/full, 1), 0
	}
	overrun := 0.06 * m.car.Mass * gravity
	return 0, max(-force-overrun, 0)
}

// available is the driving force at full throttle in this gear, N.
func (m *model) available(boost float64) float64 {
	return m.car.Engine.torque(m.rpm(), boost) * m.car.ratio(m.box.gear) * m.car.Driveline / m.car.Radius
}

// gearWanted gives the gear the driver asks for now.
func (m *model) gearWanted() int {
	g, top := m.box.gear, len(m.car.Ratios)
	rpm := m.rpm()
	t := m.now()
	switch {
	case m.driver.phase == standing && g == 0 && t >= firstGearAt:
		return 1
	case m.driver.phase == stopped && g > 0 && t > m.driver.ready+0.5:
		return 0
	case g == 0 || m.clutch == slipping || m.driver.phase != racing:
		return g
	}
	if to := m.overRev(rpm); to > 0 {
		return to
	}
	if g < top && rpm > m.car.UpShift && m.throttle > 0.3 && m.box.since > 0.12 {
		return g + 1
	}
	if g > 1 && m.box.since > 0.22 {
		lower := rpm * m.car.Ratios[g-2] / m.car.Ratios[g-1]
		braking := m.throttle < 0.2
		if braking && lower < 0.84*m.car.Engine.Limit || rpm < 3300 && m.clutch == closed && lower < 6200 {
			return g - 1
		}
	}
	return g
}
