package expr

import (
	"github.com/google/cel-go/common/types"
	"github.com/google/cel-go/common/types/ref"

	"github.com/paintmark/paintmark/internal/trade"
	"github.com/paintmark/paintmark/internal/units"
)

// physics is one function of the trade: what it takes, what it gives. It is monotone in
// each argument on one side of zero, save those of exact.
type physics struct {
	name, words string
	takes       []units.Type
	gives       units.Type
	number      func(x []float64) float64
	exact       int // an argument, from 1, that must be known exactly; 0 for none
}

// physicsTable binds the functions of internal/trade, whose sources stand there.
func physicsTable() []physics {
	of := func(symbol string) units.Type {
		u, err := units.Lookup(symbol)
		if err != nil { // a slip in this table: the first test to run shows it
			panic(err)
		}
		return u.Type
	}
	pressure, absolute, temp, number := of("bar"), of("bara"), of("°C"), units.Number
	over := units.Type{Dim: pressure.Dim, Kind: units.Gauge}
	volume, density, speed, area, length, force := of("L"), of("kg/m3"), of("m/s"), of("m2"), of("m"), of("N")
	return []physics{
		{
			name: "air.density", words: "air.density(absolute pressure, temperature, humidity)", takes: []units.Type{absolute, temp, number}, gives: density,
			number: func(x []float64) float64 { return trade.AirDensity(x[0], x[1], x[2]) },
		},
		{
			name: "gas.at", words: "gas.at(absolute pressure, from, to)", takes: []units.Type{absolute, temp, temp}, gives: absolute,
			number: func(x []float64) float64 { return trade.GasAt(x[0], x[1], x[2]) },
		},
		{
			name: "gas.gauge_at", words: "gas.gauge_at(gauge pressure, station pressure, from, to)", takes: []units.Type{over, absolute, temp, temp}, gives: over,
			number: func(x []float64) float64 { return trade.GaugeAt(x[0], x[1], x[2], x[3]) },
		},
		{
			name: "gas.absolute", words: "gas.absolute(gauge pressure, station pressure)", takes: []units.Type{over, absolute}, gives: absolute,
			number: func(x []float64) float64 { return trade.ToAbsolute(x[0], x[1]) },
		},
		{
			name: "gas.gauge", words: "gas.gauge(absolute pressure, station pressure)", takes: []units.Type{absolute, absolute}, gives: over,
			number: func(x []float64) float64 { return trade.ToGauge(x[0], x[1]) },
		},
		{
			name: "gas.volume", words: "gas.volume(volume, absolute pressure before, after, exponent)", takes: []units.Type{volume, absolute, absolute, number}, gives: volume,
			number: func(x []float64) float64 { return trade.Polytropic(x[0], x[1], x[2], x[3]) }, exact: 4,
		},
		{
			name: "accumulator.gives", words: "accumulator.gives(gas volume, absolute precharge, low, high, exponent)", takes: []units.Type{volume, absolute, absolute, absolute, number}, gives: volume,
			number: func(x []float64) float64 { return trade.AccumulatorGives(x[0], x[1], x[2], x[3], x[4]) }, exact: 5,
		},
		{
			name: "cylinder.force", words: "cylinder.force(pressure, bore, rod)", takes: []units.Type{over, length, length}, gives: force,
			number: func(x []float64) float64 { return trade.CylinderForce(x[0], x[1], x[2]) },
		},
		{
			name: "drag.pressure", words: "drag.pressure(density, speed)", takes: []units.Type{density, speed}, gives: units.Type{Dim: pressure.Dim, Kind: units.Difference},
			number: func(x []float64) float64 { return trade.DynamicPressure(x[0], x[1]) },
		},
		{
			name: "drag.force", words: "drag.force(density, coefficient, area, speed)", takes: []units.Type{density, number, area, speed}, gives: force,
			number: func(x []float64) float64 { return trade.DragForce(x[0], x[1], x[2], x[3]) },
		},
		{
			name: "drag.power", words: "drag.power(density, coefficient, area, speed)", takes: []units.Type{density, number, area, speed}, gives: of("W"),
			number: func(x []float64) float64 { return trade.DragPower(x[0], x[1], x[2], x[3]) },
		},
		{
			name: "drag.hinge", words: "drag.hinge(density, speed, area, coefficient, arm)", takes: []units.Type{density, speed, area, number, length}, gives: of("N·m"),
			number: func(x []float64) float64 { return trade.HingeMoment(x[0], x[1], x[2], x[3], x[4]) },
		},
		{
			name: "road.speed", words: "road.speed(engine speed, total ratio, circumference)", takes: []units.Type{of("rpm"), number, length}, gives: speed,
			number: func(x []float64) float64 { return trade.RoadSpeed(x[0], x[1], x[2]) },
		},
		{
			name: "road.engine", words: "road.engine(speed, total ratio, circumference)", takes: []units.Type{speed, number, length}, gives: of("rpm"),
			number: func(x []float64) float64 { return trade.EngineSpeed(x[0], x[1], x[2]) },
		},
		{
			name: "road.circumference", words: "road.circumference(diameter)", takes: []units.Type{length}, gives: length,
			number: func(x []float64) float64 { return trade.Circumference(x[0]) },
		},
	}
}

func tradeFunctions() []*function {
	var all []*function
	for _, p := range physicsTable() {
		args := make([]*types.Type, len(p.takes))
		for i := range args {
			args[i] = double
		}
		all = append(all, &function{
			name: p.name, words: p.words, takes: []shape{takes(double, args...)},
			rule: func(s *surveyor, n *node) fact {
				for i, want := range p.takes {
					if f := s.takes(n, p.gives, i, want); f.bad {
						return f
					}
				}
				return fact{unit: p.gives}
			},
			value: func(_ *frame, _ *node, args []ref.Val) ref.Val { return p.value(args) },
		})
	}
	return all
}

// value works the function out. Outside its range trade gives no number, and nothing is
// known then; nor is anything where bounds lie on both sides of zero.
func (p *physics) value(args []ref.Val) ref.Val {
	var w *why
	for i, a := range args {
		s, ok := a.(*span)
		if !ok {
			continue
		}
		w = w.and(s.why)
		if i+1 == p.exact || s.lo < 0 && s.hi > 0 {
			return &open{why: w}
		}
	}
	return atCorners(p.number, args, false)
}
