package units

import (
	"math"
	"os/exec"
	"slices"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func mustUnit(t *testing.T, symbol string) Unit {
	t.Helper()
	u, err := Lookup(symbol)
	if err != nil {
		t.Fatal(err)
	}
	return u
}

// Figures of NIST SP 811, appendix B, to the digits it prints.
func TestNIST(t *testing.T) {
	for _, tt := range []struct {
		text   string
		si     float64
		digits int
	}{
		{"1 psi", 6.894757e3, 7},
		{"1 bar", 1e5, 7},
		{"1 atm", 1.01325e5, 7},
		{"1 inHg", 3.386389e3, 7},
		{"1 mmHg", 1.333224e2, 7},
		{"1 inH2O", 2.490889e2, 7},
		{"1 kgf/cm2", 9.80665e4, 7},
		{"1 lbf", 4.448222, 7},
		{"1 kgf", 9.80665, 7},
		{"1 lbf·ft", 1.355818, 7},
		{"1 lbf·in", 1.129848e-1, 7},
		{"1 lb/in", 1.751268e2, 7},
		{"1 hp", 7.456999e2, 7},
		{"1 PS", 7.354988e2, 7},
		{"1 mph", 4.4704e-1, 7},
		{"1 km/h", 2.777778e-1, 7},
		{"1 kn", 5.144444e-1, 7},
		{"1 lb", 4.535924e-1, 7},
		{"1 oz", 2.834952e-2, 7},
		{"1 in", 2.54e-2, 7},
		{"1 ft", 3.048e-1, 7},
		{"1 mi", 1.609344e3, 7},
		{"1 US gal", 3.785412e-3, 7},
		{"1 imp gal", 4.54609e-3, 7},
		{"1 in3", 1.638706e-5, 7},
		{"1 deg", 1.745329e-2, 7},
		{"1 rpm", 1.047198e-1, 7},
		{"1 kWh", 3.6e6, 7},
		{"1 g0", 9.80665, 7},
		{"1 cSt", 1e-6, 7},
		{"68 °F", 293.15, 7}, // 20 °C
		{"25 °C", 298.15, 7},
		{"-40 °F", 233.15, 7}, // -40 °C
	} {
		q, err := Parse(tt.text)
		if err != nil {
			t.Error(err)
			continue
		}
		lastDigit := math.Pow(10, math.Floor(math.Log10(tt.si))-float64(tt.digits-1))
		if math.Abs(q.SI-tt.si) > 0.500001*lastDigit {
			t.Errorf("%s is %.9g, want %.9g", tt.text, q.SI, tt.si)
		}
	}
}

// gnu says how Debian's units program writes each unit of the table, where it is
// not the same spelling; the second word is what to convert to.
var gnu = map[string]string{
	"1": "1", "%": "percent", "µm": "micron", "thou": "mil", "mm": "mm", "in2": "in^2", "US gal": "usgallon", "imp gal": "brgallon",
	"mL": "ml", "L": "liter", "t": "tonne", "µs": "microsecond", "d": "day", "h": "hour", "mo": "julianyear/12", "a": "julianyear",
	"°C": "tempC", "K": "K", "°F": "tempF", "kn": "knot", "g0": "gravity", "deg/s": "degree/s", "deg": "degree", "rev": "revolution",
	"rad": "radian", "rad/s": "radian/s", "rad/s2": "radian/s^2", "lb/in": "lbf/in", "kgf/mm": "kgf/mm", "kgf/cm2": "kgf/cm^2",
	"barg": "bar", "bara": "bar", "kPag": "kPa", "kPaa": "kPa", "psig": "psi", "psia": "psi", "inHg": "inHg", "mmHg": "mmHg", "inH2O": "inH2O",
	"N·m": "N m", "kN·m": "kN m", "lbf·ft": "lbf ft", "lbf·in": "lbf in", "kgf·m": "kgf m", "Wh": "watt hour", "kWh": "kilowatt hour",
	"PS": "metrichorsepower", "kohm": "kiloohm", "Ah": "ampere hour", "A": "ampere", "mA": "milliampere", "L/min": "liter/min", "L/h": "liter/hour", "L/s": "liter/s",
	"kg/L": "kg/liter", "m3/h": "m^3/hour", "kg/h": "kg/hour", "g/kWh": "g/(kilowatt hour)", "km/h": "km/hour", "Pa": "pascal", "min": "minute", "g": "gram", "s": "second",
	"daN": "dekanewton", "rpm": "rpm", "rpm/s": "rpm/s",
}

// Every unit of the table against GNU units, which Debian packages as `units`.
func TestGNUUnits(t *testing.T) {
	program, err := exec.LookPath("units")
	if err != nil {
		t.Skip("the program units is not installed (Debian: apt-get install units)")
	}
	var ask strings.Builder
	for _, r := range rows {
		have, ok := gnu[r.names[0]]
		if !ok {
			have = r.names[0]
			for _, n := range []string{"2", "3"} {
				have = strings.ReplaceAll(have, n, "^"+n)
			}
		}
		want := gnuSI(r.typ)
		if strings.HasPrefix(have, "temp") {
			have += "(20)"
		}
		ask.WriteString(have + "\n" + want + "\n")
	}
	cmd := exec.Command(program, "--terse", "--output-format", "%.15g")
	cmd.Env = []string{"LC_ALL=C.UTF-8"}
	cmd.Stdin = strings.NewReader(ask.String())
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	lines := strings.Split(strings.TrimSpace(string(out)), "\n")
	if len(lines) != len(rows) {
		t.Fatalf("%d answers to %d questions:\n%s", len(lines), len(rows), out)
	}
	for i, r := range rows {
		want, err := strconv.ParseFloat(lines[i], 64)
		if err != nil {
			t.Errorf("%s: units says %s", r.names[0], lines[i])
			continue
		}
		got := r.scale
		if r.offset != 0 {
			got = r.scale*20 + r.offset
		}
		if math.Abs(got-want) > 1e-12*want {
			t.Errorf("%s is %.15g, units says %.15g", r.names[0], got, want)
		}
	}
}

// gnuSI writes a type's SI unit for GNU units, which keeps the radian as a unit.
func gnuSI(t Type) string {
	s := ""
	for _, b := range []struct {
		unit string
		n    int8
	}{{"m", t.Dim.Length}, {"kg", t.Dim.Mass}, {"s", t.Dim.Time}, {"K", t.Dim.Temperature}, {"A", t.Dim.Current}} {
		if b.n != 0 {
			s += b.unit + "^" + strconv.Itoa(int(b.n)) + " "
		}
	}
	if t.Kind == Angle || t.Kind == Rotation || t.Dim == rateRate {
		s += "radian"
	}
	if s == "" {
		s = "1"
	}
	return s
}

func TestTable(t *testing.T) {
	seen := map[string]string{}
	for _, r := range rows {
		for _, n := range r.names {
			if other, ok := seen[n]; ok {
				t.Errorf("%q is %s and %s", n, r.names[0], other)
			}
			seen[n] = r.names[0]
			q, err := Parse("2 " + n)
			if err != nil {
				t.Errorf("2 %s: %v", n, err)
			} else if q.SI != 2*r.scale+r.offset || q.Type != r.typ || q.Unit != n {
				t.Errorf("2 %s: %+v", n, q)
			}
		}
		if strings.Contains(r.typ.String(), "^") {
			t.Errorf("%s has no words: %s", r.names[0], r.typ)
		}
	}
	for wrong, right := range misread {
		if _, ok := table[wrong]; ok {
			t.Errorf("%q is a unit, not a slip", wrong)
		}
		if _, ok := table[right]; !ok {
			t.Errorf("%q is offered and is no unit", right)
		}
	}
}

func TestSpellings(t *testing.T) {
	all := Spellings()
	if !slices.IsSorted(all) || len(all) != len(table) || !slices.Contains(all, "lbf ft") {
		t.Errorf("%d spellings", len(all))
	}
}

func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := rows[rapid.IntRange(0, len(rows)-1).Draw(t, "row")]
		value := rapid.Float64Range(-1e9, 1e9).Draw(t, "value")
		name := rapid.SampledFrom(r.names).Draw(t, "name")
		space := rapid.SampledFrom([]string{" ", "  "}).Draw(t, "space")
		q, err := Parse(strconv.FormatFloat(value, rapid.SampledFrom([]byte("gfe")).Draw(t, "format"), -1, 64) + space + name)
		if err != nil {
			t.Fatal(err)
		}
		back, err := In(q.SI, name)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(back-value) > 1e-12*math.Abs(value)+1e-12*math.Abs(r.offset/r.scale)+1e-290 {
			t.Fatalf("%g %s came back as %g", value, name, back)
		}
	})
}

func TestParse(t *testing.T) {
	for _, tt := range []struct {
		text string
		si   float64
		typ  Type
	}{
		{"4.5 bar", 4.5e5, bare},
		{" 4.5  bar ", 4.5e5, bare},
		{"-0.10 deg", -0.1 * math.Pi / 180, angle},
		{"95 °C", 368.15, point},
		{"95°C", 368.15, point},
		{"59.0 %", 0.59, Number},
		{"1", 1, Number},
		{"1.2", 1.2, Number},
		{".5 s", 0.5, plain(duration)},
		{"+5 s", 5, plain(duration)},
		{"12e3 rpm", 12e3 * 2 * math.Pi / 60, turning},
		{"480 N·m", 480, torque},
		{"480 Nm", 480, torque},
		{"100 lbf ft", 135.58179483314, torque},
		{"1.2 barg", 1.2e5, gauge},
		{"5 a", 5 * 365.25 * 86400, plain(duration)},
		{"1 V/V", 1, Number},
		{"9 min", 540, plain(duration)},
		{"7000 1/min", 7000 * 2 * math.Pi / 60, turning},
		{"0.745 kg/L", 745, plain(density)},
		{"2 US gal", 2 * 3.785411784e-3, plain(volume)},
	} {
		q, err := Parse(tt.text)
		if err != nil || math.Abs(q.SI-tt.si) > 1e-12*math.Abs(tt.si) || q.Type != tt.typ {
			t.Errorf("%q: got %v %v %v, want %v %v", tt.text, q.SI, q.Type, err, tt.si, tt.typ)
		}
	}
}

func TestParseRefuses(t *testing.T) {
	for text, want := range map[string]string{
		"":           "there is no value; write a number and its unit, or `unknown`",
		"bar":        "`bar` does not start with a number; write a number and its unit, as in 4.5 bar",
		"1,5 bar":    "`1,5 bar` has a comma in its number; write `1.5 bar`",
		"20,000 km":  "`20,000 km` has a comma in its number; write `20000 km`, or `20.000 km` if the comma is a decimal one",
		"NaN":        "`NaN` does not start with a number; write a number and its unit, as in 4.5 bar",
		"Inf bar":    "`Inf bar` does not start with a number; write a number and its unit, as in 4.5 bar",
		"-inf s":     "`-inf s` does not start with a number; write a number and its unit, as in 4.5 bar",
		"0x1F":       "`0x1F` is hexadecimal; write a decimal number",
		"1_000 s":    "`1_000 s` is not one number and one unit; write it as in 4.5 bar",
		"1e999 bar":  "`1e999 bar` is too large a number; look at its exponent",
		"1e308 km":   "`1e308 km` is too large a number; look at its exponent",
		"- 0.1 deg":  "`- 0.1 deg` is not a number; no space after the minus",
		"−0.1 deg":   "`−0.1 deg` starts with a dash that is no minus sign; write -",
		"9 min 30 s": "`9 min 30 s` has two numbers; write one, as in 9.5 min",
		"5 5 bar":    "`5 5 bar` is not one number and one unit; write it as in 4.5 bar",
		"1.2.3 s":    "`1.2.3 s` is not one number and one unit; write it as in 4.5 bar",
		"1. s":       "`1. s` is not one number and one unit; write it as in 4.5 bar",
		"4.5 baar":   "unknown unit `baar`; did you mean `bar`?",
		"95 C":       "unknown unit `C`; did you mean `°C`?",
		"3 Bar":      "unknown unit `Bar`; did you mean `bar`?",
		"3 kmh/h":    "unknown unit `kmh/h`; did you mean `km/h`?",
		"3 zzz":      "unknown unit `zzz`; units are written as in 4.5 bar, 265 mm, 95 °C",
		"3 ft-lb":    "unknown unit `ft-lb`; did you mean `lbf·ft`?",
	} {
		if _, err := Parse(text); err == nil || err.Error() != want {
			t.Errorf("%q\n got %v\nwant %s", text, err, want)
		}
	}
}

func TestParseRange(t *testing.T) {
	for _, tt := range []struct {
		text      string
		low, high float64
		typ       Type
	}{
		{"0 bar..160 bar", 0, 160e5, bare},
		{"-20 °C..180 °C", 253.15, 453.15, point},
		{"100..600 N·m", 100, 600, torque},
		{"0..6", 0, 6, Number},
		{"-3 g0..3 g0", -3 * gravity, 3 * gravity, plain(acceleration)},
		{"0.5 .. 4.5 V", 0.5, 4.5, plain(voltage)},
	} {
		low, high, err := ParseRange(tt.text)
		if err != nil || math.Abs(low.SI-tt.low) > 1e-9 || high.SI != tt.high || low.Type != tt.typ || high.Type != tt.typ {
			t.Errorf("%s: %v %v %v", tt.text, low, high, err)
		}
	}
	for text, want := range map[string]string{
		"5 bar":           "`5 bar` is not a range; write it as in 0 bar..160 bar",
		"160 bar..0 bar":  "`160 bar..0 bar` ends below its start; write the lower end first",
		"0 bar..160 barg": "`0 bar..160 barg` goes from a pressure to a gauge pressure; write both ends in one unit",
		"0..":             "there is no value; write a number and its unit, or `unknown`",
		"..5":             "there is no value; write a number and its unit, or `unknown`",
		"0 s..5 bar":      "`0 s..5 bar` goes from a time to a pressure; write both ends in one unit",
		"0,5..1 s":        "`0,5` has a comma in its number; write `0.5`",
	} {
		if _, _, err := ParseRange(text); err == nil || err.Error() != want {
			t.Errorf("%q\n got %v\nwant %s", text, err, want)
		}
	}
}

func TestCheck(t *testing.T) {
	dT := Type{temperature, Difference}
	for _, tt := range []struct {
		text string
		want Type
		si   float64
		err  string
	}{
		{"4.5 bar", gauge, 4.5e5, ""},
		{"4.5 bar", absolute, 4.5e5, ""},
		{"4.5 bar", Type{pressure, Difference}, 4.5e5, ""},
		{"4.5 barg", gauge, 4.5e5, ""},
		{"4.5 barg", bare, 4.5e5, ""},
		{"5 °C", point, 278.15, ""},
		{"5 °C", dT, 5, ""},
		{"9 °F", dT, 5, ""},
		{"5 K", point, 5, ""},
		{"5 K", dT, 5, ""},
		{"4.5 barg", absolute, 0, "`4.5 barg` is a gauge pressure, but an absolute pressure is wanted; going from one to the other takes the station pressure: write the value as it was read, in the field for it"},
		{"4.5 barg", Type{pressure, Difference}, 0, "`4.5 barg` is a gauge pressure, but a difference of pressures is wanted; write a difference in bar, kPa, psi"},
		{"4.5 mm", gauge, 0, "`4.5 mm` is a length, but a gauge pressure is wanted; write it in bar, kPa, psi"},
		{"1.2", gauge, 0, "`1.2` has no unit, but a gauge pressure is wanted; write it in bar, kPa, psi"},
		{"3 g", plain(acceleration), 0, "`3 g` is a mass, but an acceleration is wanted; g is gram: did you mean `g0`?"},
		{"5 Hz", turning, 0, "`5 Hz` is a frequency, but a speed of rotation is wanted; write it in rpm, rad/s, deg/s"},
		{"5 J", torque, 0, "`5 J` is an energy, but a torque is wanted; write it in N·m, kN·m, lbf·ft"},
		{"5 deg", Number, 0, "`5 deg` is an angle, but a plain number is wanted; write a plain number, or a share in %"},
		{"5", angle, 0, "`5` has no unit, but an angle is wanted; write it in deg, rad, rev"},
	} {
		q, err := Parse(tt.text)
		if err != nil {
			t.Fatal(err)
		}
		got, err := Check(q, tt.want)
		switch {
		case tt.err != "":
			if err == nil || err.Error() != tt.err {
				t.Errorf("%s as %s\n got %v\nwant %s", tt.text, tt.want, err, tt.err)
			}
		case err != nil || math.Abs(got.SI-tt.si) > 1e-12*tt.si:
			t.Errorf("%s as %s: %v, %v", tt.text, tt.want, got.SI, err)
		case tt.want != bare && got.Type != tt.want:
			t.Errorf("%s as %s is %v", tt.text, tt.want, got.Type)
		}
	}
}

func TestFormat(t *testing.T) {
	for _, tt := range []struct {
		si       float64
		symbol   string
		decimals int
		want     string
	}{
		{118.4e5, "bar", -1, "118 bar"},
		{4.5e5, "bar", -1, "4.5 bar"},
		{4.5e5, "bar", 2, "4.50 bar"},
		{0.2936, "s", -1, "0.294 s"},
		{0.4, "s", -1, "0.4 s"},
		{-1e-9, "s", 2, "0.00 s"},
		{math.Copysign(0, -1), "s", -1, "0 s"},
		{368.15, "°C", -1, "95 °C"},
		{7600 * 2 * math.Pi / 60, "rpm", -1, "7600 rpm"},
		{0.59, "%", 1, "59.0 %"},
		{1.25, "1", -1, "1.25"},
		{math.NaN(), "s", 2, "unknown"},
		{math.Inf(1), "s", 2, "∞ s"},
		{math.Inf(1), "s", -1, "∞ s"},
		{math.Inf(-1), "s", -1, "-∞ s"},
		{0.9999, "s", -1, "1 s"},
		{99.96, "s", -1, "100 s"},
	} {
		if got := Format(tt.si, mustUnit(t, tt.symbol), tt.decimals); got != tt.want {
			t.Errorf("%g: got %s, want %s", tt.si, got, tt.want)
		}
	}
	if got := Format(-2, mustUnit(t, "°C").AsDifference(), -1); got != "-2 °C" {
		t.Error(got)
	}
	if _, err := In(1, "baar"); err == nil {
		t.Error("In let an unknown unit through")
	}
}

func TestFunctions(t *testing.T) {
	fs := Functions()
	if len(fs) != len(functionNames) || !slices.IsSortedFunc(fs, func(x, y Function) int { return strings.Compare(x.Name, y.Name) }) {
		t.Error("not all, or not in order")
	}
	// Reserved words and standard functions of CEL, and the names rules use already.
	taken := strings.Fields(`true false null in as break const continue else for function if import let loop package namespace return var void while
		int uint double bool string bytes list map type dyn duration timestamp size matches contains startsWith endsWith has all exists exists_one filter
		getFullYear getMonth getDate getHours getMinutes getSeconds getMilliseconds
		car setup measured parts life plan limits baseline lockout trips weather tools faults people log
		slope delay smooth held since abs least greatest at days`)
	for _, f := range fs {
		if slices.Contains(taken, f.Name) {
			t.Errorf("%s is taken", f.Name)
		}
		if f.Unit.Symbol == "" {
			t.Errorf("%s has no unit", f.Name)
		}
	}
	find := func(name string) Unit {
		i := slices.IndexFunc(fs, func(f Function) bool { return f.Name == name })
		return fs[i].Unit
	}
	if u := find("bar"); u.SI(3.8) != 3.8e5 || u.Type != bare {
		t.Errorf("bar: %+v", u)
	}
	if u := find("degC"); u.SI(80) != 353.15 || u.Type != point {
		t.Errorf("degC: %+v", u)
	}
	if u := find("kelvins"); u.SI(5) != 5 || u.Type.Kind != Difference {
		t.Errorf("kelvins: %+v", u)
	}
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"4.5 bar", "1,5 bar", "0x1F", "- 1 s", "1e3 rpm", "−5 °C", "0..6", "7000 1/min"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		q, err := Parse(text)
		if err == nil && (math.IsNaN(q.SI) || math.IsInf(q.SI, 0)) {
			t.Errorf("%q gave %v", text, q.SI)
		}
		if err != nil && strings.TrimSpace(err.Error()) == "" {
			t.Errorf("%q: no words", text)
		}
		ParseRange(text)
	})
}
