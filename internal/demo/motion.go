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
