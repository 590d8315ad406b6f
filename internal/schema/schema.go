// Package schema turns JSON Schemas into types, YAML nodes into typed values
// in SI that know where they were written, and values back into JSON.
package schema

import (
	"time"

	"github.com/paintmark/paintmark/internal/source"
	"github.com/paintmark/paintmark/internal/units"
)

// Kind is the shape of a type.
type Kind uint8

// The shapes. In CEL they are double, double, int, string, string, bool,
// timestamp (UTC midnight), timestamp, list, object, map, and the opaque type curve.
const (
	Quantity Kind = iota // x-quantity: double in SI
	Number
	Integer
	Text
	Enum
	YesNo
	Date
	Instant
	List
	Object
	Map // open text keys, one element type
	Curve
)

// Type is the type of a document, a field or a limit.
type Type struct {
	Name   string // for messages and CEL: "car.gearbox"
	Kind   Kind
	Unit   units.Type // of a Quantity; of a Curve's y
	XUnit  units.Type // of a Curve's x
	Enum   []string
	Elem   *Type            // of a List or Map
	Fields map[string]*Type // of an Object
	Order  []string         // field names in the order of the schema
	// NotFitted: absence is a fact (the car has none), not a gap. Its value is then
	// the zero of its kind for YesNo (false), and "not applicable" to a rule that reads it.
	NotFitted bool
	// Label is the field's plain name for messages and sheets; may be "".
	Label string
	// About says in a few words what the field holds, as the schema describes it.
	About string
	// Key, of a List of objects, is the field that names its elements: position, serial, name.
	Key string
	// Names says what a Text names, so that the folder can look it up: "initials",
	// "serial", "position", "tool", "job", "fault", "meter", "channel", "record"; or "".
	Names string
	// Apart: the parts of a measured Object are read each by itself, so that one is replaced and
	// the others stay.
	Apart bool
	// Derived is worked out by the program and never written.
	Derived bool
	// Measure marks a Text that is a number or a quantity whose unit another field decides.
	Measure bool
	// Expression marks a Text that is CEL.
	Expression bool
	// Plausible bounds what a person can mean, in SI; nil where any value can be meant.
	Plausible *Band

	keys []string // of a Map: the only keys it may have; nil for any
	firm bool     // an Object that must be there whole: it may not be written as unknown
	rest *rest    // of a document: what the validator still has to look at
}

// Band is an interval in SI.
type Band struct{ Low, High float64 }

// Value is a typed value. A gap is a Value too: Unknown, with the position of
// the nearest thing that was written.
type Value struct {
	Type    *Type
	Pos     source.Pos
	Unknown bool
	// Low and High hold Quantity and Number in SI; they differ where only bounds are known.
	Low, High float64
	Int       int64
	Bool      bool
	Text      string // Text, Enum; also the text as written for the others
	Time      time.Time
	Items     []*Value
	Fields    map[string]*Value // Object and Map; a missing key is unknown
	Keys      []string          // of Fields, in the order written
	Points    []Point           // Curve
	// Record names the record this value comes from ("" for a document).
	Record string

	faulty bool // refused when it was read, so that nothing is said about it twice
}

// Point is one knot of a curve, in SI.
type Point struct{ X, Y float64 }
