package demo

import "math"

// Course is a road cut into pieces of one metre, start line at 0.
type Course struct {
	Length    float64   // m, start line to finish line
	Curvature []float64 // 1/m, positive to the left
	Slope     float64   // rise over run
	Base      float64   // m, altitude of the start line
}

// corner is one bend of a course.
type corner struct{ at, length, radius float64 }

// ColdharrowBank is the invented hill: 2,060 m from 212 m to 348 m of altitude.
// Corners left have a positive radius.
func ColdharrowBank() *Course {
	return newCourse(2060, 136, 212, []corner{
		{150, 50, 84},
		{262, 42, 62},
		{420, 36, 18},
		{690, 46, -60},
		{782, 48, 95},
		{960, 38, -21},
		{1215, 50, 66},
		{1420, 36, 19},
		{1660, 46, -54},
		{1790, 46, 80},
		{1925, 38, -48},
	})
}

// DroveEnd is the invented sprint of the second car: 1,320 m, all but level.
func DroveEnd() *Course {
	return newCourse(1320, 4, 60, []corner{
		{240, 40, 55},
		{470, 110, 120},
		{760, 36, -24},
		{1010, 60, -85},
	})
}

// newCourse lays the corners out and rounds the joints, as a road does.
func newCourse(length, climb, base float64, corners []corner) *Course {
	const runOff = 400 // m beyond the finish line
	n := int(length) + runOff
	raw := make([]float64, n)
	for _, c := range corners {
		for i := int(c.at); i < int(c.at+c.length); i++ {
			raw[i] = 1 / c.radius
		}
	}
	const half = 8 // m of easing either side
	eased := make([]float64, n)
	for i := range eased {
		sum := 0.0
		for j := i - half; j <= i+half; j++ {
			sum += raw[min(max(j, 0), n-1)]
		}
		eased[i] = sum / (2*half + 1)
	}
	return &Course{Length: length, Curvature: eased, Slope: climb / length, Base: base}
}

// cell gives the piece of road at s.
func (c *Course) cell(s float64) int { return min(max(int(s), 0), len(c.Curvature)-1) }

// speeds gives the greatest speed over distance: held by grip in the corners, by the
// brakes before them, and let down to a stop in the run-off after the finish.
// pace scales the corner speeds; density is of the air.
func (c *Course) speeds(car *Car, pace, density float64) []float64 {
	const (
		straight = 75.0 // m/s, more than the car can do
		braking  = 10.5 // m/s², what the driver uses
		runOff   = 3.2  // m/s², slowing down after the finish
	)
	v := make([]float64, len(c.Curvature))
	aero := 0.5 * density * car.LiftArea / car.Mass
	for i, k := range c.Curvature {
		v[i] = straight
		if bend := math.Abs(k) - car.Grip*aero; bend > 0 {
			v[i] = min(straight, pace*math.Sqrt(car.Grip*gravity/bend))
		}
		if past := float64(i) - c.Length; past > 0 {
			v[i] = min(v[i], math.Sqrt(max(0, 2*runOff*(300-past))))
		}
	}
	for i := len(v) - 2; i >= 0; i-- {
		v[i] = min(v[i], math.Sqrt(v[i+1]*v[i+1]+2*braking))
	}
	return v
}
