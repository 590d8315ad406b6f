package demo

import (
	"math"
	"testing"
)

// near fails unless got is within tol of want.
func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if math.Abs(got-want) > tol || math.IsNaN(got) {
		t.Errorf("%s = %.6g, want %.6g ± %.2g", what, got, want, tol)
	}
}

// flat is a straight and level road, long enough to reach the greatest speed.
func flat() *Course { return newCourse(9000, 0, 0, nil) }

// Terminal speed is where the power at the wheels equals the power of the drag.
func TestTerminalSpeed(t *testing.T) {
	r := HealthyRun57()
	r.Car.DragArea, r.Car.Rolling, r.Car.LiftArea, r.Car.Final = 2.2, 0, 0, 3.3
	r.Course = flat()
	m := newModel(&r)
	fastest := 0.0
	var power float64
	for m.s < 8500 && m.ms < 200000 {
		m.step()
		if m.v > fastest {
			fastest, power = m.v, m.power
		}
	}
	near(t, "terminal speed, m/s", fastest, math.Cbrt(2*power*r.Car.Driveline/(m.density*r.Car.DragArea)), 0.02)
	if fastest < 40 || m.rpm() > r.Car.UpShift+50 {
		t.Errorf("%.1f m/s at %.0f rpm: the test did not reach terminal speed", fastest, m.rpm())
	}
}

// Drag of published examples: 520.0 N at 120 km/h with rho 1.2, Cd 0.30, 2.6 m² (solved textbook
// problem); 190.81 N at 80 km/h with rho 1.2, Cd 0.28, 2.3 m² (the same, recomputed).
func TestDragOfPublishedExamples(t *testing.T) {
	for _, x := range []struct{ cd, area, kph, want float64 }{{0.30, 2.6, 120, 520.0}, {0.28, 2.3, 80, 190.81}} {
		c := Car{DragArea: x.cd * x.area}
		near(t, "drag, N", c.resistance(x.kph/3.6, 1.2, 0), x.want, 0.01)
	}
}

// Road speed over engine speed. 275/40R20, 2200 rpm, 0.76 and 4.10: 96.9 km/h (published in a forum,
// arithmetic checked); 1900 rpm, circumference 3.185 m, 0.84·1.007·4.77: 89.99 km/h (a lorry maker's
// booklet of 2000, the example from memory).
func TestRoadSpeedOfPublishedExamples(t *testing.T) {
	for _, x := range []struct{ rpm, circumference, ratio, final, want float64 }{
		{2200, math.Pi * 0.728, 0.76, 4.10, 96.9},
		{1900, 3.185, 0.84 * 1.007, 4.77, 89.99},
	} {
		c := Car{Ratios: []float64{x.ratio}, Final: x.final, Radius: x.circumference / (2 * math.Pi)}
		near(t, "road speed, km/h", x.rpm/rpmPerRad*c.Radius/c.ratio(1)*3.6, x.want, 0.05)
	}
}

// Whenever the car is in gear and nothing slips or shifts, logged engine speed and road
// speed stand in the ratio of the gear, within the errors of the two sensors.
func TestLoggedSpeedsStandInTheRatioOfTheGear(t *testing.T) {
	rec := HealthyRun57().Record()
	rpm, speed, gear := held(rec, "rpm"), held(rec, "speed"), held(rec, "gear")
	shift, slip := held(rec, "shift_active"), held(rec, "clutch_slip")
	c, seen := rec.Run.Car, map[int]int{}
	for row, ms := range rec.Millis {
		g := int(gear[row])
		if ms < 15000 || ms%20 != 0 || g == 0 || shift[row] != 0 || slip[row] > 9 || rpm[row] < 2500 || speed[row] < 20 {
			continue
		}
		perKph := c.ratio(g) / c.Radius * rpmPerRad / 3.6
		const errRPM, errKph = 6.5, 0.2 + 0.05 // sensors, and one step of braking
		if d := math.Abs(rpm[row] - speed[row]*perKph); d > errRPM+errKph*perKph {
			t.Fatalf("at %d ms in gear %d: %v rpm at %v km/h, %.1f rpm apart", ms, g, rpm[row], speed[row], d)
		}
		seen[g]++
	}
	for g := 1; g <= 5; g++ {
		if seen[g] < 50 {
			t.Errorf("only %d samples in gear %d", seen[g], g)
		}
	}
}

// In one gear the work at the wheels, less what drag, road and height take, is the gain in
// kinetic energy of all that moves.
func TestEnergyBalanceInOneGear(t *testing.T) {
	r := HealthyRun57()
	course := newCourse(2000, 140, 0, nil)
	r.Course = course
	m := newModel(&r)
	m.driver.phase, m.clutch, m.box.gear = racing, closed, 3
	m.s, m.v, m.throttle = 0, 20, 1
	m.engine = m.v * m.car.ratio(3) / m.car.Radius
	begin := m.v
	mass := m.car.moving(3)
	work, lost := 0.0, 0.0
	for m.box.gear == 3 && !m.box.active {
		s, v, density := m.s, m.v, m.density
		m.step()
		if m.box.active {
			break
		}
		way := m.s - s
		work += (m.accel*mass + m.car.resistance(v, density, course.Slope)) * way
		lost += (0.5*density*m.car.DragArea*v*v + m.car.Mass*gravity*m.car.Rolling) * way
	}
	gained := mass / 2 * (m.v*m.v - begin*begin)
	height := m.car.Mass * gravity * course.Slope * m.s
	near(t, "energy gained over work, less losses", (gained+height+lost)/work, 1, 2e-3)
	if m.v < 30 {
		t.Errorf("reached only %.1f m/s", m.v)
	}
}

func TestCornerSpeedIsWhatGripHolds(t *testing.T) {
	c := Car{Mass: 1000, Grip: 1.2}
	road := newCourse(1000, 0, 0, []corner{{400, 200, 50}})
	v := road.speeds(&c, 1, 1.2)
	near(t, "m/s in the corner", v[500], math.Sqrt(1.2*gravity*50), 1e-9)
	for i := 1; i < len(v); i++ {
		if d := (v[i-1]*v[i-1] - v[i]*v[i]) / 2; d > 10.5+1e-9 {
			t.Fatalf("at %d m the line asks for %.2f m/s² of braking", i, d)
		}
	}
}

func TestTractionLimitsTheLaunch(t *testing.T) {
	r := HealthyRun57()
	m := newModel(&r)
	launches := 0
	was := m.clutch
	for !m.done() {
		m.step()
		if m.clutch == slipping && was != slipping {
			launches++
		}
		was = m.clutch
		if most := m.car.traction(m.v, m.density) / m.car.Mass; m.accel > most {
			t.Fatalf("%.2f s: %.2f m/s², more than the tyres hold (%.2f)", m.now(), m.accel, most)
		}
	}
	if launches != 2 {
		t.Errorf("%d launches, want the practice start and the start", launches)
	}
	if took := m.finish - m.start; took < 60 || took > 70 {
		t.Errorf("the hill took %.2f s", took)
	}
}
