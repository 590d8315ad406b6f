package readiness

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/units"
)

// spoken are the quantities a team may choose a unit for, each with one unit of it.
var spoken = map[string]string{
	"pressure": "bar", "temperature": "°C", "speed": "km/h", "length": "mm", "mass": "kg", "torque": "N·m", "force": "N", "volume": "L",
}

// tongue is the units people speak in on the bank.
type tongue []units.Unit

// newTongue checks the settings' units: {pressure: psi, temperature: °F}.
func newTongue(settings map[string]string) (tongue, error) {
	var t tongue
	for _, quantity := range slices.Sorted(maps.Keys(settings)) {
		example, ok := spoken[quantity]
		if !ok {
			return nil, fmt.Errorf("units: no quantity %q; there are %s", quantity, strings.Join(slices.Sorted(maps.Keys(spoken)), ", "))
		}
		u, err := units.Lookup(settings[quantity])
		if err != nil {
			return nil, fmt.Errorf("units: %s: %w", quantity, err)
		}
		if e, err := units.Lookup(example); err != nil || !alike(u, e) {
			return nil, fmt.Errorf("units: %s is no unit of %s; write one such as %s", settings[quantity], quantity, example)
		}
		t = append(t, u)
	}
	return t, nil
}

// alike says that two units are of the same quantity, as people name it.
func alike(a, b units.Unit) bool {
	switch {
	case a.Type.Dim != b.Type.Dim:
		return false
	case a.Type.Dim == units.Dim{Length: 1}:
		return small(a) == small(b) // mm and in are not read in km and mi
	case a.Type.Dim == units.Dim{Length: -1, Mass: 1, Time: -2}, a.Type.Dim == units.Dim{Temperature: 1}:
		return true
	}
	return a.Type == b.Type
}

func small(u units.Unit) bool { return u.SI(1) < 0.1 }

// say gives a result in the units the team speaks in. What it means does not change.
func (t tongue) say(r *check.Result) {
	if r.Measured == nil {
		return
	}
	from, err := units.Lookup(r.Measured.Unit)
	if err != nil {
		return // a bare number
	}
	i := slices.IndexFunc(t, func(to units.Unit) bool { return alike(from, to) && to.Symbol != from.Symbol })
	if i < 0 {
		return
	}
	to := t[i]
	if from.Type.Kind == units.Difference || from.Symbol == "K" {
		from, to = from.AsDifference(), to.AsDifference()
	}
	turn := func(v float64) float64 { return to.Of(from.SI(v)) }
	m := *r.Measured
	m.Value, m.Low, m.High, m.Unit = turn(m.Value), turn(m.Low), turn(m.High), to.Symbol
	r.Measured = &m
	for _, l := range []**check.Limit{&r.Limit, &r.Due} {
		if *l != nil {
			said := **l
			said.Value, said.Upper, said.Unit = turn(said.Value), turn(said.Upper), to.Symbol
			*l = &said
		}
	}
	if r.Margin != nil {
		margin := to.AsDifference().Of(from.AsDifference().SI(*r.Margin))
		r.Margin = &margin
	}
}
