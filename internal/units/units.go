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
	// Open is a bare unit whose kind the place decides: `bar(3.8)` takes gauge,
	// absolute or difference from what it meets; also a literal 0.
	Open
)

// Type is what a number is a number of.
type Type struct {
	Dim  Dim
	Kind Kind
}

// Quantity is a number in SI with what it is a number of.
type Quantity struct {
	SI   float64
	Type Type
	Unit string // the unit as written, "" for a bare number
}
