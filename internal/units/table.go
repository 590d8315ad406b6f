package units

import "math"

// Exact by definition (NIST SP 811): the inch, the pound, standard gravity.
const (
	inch    = 0.0254
	foot    = 12 * inch
	mile    = 5280 * foot
	pound   = 0.45359237
	gravity = 9.80665
	lbf     = pound * gravity
	psi     = lbf / (inch * inch)
	degree  = math.Pi / 180
	minute  = 60.0
	hour    = 3600.0
	day     = 86400.0
	// The Julian year and its twelfth, as UCUM has them for `a` and `mo`. For spans
	// only: dates are counted by the calendar, not by these.
	year = 365.25 * day
	// Conventional columns (NIST SP 811): mercury of 13 595.1 kg/m3, water of 1000 kg/m3.
	mercury = 13595.1
)

// The dimensions in use.
var (
	number       = Dim{}
	length       = Dim{Length: 1}
	area         = Dim{Length: 2}
	volume       = Dim{Length: 3}
	mass         = Dim{Mass: 1}
	duration     = Dim{Time: 1}
	temperature  = Dim{Temperature: 1}
	current      = Dim{Current: 1}
	speed        = Dim{Length: 1, Time: -1}
	acceleration = Dim{Length: 1, Time: -2}
	rate         = Dim{Time: -1}
	rateRate     = Dim{Time: -2}
	force        = Dim{Length: 1, Mass: 1, Time: -2}
	stiffness    = Dim{Mass: 1, Time: -2}
	pressure     = Dim{Length: -1, Mass: 1, Time: -2}
	pressureRate = Dim{Length: -1, Mass: 1, Time: -3}
	energy       = Dim{Length: 2, Mass: 1, Time: -2} // torque too
	power        = Dim{Length: 2, Mass: 1, Time: -3}
	voltage      = Dim{Length: 2, Mass: 1, Time: -3, Current: -1}
	resistance   = Dim{Length: 2, Mass: 1, Time: -3, Current: -2}
	charge       = Dim{Time: 1, Current: 1}
	density      = Dim{Length: -3, Mass: 1}
	flow         = Dim{Length: 3, Time: -1}
	massFlow     = Dim{Mass: 1, Time: -1}
	perEnergy    = Dim{Length: -2, Time: 2} // mass per energy
	viscosity    = Dim{Length: 2, Time: -1} // kinematic
	warming      = Dim{Temperature: 1, Time: -1}
)

// row is a unit: its preferred spelling first, then the others that are read.
// A value v in it is v*scale + offset in SI.
type row struct {
	names  []string
	typ    Type
	scale  float64
	offset float64
}

func unit(typ Type, scale float64, names ...string) row { return row{names, typ, scale, 0} }

var (
	plain    = func(d Dim) Type { return Type{d, Plain} }
	bare     = Type{pressure, Open}
	gauge    = Type{pressure, Gauge}
	absolute = Type{pressure, Absolute}
	point    = Type{temperature, Point}
	torque   = Type{energy, Torque}
	work     = Type{energy, Energy}
	turning  = Type{rate, Rotation}
	cycles   = Type{rate, Frequency}
	angle    = Type{number, Angle}
)

// rows is every unit there is. Look-alikes are spelled by code point: the micro sign
// and the Greek mu, the Greek omega and the ohm sign. Within a type the first is the one offered to a
// person who wrote another type's unit.
var rows = []row{
	unit(plain(number), 1, "1", "state", "count", "ratio", "V/V"),
	unit(plain(number), 0.01, "%"),

	unit(plain(length), 1e-3, "mm"),
	unit(plain(length), 1, "m"),
	unit(plain(length), 1e3, "km"),
	unit(plain(length), 1e-2, "cm"),
	unit(plain(length), 1e-6, "\u00b5m", "\u03bcm", "um"),
	unit(plain(length), inch, "in"),
	unit(plain(length), inch/1000, "thou"),
	unit(plain(length), foot, "ft"),
	unit(plain(length), 3*foot, "yd"),
	unit(plain(length), mile, "mi"),

	unit(plain(area), 1, "m2", "m²", "m^2"),
	unit(plain(area), 1e-4, "cm2", "cm²", "cm^2"),
	unit(plain(area), 1e-6, "mm2", "mm²", "mm^2"),
	unit(plain(area), inch*inch, "in2", "in²", "in^2"),
	unit(plain(area), foot*foot, "ft2", "ft²", "ft^2"),

	unit(plain(volume), 1e-3, "L", "l"),
	unit(plain(volume), 1e-6, "mL", "ml"),
	unit(plain(volume), 1e-6, "cm3", "cm³", "cm^3", "cc"),
	unit(plain(volume), 1e-9, "mm3", "mm³", "mm^3"),
	unit(plain(volume), 1, "m3", "m³", "m^3"),
	unit(plain(volume), inch*inch*inch, "in3", "in³", "in^3"),
	unit(plain(volume), 231*inch*inch*inch, "US gal"),
	unit(plain(volume), 4.54609e-3, "imp gal"),

	unit(plain(mass), 1, "kg"),
	unit(plain(mass), 1e-3, "g"),
	unit(plain(mass), 1e-6, "mg"),
	unit(plain(mass), 1e3, "t"),
	unit(plain(mass), pound, "lb"),
	unit(plain(mass), pound/16, "oz"),

	unit(plain(duration), 1, "s"),
	unit(plain(duration), 1e-3, "ms"),
	unit(plain(duration), 1e-6, "\u00b5s", "\u03bcs", "us"),
	unit(plain(duration), minute, "min"),
	unit(plain(duration), hour, "h"),
	unit(plain(duration), day, "d"),
	unit(plain(duration), year/12, "mo"),
	unit(plain(duration), year, "a"),

	{[]string{"°C", "degC", "\u2103"}, point, 1, 273.15},
	{[]string{"K"}, point, 1, 0},
	{[]string{"°F", "degF", "\u2109"}, point, 5.0 / 9, 459.67 * 5 / 9},
	unit(plain(warming), 1, "K/s", "°C/s"),
	unit(plain(warming), 1/minute, "K/min", "°C/min"),

	unit(plain(speed), 1/3.6, "km/h", "kph", "kmh", "kmph"),
	unit(plain(speed), 1, "m/s"),
	unit(plain(speed), mile/hour, "mph"),
	unit(plain(speed), 1e-3, "mm/s"),
	unit(plain(speed), foot, "ft/s"),
	unit(plain(speed), inch, "in/s"),
	unit(plain(speed), 1852/hour, "kn"),

	unit(plain(acceleration), gravity, "g0"),
	unit(plain(acceleration), 1, "m/s2", "m/s²", "m/s^2"),
	unit(plain(acceleration), foot, "ft/s2", "ft/s²", "ft/s^2"),

	unit(turning, 2*math.Pi/60, "rpm", "1/min", "rev/min"),
	unit(turning, 1, "rad/s"),
	unit(turning, degree, "deg/s", "°/s"),
	unit(cycles, 1, "Hz"),
	unit(cycles, 1e3, "kHz"),
	unit(plain(rate), 0.01, "%/s"),
	unit(plain(rateRate), 2*math.Pi/60, "rpm/s"),
	unit(plain(rateRate), 1, "rad/s2", "rad/s²", "rad/s^2"),
	unit(angle, degree, "deg", "°"),
	unit(angle, 1, "rad"),
	unit(angle, 2*math.Pi, "rev"),

	unit(plain(force), 1, "N"),
	unit(plain(force), 1e3, "kN"),
	unit(plain(force), 10, "daN"),
	unit(plain(force), lbf, "lbf"),
	unit(plain(force), gravity, "kgf"),
	unit(plain(stiffness), 1e3, "N/mm"),
	unit(plain(stiffness), 1, "N/m"),
	unit(plain(stiffness), lbf/inch, "lb/in", "lbf/in"),
	unit(plain(stiffness), gravity*1e3, "kgf/mm"),

	unit(bare, 1e5, "bar"),
	unit(bare, 1e3, "kPa"),
	unit(bare, psi, "psi"),
	unit(bare, 100, "mbar"),
	unit(bare, 100, "hPa"),
	unit(bare, 1, "Pa"),
	unit(bare, 1e6, "MPa"),
	unit(bare, 101325, "atm"),
	unit(bare, mercury*gravity*inch, "inHg"),
	unit(bare, mercury*gravity*1e-3, "mmHg"),
	unit(bare, 1000*gravity*inch, "inH2O"),
	unit(bare, gravity*1e4, "kgf/cm2", "kgf/cm²", "kgf/cm^2"),
	unit(gauge, 1e5, "barg"),
	unit(gauge, 1e3, "kPag"),
	unit(gauge, psi, "psig"),
	unit(absolute, 1e5, "bara"),
	unit(absolute, 1e3, "kPaa"),
	unit(absolute, psi, "psia"),
	unit(plain(pressureRate), 1e5, "bar/s"),
	unit(plain(pressureRate), 1e5/minute, "bar/min"),

	unit(torque, 1, "N·m", "N⋅m", "Nm", "N*m", "N m", "N.m"),
	unit(torque, 1e3, "kN·m", "kN⋅m", "kNm", "kN*m", "kN m", "kN.m"),
	unit(torque, lbf*foot, "lbf·ft", "lbf⋅ft", "lbf ft", "lbf*ft", "lbf.ft", "ft·lbf", "ft lbf", "ft*lbf", "lb·ft", "lb ft", "lbft", "ft·lb", "ft lb"),
	unit(torque, lbf*inch, "lbf·in", "lbf⋅in", "lbf in", "lbf*in", "lbf.in", "in·lbf", "in lbf", "in*lbf", "lb·in", "lb in", "in·lb", "in lb"),
	unit(torque, gravity, "kgf·m", "kgf⋅m", "kgf m", "kgf*m", "kgf.m"),
	unit(work, 1e3, "kJ"),
	unit(work, 1, "J"),
	unit(work, 1e6, "MJ"),
	unit(work, hour, "Wh"),
	unit(work, 1e3*hour, "kWh"),
	unit(plain(power), 1e3, "kW"),
	unit(plain(power), 1, "W"),
	unit(plain(power), 550*lbf*foot, "hp", "bhp"),
	unit(plain(power), 75*gravity, "PS"),

	unit(plain(voltage), 1, "V"),
	unit(plain(voltage), 1e-3, "mV"),
	unit(plain(current), 1, "A"),
	unit(plain(current), 1e-3, "mA"),
	unit(plain(resistance), 1, "ohm", "\u03a9", "\u2126"),
	unit(plain(resistance), 1e3, "kohm", "k\u03a9", "k\u2126"),
	unit(plain(charge), hour, "Ah"),

	unit(plain(density), 1e3, "kg/L", "kg/l"),
	unit(plain(density), 1, "kg/m3", "kg/m³", "kg/m^3"),
	unit(plain(density), 1e3, "g/cm3", "g/cm³", "g/cm^3", "g/mL", "g/ml"),
	unit(plain(flow), 1e-3/minute, "L/min", "l/min"),
	unit(plain(flow), 1e-3/hour, "L/h", "l/h"),
	unit(plain(flow), 1e-3, "L/s", "l/s"),
	unit(plain(flow), 1e-6/minute, "mL/min", "ml/min", "cm3/min", "cc/min"),
	unit(plain(flow), 1e-6, "mL/s", "ml/s", "cm3/s", "cc/s"),
	unit(plain(flow), 1/hour, "m3/h", "m³/h", "m^3/h"),
	unit(plain(massFlow), 1/hour, "kg/h"),
	unit(plain(massFlow), 1, "kg/s"),
	unit(plain(massFlow), 1e-3, "g/s"),
	unit(plain(perEnergy), 1e-3/(1e3*hour), "g/kWh"),
	unit(plain(viscosity), 1e-6, "mm2/s", "mm²/s", "mm^2/s", "cSt"),
}

// misread maps what people write onto what they mean, where spelling is no guide.
var misread = map[string]string{
	"C": "°C", "F": "°F", "c": "°C", "deg C": "°C", "celsius": "°C", "degrees": "deg",
	"sec": "s", "secs": "s", "seconds": "s", "second": "s", "mins": "min", "minutes": "min", "minute": "min",
	"hr": "h", "hrs": "h", "hour": "h", "hours": "h", "day": "d", "days": "d", "month": "mo", "months": "mo",
	"y": "a", "yr": "a", "year": "a", "years": "a", "week": "d", "weeks": "d",
	"lbs": "lb", "kilos": "kg", "\"": "in", "inch": "in", "inches": "in", "'": "ft", "feet": "ft", "miles": "mi",
	"litre": "L", "litres": "L", "liter": "L", "metres": "m", "meters": "m", "nm": "N·m", "NM": "N·m",
	"G": "g0", "gs": "g0", "percent": "%", "pct": "%", "volts": "V", "amps": "A", "newton": "N", "knots": "kn",
	"PSI": "psi", "ft-lb": "lbf·ft", "ft-lbs": "lbf·ft", "lb-ft": "lbf·ft", "km/hr": "km/h", "kmh-1": "km/h",
}
