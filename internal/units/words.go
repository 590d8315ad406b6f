package units

import (
	"fmt"
	"strings"
)

var dimWords = map[Dim]string{
	number: "plain number", length: "length", area: "area", volume: "volume", mass: "mass", duration: "time",
	temperature: "temperature", current: "current", speed: "speed", acceleration: "acceleration", rate: "rate",
	force: "force", stiffness: "spring rate", pressure: "pressure", pressureRate: "pressure rate", energy: "torque or energy",
	power: "power", voltage: "voltage", resistance: "resistance", charge: "charge", density: "density", flow: "flow",
	massFlow: "mass flow", perEnergy: "consumption per energy", warming: "temperature rate",
	viscosity: "viscosity", rateRate: "change of rotation",
}

// String names a type in plain words: "gauge pressure", "speed", "m^2/K".
func (t Type) String() string {
	if t == Zero {
		return "zero"
	}
	word, known := dimWords[t.Dim]
	if !known {
		word = t.Dim.String()
	}
	switch t.Kind {
	case Point:
		return word
	case Difference:
		return "difference of " + word + "s"
	case Gauge:
		return "gauge " + word
	case Absolute:
		return "absolute " + word
	case Torque:
		return "torque"
	case Energy:
		return "energy"
	case Rotation:
		return "speed of rotation"
	case Frequency:
		return "frequency"
	case Angle:
		return "angle"
	}
	return word
}

// a is the type's name with its article.
func a(t Type) string {
	name := t.String()
	if t == Zero {
		return name
	}
	if strings.ContainsRune("aeiou", rune(name[0])) {
		return "an " + name
	}
	return "a " + name
}

// String writes a dimension in SI base units.
func (d Dim) String() string {
	var up, down []string
	for _, b := range []struct {
		unit string
		n    int8
	}{{"m", d.Length}, {"kg", d.Mass}, {"s", d.Time}, {"K", d.Temperature}, {"A", d.Current}} {
		abs := max(b.n, -b.n)
		text := b.unit
		if abs > 1 {
			text = fmt.Sprintf("%s^%d", b.unit, abs)
		}
		switch {
		case b.n > 0:
			up = append(up, text)
		case b.n < 0:
			down = append(down, text)
		}
	}
	s := strings.Join(up, "·")
	if s == "" {
		s = "1"
	}
	if len(down) > 0 {
		s += "/" + strings.Join(down, "/")
	}
	return s
}
