package demo

import "math"

// Engine is an engine's data.
type Engine struct {
	Capacity  float64 // m³
	Inertia   float64 // kg·m²
	Idle      float64 // rpm
	Limit     float64 // rpm, the rev limiter
	Launch    float64 // rpm held before a launch
	Boost     float64 // Pa absolute, what the map asks for; 0 without a turbo
	SpoolTime float64 // s
	Turbo     float64 // rpm of the turbo at that boost at sea level
}

// Filling over rpm, every 1000 rpm from 0. Invented, of the usual shape.
var filling = [...]float64{0.55, 0.68, 0.80, 0.89, 0.96, 1.00, 1.00, 0.95, 0.84, 0.70}

// volumetric reads the filling between its points.
func volumetric(rpm float64) float64 {
	x := min(max(rpm/1000, 0), float64(len(filling)-2)+0.999)
	i := int(x)
	return filling[i] + (filling[i+1]-filling[i])*(x-float64(i))
}

// friction is the mean pressure lost to friction, Pa.
func friction(rpm float64) float64 {
	x := rpm / 7000
	return (0.9 + 0.9*x*x) * bar
}

// torque is what the engine gives at this speed and manifold pressure, N·m.
func (e *Engine) torque(rpm, manifold float64) float64 {
	const perPressure = 11.2 // mean effective pressure per absolute manifold pressure
	return e.Capacity / (4 * math.Pi) * (perPressure*volumetric(rpm)*manifold - friction(rpm))
}

// overrun is the torque with the fuel cut: friction and pumping, N·m, negative.
func (e *Engine) overrun(rpm, manifold, ambient float64) float64 {
	return -e.Capacity / (4 * math.Pi) * (friction(rpm) + ambient - manifold)
}

// air is the path of the air: boost before the throttle, pressure behind it.
type air struct {
	boost    float64 // Pa absolute
	manifold float64 // Pa absolute
	asked    float64 // Pa absolute, what the boost control asks for
}

// idleVacuum is the share of ambient pressure left behind a closed throttle.
const idleVacuum = 0.38

func (a *air) step(e *Engine, rpm, throttle, ambient float64) {
	target := ambient
	if a.asked > ambient {
		spool := min(max((rpm-2300)/2200, 0), 1)
		target += (a.asked - ambient) * spool * throttle
	}
	lag := e.SpoolTime
	if target < a.boost {
		lag = 0.2
	}
	a.boost += (target - a.boost) * step / lag
	const filling = 0.030 // s, the manifold's own lag
	want := idleVacuum*ambient + (a.boost-idleVacuum*ambient)*throttle
	a.manifold += (want - a.manifold) * step / filling
}

// turboSpeed is the turbo's speed at this boost, rpm: head goes with the square of speed.
func (e *Engine) turboSpeed(boost, ambient float64) float64 {
	if e.Boost == 0 {
		return 0
	}
	const seaLevel = 1.01325 * bar
	head := max(boost/ambient-1, 0.01)
	return e.Turbo * math.Sqrt(head/(e.Boost/seaLevel-1))
}
