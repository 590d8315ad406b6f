// Package units knows dimensions, kinds, the units the trade writes, and
// quantities held in SI.
package units

// Dim is a dimension as exponents of the SI base units used here.
// Angle is dimensionless, as in the SI; its Kind tells it apart.
type Dim struct{ Length, Mass, Time, Temperature, Current int8 }

// Kind tells apart values of one dimension that must not be compared or added.
type Kind uint8

// The kinds. Plain is every value that needs no telling apart.
const (
	Plain      Kind = iota
	Point           // a temperature on a scale
	Difference      // a difference of temperatures or of pressures
	Gauge           // a pressure over the surrounding air
	Absolute        // a pressure over vacuum
	Torque
	Energy
	Rotation  // rpm, rad/s
	Frequency // Hz
	Angle
	// Open is a value whose kind the place decides: `bar(3.8)` takes gauge, absolute
	// or difference from what it meets; newtons times metres torque or energy; 1/s
	// rotation or frequency. Zero is Open too.
	Open
)

// Type is what a number is a number of.
type Type struct {
	Dim  Dim
	Kind Kind
}

// Zero is the type of a literal 0: it fits every type but a temperature on a scale.
var Zero = Type{Kind: Open}

// Number is the type of a number with no unit.
var Number = Type{}

// Quantity is a number in SI with what it is a number of.
type Quantity struct {
	SI    float64
	Type  Type
	Unit  string  // the unit as written, "" for a bare number
	Value float64 // the number as written, in Unit
}

// Error is what is wrong with a quantity or a combination of types, and the remedy.
type Error struct{ What, Remedy string }

func (e *Error) Error() string {
	if e.Remedy == "" {
		return e.What
	}
	return e.What + "; " + e.Remedy
}
