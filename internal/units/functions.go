package units

import "slices"

// Function is a unit as a function of an expression: bar(3.8) is 380 kPa.
type Function struct {
	Name string
	Unit Unit
}

// functionNames maps each function to its unit; differences of temperatures have
// their own. None is a word or a standard function of CEL.
var functionNames = map[string]string{
	"bar": "bar", "barg": "barg", "bara": "bara", "mbar": "mbar", "hpa": "hPa", "kpa": "kPa", "mpa": "MPa", "pascals": "Pa",
	"psi": "psi", "psig": "psig", "psia": "psia", "inhg": "inHg", "bar_per_second": "bar/s",
	"degC": "°C", "degF": "°F", "kelvins": "K", "kelvins_per_second": "K/s",
	"kph": "km/h", "mph": "mph", "metres_per_second": "m/s", "mm_per_second": "mm/s", "feet_per_second": "ft/s",
	"g0": "g0", "metres_per_second2": "m/s2",
	"us": "µs", "ms": "ms", "s": "s", "seconds": "s", "minutes": "min", "hours": "h", "d": "d", "months": "mo", "years": "a",
	"percent": "%", "percent_per_second": "%/s",
	"mm": "mm", "cm": "cm", "metres": "m", "km": "km", "um": "µm", "inches": "in", "thou": "thou", "feet": "ft", "miles": "mi",
	"mm2": "mm2", "cm2": "cm2", "m2": "m2", "square_inches": "in2",
	"litres": "L", "ml": "mL", "cm3": "cm3", "m3": "m3", "us_gallons": "US gal", "imp_gallons": "imp gal",
	"kg": "kg", "grams": "g", "pounds": "lb", "ounces": "oz",
	"newtons": "N", "kilonewtons": "kN", "pounds_force": "lbf", "newtons_per_mm": "N/mm", "pounds_per_inch": "lb/in",
	"newton_metres": "N·m", "pound_feet": "lbf·ft", "pound_inches": "lbf·in",
	"joules": "J", "kilojoules": "kJ", "watts": "W", "kw": "kW", "hp": "hp", "ps": "PS",
	"rpm": "rpm", "rpm_per_second": "rpm/s", "rad_per_second": "rad/s", "deg_per_second": "deg/s", "hz": "Hz", "khz": "kHz", "deg": "deg", "rad": "rad", "turns": "rev",
	"volts": "V", "millivolts": "mV", "amps": "A", "milliamps": "mA", "ohms": "ohm",
	"kg_per_litre": "kg/L", "kg_per_m3": "kg/m3", "litres_per_minute": "L/min", "litres_per_hour": "L/h", "kg_per_hour": "kg/h", "grams_per_second": "g/s",
}

// Functions lists every unit function, sorted by name.
func Functions() []Function {
	fs := make([]Function, 0, len(functionNames))
	for name, symbol := range functionNames {
		fs = append(fs, function(name, symbol))
	}
	slices.SortFunc(fs, func(x, y Function) int {
		if x.Name < y.Name {
			return -1
		}
		return 1
	})
	return fs
}

func function(name, symbol string) Function {
	u := table[symbol]
	if name == "kelvins" {
		u = u.AsDifference()
	}
	return Function{name, u}
}

// exampleFunction is a function that makes a number of a type, "" where there is none.
func exampleFunction(t Type) string {
	for _, r := range rows {
		if t.Kind == Difference && t.Dim == temperature {
			return "kelvins"
		}
		if !fits(r.typ, t) {
			continue
		}
		for _, f := range Functions() {
			if f.Unit.Symbol == r.names[0] {
				return f.Name
			}
		}
	}
	return ""
}
