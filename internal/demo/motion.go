package demo

// resistance is what holds the car back at speed v, N.
func (c *Car) resistance(v, density, slope float64) float64 {
	return 0.5*density*c.DragArea*v*v + c.Mass*gravity*(c.Rolling+slope)
}

// traction is the most the driven axle can put down, N.
func (c *Car) traction(v, density float64) float64 {
	return c.Grip * (c.RearShare*c.Mass*gravity + 0.55*0.5*density*c.LiftArea*v*v)
}

// ratio is engine speed over wheel speed in a gear, 0 in neutral.
func (c *Car) ratio(gear int) float64 {
	if gear == 0 {
		return 0
	}
	return c.Ratios[gear-1] * c.Final
}

// moving is the mass with what turns with it in a gear, kg.
func (c *Car) moving(gear int) float64 {
	i := c.ratio(gear) / c.Radius
	return c.Mass*1.03 + c.Engine.Inertia*i*i
}

// drive works out the engine, the clutch and what reaches the road.
func (m *model) drive(t float64) {
	c, e := m.car, &m.car.Engine
	rpm := m.rpm()
	m.air.asked = size(m.planted.overBoost, t, bar, e.Boost)
	m.air.step(e, rpm, m.throttle, m.ambient)
	full := e.torque(rpm, m.air.manifold)
	if m.throttle < 0.02 {
		full = e.overrun(rpm, m.air.manifold, m.ambient)
	}
	if rpm > e.Limit {
		full = min(full, 0)
	}
	ratio := c.ratio(m.box.gear)
	input := m.v * ratio / c.Radius
	force, given := 0.0, 0.0
	switch {
	case m.box.gear == 0 || m.clutch == open:
		want := e.Idle
		if m.throttle > 0.1 {
			want = e.Launch
		}
		m.engine += (want/rpmPerRad - m.engine) * step / 0.15
	case m.clutch == slipping:
		m.engaged = min(m.engaged+step/0.4, 1)
		most := min(clutchCapacity, 0.97*c.traction(m.v, m.density)*c.Radius/(ratio*c.Driveline)) * size(m.planted.launchSlip, m.now(), 1, 1)
		var passed float64
		passed, m.engine = slip(e, m.engine, full, m.engaged*most, e.Launch/rpmPerRad)
		force, given = passed*ratio*c.Driveline/c.Radius, passed
		if m.engine <= input || m.driver.brake && m.driver.phase == practice {
			m.clutch = closed
			if m.engine > input {
				m.clutch = open
			}
		}
	case m.box.active:
		to := m.v * c.ratio(m.box.to) / c.Radius
		m.engine = m.box.from + (to-m.box.from)*m.box.progress
	default:
		m.engine = input
		given = full
		force = full * ratio / c.Radius
		if full > 0 {
			force = min(force*c.Driveline, c.traction(m.v, m.density))
		}
		if rpm < 1.5*e.Idle {
			m.clutch = open
		}
	}
	m.power = max(given, 0) * m.engine
	m.move(force)
}

// move applies the forces along the road.
func (m *model) move(force float64) {
	slope := m.course.Slope
	if m.s < 0 || m.s > m.course.Length {
		slope = 0
	}
	retard := m.brake*m.car.BrakeGain + m.car.resistance(m.v, m.density, slope)
	mass := m.car.Mass * 1.03
	if m.clutch == closed && !m.box.active {
		mass = m.car.moving(m.box.gear)
	}
	m.accel = (force - retard) / mass
	before := m.v
	m.v += m.accel * step
	if m.v <= 0 || m.v < 0.3 && force == 0 && m.brake > 0 {
		m.v = 0
		m.accel = -before / step
		if before == 0 {
			m.accel = 0
		}
	}
	m.s += (before + m.v) / 2 * step
	m.driven += (before + m.v) / 2 * step
}

// place works out what follows from where the car is.
func (m *model) place() {
	m.weather()
	if m.finish == 0 && m.driver.phase == racing && m.s >= m.course.Length {
		m.finish = m.now()
	}
	k := 0.0
	if m.s >= 0 {
		k = m.course.Curvature[m.course.cell(m.s)]
	}
	m.lateral = m.v * m.v * k / gravity
	m.bump += (m.chance()-0.5)*0.35*m.v*step*20 - m.bump*step/0.02
	sag := 22 - 5*m.lateral - 3*m.accel/gravity + 0.003*m.v*m.v + m.bump
	m.damper += (sag - m.damper) * step / 0.025
}
