package expr

import (
	"testing"

	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
	"github.com/paintmark/paintmark/internal/units"
)

// The scope all tests share: a small invented car.

func unitType(symbol string, kind units.Kind) units.Type {
	u, err := units.Lookup(symbol)
	if err != nil {
		panic(err)
	}
	if kind != units.Plain {
		u.Type.Kind = kind
	}
	return u.Type
}

var (
	gaugePressure    = unitType("bar", units.Gauge)
	absolutePressure = unitType("bar", units.Absolute)
	temperature      = unitType("°C", units.Plain)
	rotation         = unitType("rpm", units.Plain)
	lengthUnit       = unitType("mm", units.Plain)
	angle            = unitType("deg", units.Plain)
	share            = unitType("%", units.Plain)
	timeUnit         = unitType("s", units.Plain)
)

func quantityType(u units.Type) *schema.Type { return &schema.Type{Kind: schema.Quantity, Unit: u} }

func objectType(name string, fields map[string]*schema.Type) *schema.Type {
	return &schema.Type{Name: name, Kind: schema.Object, Fields: fields}
}

func testScope() Scope {
	text, yesNo, date := &schema.Type{Kind: schema.Text}, &schema.Type{Kind: schema.YesNo}, &schema.Type{Kind: schema.Date}
	corner := objectType("car.corners", map[string]*schema.Type{
		"position": text, "camber": quantityType(angle), "axle": {Kind: schema.Enum, Enum: []string{"front", "rear"}},
	})
	wing := objectType("car.wing", map[string]*schema.Type{
		"close_by": {Kind: schema.Enum, Enum: []string{"spring", "air"}}, "locked": {Kind: schema.YesNo, NotFitted: true}, "spring_force": quantityType(unitType("N", units.Plain)),
	})
	wing.NotFitted = true
	return Scope{
		Roots: map[string]*schema.Type{
			"car": objectType("car", map[string]*schema.Type{
				"gearbox": objectType("car.gearbox", map[string]*schema.Type{
					"shift": {Kind: schema.Enum, Enum: []string{"hydraulic", "manual"}}, "gears": {Kind: schema.Integer}, "ratios": {Kind: schema.List, Elem: &schema.Type{Kind: schema.Number}},
				}),
				"pump_on": quantityType(gaugePressure), "corners": {Kind: schema.List, Elem: corner}, "wing": wing, "name": text, "ballast": {Kind: schema.Number, NotFitted: true},
				"serial": text, "road": yesNo, "share": {Kind: schema.Number}, "length": quantityType(lengthUnit),
			}),
			"limits": objectType("limits", map[string]*schema.Type{
				"pressure": quantityType(unitType("bar", units.Plain)), "oil_hot": quantityType(temperature), "rise": quantityType(units.Type{Dim: temperature.Dim, Kind: units.Difference}),
				"oil_line":   {Kind: schema.Curve, XUnit: rotation, Unit: gaugePressure},
				"shaft_life": {Kind: schema.Curve, XUnit: rotation, Unit: units.Number}, "oil_life": {Kind: schema.Curve, XUnit: unitType("bar", units.Plain), Unit: units.Number},
				"rising_life": {Kind: schema.Curve, XUnit: rotation, Unit: units.Number},
				"time":        quantityType(timeUnit), "ratio": {Kind: schema.Number}, "count": {Kind: schema.Integer},
			}),
			"measured": objectType("measured", map[string]*schema.Type{
				"pad": {Kind: schema.Map, Elem: quantityType(lengthUnit)}, "station": quantityType(absolutePressure), "taken": date, "checked": yesNo,
				"notes": {Kind: schema.List, Elem: text},
			}),
			"plan": objectType("plan", map[string]*schema.Type{"last_day": date, "runs_left": {Kind: schema.Number}}),
		},
		Channels: map[string]Channel{
			"rpm": {Unit: rotation}, "oil_pressure": {Unit: gaugePressure}, "oil_temp": {Unit: temperature}, "throttle": {Unit: share}, "manifold": {Unit: absolutePressure},
			"gear": {Shape: Count}, "shift_active": {Shape: YesNo}, "wing_command": {Shape: YesNo},
		},
		Derived: []Derived{
			{"under_load", plain("throttle > percent(70.0) && fast")},
			{"fast", plain("rpm > rpm(4000.0)")},
			{"over_line", plain("oil_pressure - at(limits.oil_line, rpm)")},
		},
	}
}

func testEnv(t testing.TB) *Env {
	t.Helper()
	e, faults := NewEnv(testScope())
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	return e
}

// plain is an expression as a plain scalar at the start of a file.
func plain(s string) *source.Node {
	return &source.Node{Kind: source.Scalar, Style: source.Plain, Pos: source.Pos{File: "rules.yaml", Line: 1, Column: 1}, Text: s}
}

func compile(t testing.TB, e *Env, s string, want Want) *Expr {
	t.Helper()
	x, faults := e.Compile(plain(s), want)
	if len(faults) > 0 {
		t.Fatalf("%s: %v", s, faults)
	}
	return x
}
