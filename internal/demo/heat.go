package demo

// body is a lumped body that takes in a share of the engine's power and gives it
// off again: rise is over where it began, so a peak asked for is met by gain alone.
type body struct {
	start float64 // °C
	rise  float64 // K, at gain 1
	gain  float64
	share float64 // of the engine's power
	heat  float64 // J/K
	lag   float64 // s, to give it off
}

func (b *body) temp() float64 { return b.start + b.gain*b.rise }

func (b *body) step(power float64) {
	b.rise += (b.share*power/b.heat - b.rise/b.lag) * step
}

// gainFor gives the gain that makes the peak, from the usual rise over a run up the hill.
func (b *body) gainFor(peak, usualRise float64) float64 {
	return max((peak-b.start)/usualRise, 0)
}

// oil is the oil's pressure behind the filter.
type oil struct{ pressure float64 } // Pa gauge

// thin is how pressure falls with temperature, against the line at 90 °C.
func thin(temp float64) float64 { return 1.05 - 0.0035*(temp-90) }

func (o *oil) step(line, temp, dip float64) {
	const lag = 0.020 // s
	want := max(line*thin(temp)-dip, 0)
	o.pressure += (want - o.pressure) * step / lag
}

// heat moves every temperature on, and the battery.
func (m *model) heat() {
	m.oilHeat.step(m.power)
	m.water.step(m.power)
	m.boxT.step(m.power)
	t := m.now()
	m.discs.step(m.brake*m.car.BrakeGain*m.car.BrakeBias*m.v, m.car.DiscHeat, m.v, m.run.Air, 1-size(m.planted.brakesHot, t, 1, 0))
	load, lag := 13.9, 0.1
	if m.circuit.pump {
		load = 13.6
	}
	if f := m.planted.charging; f != nil && f.on(t) {
		load, lag = f.Size, 15
	}
	m.battery += (load - m.battery) * step / lag
}
