package trade

// DynamicPressure is half the density times the square of the speed, in Pa.
func DynamicPressure(density, speed float64) float64 {
	if !positive(density) || !finite(speed) {
		return nan
	}
	return 0.5 * density * speed * speed
}

// DragForce is the force in N of air of a density in kg/m3 on a body of a drag
// coefficient and a frontal area in m2 at a speed in m/s. Textbook form.
func DragForce(density, coefficient, area, speed float64) float64 {
	return DynamicPressure(density, speed) * coefficient * area
}

// DragPower is the power in W that DragForce takes: it grows with the cube of the speed.
func DragPower(density, coefficient, area, speed float64) float64 {
	return DragForce(density, coefficient, area, speed) * speed
}

// HingeMoment is the moment in N·m of the air on a flap about its hinge: dynamic pressure,
// area, coefficient of the force normal to the flap, and the arm of the centre of pressure.
func HingeMoment(density, speed, area, coefficient, arm float64) float64 {
	return DynamicPressure(density, speed) * area * coefficient * arm
}
