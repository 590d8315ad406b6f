package schema

import (
	"errors"
	"fmt"
	"maps"
	"slices"

	"github.com/paintmark/paintmark/internal/units"
)

// parseQuantity reads a number with its unit into SI and refuses any other dimension or
// kind than want. Where the unit leaves the kind open, as `bar` does, the field decides.
func parseQuantity(text string, want units.Type) (float64, error) {
	if numberForm().MatchString(text) {
		// Also of a share: 59 could be 59 % or a ratio.
		return 0, &units.Error{What: quote(text) + " has no unit", Remedy: "write its unit: " + example(want)}
	}
	q, err := units.Parse(text)
	if err != nil {
		return 0, err
	}
	q, err = units.Check(q, want)
	return q.SI + 0, err // never -0
}

func example(t units.Type) string {
	if t == (units.Type{}) {
		return "%"
	}
	s := ""
	for i, u := range units.For(t) {
		if i > 0 {
			s += ", "
		}
		s += u
	}
	return s
}

// anyQuantity checks a quantity whose dimension another field decides.
func anyQuantity(text string) error {
	_, err := units.Parse(text)
	return err
}

// mistake is an error with its remedy apart, as the units have it too.
func mistake(what, remedy string, args ...any) error {
	return &units.Error{What: fmt.Sprintf(what, args...), Remedy: remedy}
}

// parts takes an error and its remedy apart.
func parts(err error) (what, remedy string) {
	var e *units.Error
	if errors.As(err, &e) {
		return e.What, e.Remedy
	}
	return err.Error(), ""
}

// quantities gives each name of x-quantity the unit that stands for it, and its kind
// where the unit leaves it open.
var quantities = map[string]struct {
	unit string
	kind units.Kind
}{
	"gauge pressure": {"bar", units.Gauge}, "absolute pressure": {"bar", units.Absolute}, "pressure difference": {"bar", units.Difference},
	"temperature": {"°C", units.Point}, "temperature difference": {"K", units.Difference},
	"torque": {"N·m", units.Torque}, "energy": {"J", units.Energy},
	"rotation": {"rpm", units.Rotation}, "frequency": {"Hz", units.Frequency}, "angle": {"deg", units.Angle},
	"length": {"m", units.Plain}, "area": {"m2", units.Plain}, "volume": {"L", units.Plain}, "mass": {"kg", units.Plain},
	"time": {"s", units.Plain}, "speed": {"m/s", units.Plain}, "acceleration": {"m/s2", units.Plain}, "force": {"N", units.Plain},
	"stiffness": {"N/mm", units.Plain}, "density": {"kg/L", units.Plain}, "power": {"kW", units.Plain},
	"voltage": {"V", units.Plain}, "viscosity": {"mm2/s", units.Plain}, "current": {"A", units.Plain}, "share": {"%", units.Plain},
}

// NamedQuantity is the type that schemas, channels and packs call by this name: "gauge
// pressure", "temperature difference", "share" (dimension 1, written in %).
func NamedQuantity(name string) (units.Type, bool) {
	q, ok := quantities[name]
	if !ok {
		return units.Type{}, false
	}
	u, err := units.Lookup(q.unit)
	if err != nil {
		panic(err) // a unit of the table above is always known; a test looks up each
	}
	return units.Type{Dim: u.Type.Dim, Kind: q.kind}, true
}

// NamedQuantities lists the names, sorted.
func NamedQuantities() []string { return slices.Sorted(maps.Keys(quantities)) }
