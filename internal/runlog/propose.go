package runlog

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"sync"
	"unicode"

	"github.com/paintmark/paintmark/internal/units"
)

// Propose writes a channels.yaml for a log nobody has declared yet. Whatever
// the log does not say is marked as a guess, to be replaced from the data
// sheets before anyone relies on it.
func Propose(raw *Raw, looks []Look) string {
	var b strings.Builder
	id := raw.Identity("")
	b.WriteString("# Proposed from " + oneLine(raw.File) + ". Look at every line marked guess: one log shows what was reached, not what the sensor can read.\n")
	fmt.Fprintf(&b, "logger: {serial: %s, car: %s}", orUnknown(id.Serial.Value), orUnknown(id.Car.Value))
	if id.Serial.Value == "" || id.Car.Value == "" {
		b.WriteString("   # the log does not say")
	}
	b.WriteString("\nchannels:\n")
	names := proposedNames(looks)
	moves := proposedNeighbours(raw, looks, names)
	some := false
	for i := range looks {
		l := &looks[i]
		switch {
		case l.Samples == 0:
			b.WriteString("  # " + oneLine(l.Column.Name) + " holds no number\n")
			continue
		case !printable(l.Column.Name):
			b.WriteString("  # " + oneLine(l.Column.Name) + " has a name that cannot be written; rename it in the logger\n")
			continue
		}
		b.WriteString("  - " + l.line(names[i], moves[i]) + "\n")
		some = true
	}
	if !some {
		return strings.Replace(b.String(), "channels:\n", "channels: []\n", 1)
	}
	return b.String()
}

// proposedNames gives every channel that can be written a name of its own.
func proposedNames(looks []Look) []string {
	names := make([]string, len(looks))
	taken := map[string]bool{}
	for i := range looks {
		l := &looks[i]
		if l.Samples == 0 || !printable(l.Column.Name) {
			continue
		}
		name := l.name(l.unit())
		for n := 2; taken[name]; n++ {
			name = strings.TrimRight(name, "0123456789_") + "_" + strconv.Itoa(n)
		}
		taken[name] = true
		names[i] = name
	}
	return names
}

// line is one channel as a line of YAML. moves is the channel it most likely moves with, ""
// for none.
func (l *Look) line(name, moves string) string {
	unit, known := l.unit()
	symbol := unit.Symbol
	parts := []string{"name: " + name, "in_log: " + quote(l.Column.Name)}
	var guesses []string
	switch {
	case l.Shape == YesNo:
		symbol = "state"
	case l.Shape == Count && (!known || unit.Symbol == "1"):
		symbol = "count"
	case !known && l.Column.Unit == "":
		symbol = "unknown"
		guesses = append(guesses, "the log gives no unit")
	case !known:
		symbol = "unknown"
		guesses = append(guesses, "unit "+oneLine(l.Column.Unit)+" is not known")
	}
	parts = append(parts, "unit: "+yamlUnit(symbol))
	if l.Shape != YesNo && known && isPressure(unit) {
		reads := unit.Type.Kind
		switch {
		case reads == units.Gauge:
			parts = append(parts, "reads: gauge")
		case reads == units.Absolute:
			parts = append(parts, "reads: absolute")
		case looksAbsolute(name):
			parts = append(parts, "reads: absolute")
			guesses = append(guesses, "guess: absolute")
		default:
			parts = append(parts, "reads: gauge")
			guesses = append(guesses, "guess: gauge")
		}
	}
	if r := l.Column.Rate; r > 0 {
		parts = append(parts, "rate: "+digits(r, 3)+" Hz")
	}
	switch {
	case l.Shape == YesNo, symbol == "unknown":
	case symbol == "count":
		parts = append(parts, fmt.Sprintf("range: %s..%s", digits(math.Min(l.Min, 0), 6), digits(l.Max, 6)))
		guesses = append(guesses, "guess: range")
	default:
		low, high := l.rounded(unit)
		parts = append(parts, fmt.Sprintf("range: %s %s..%s %s", digits(low, 6), symbol, digits(high, 6), symbol))
		guesses = append(guesses, "guess: range")
		if l.FaultValue != nil {
			parts = append(parts, fmt.Sprintf("at_fault_reads: %s %s", digits(*l.FaultValue, 9), symbol))
			guesses = append(guesses, "guess: fault value")
		}
	}
	if r := l.Column.Rate; r > 0 {
		parts = append(parts, "hold: "+holdText(holdPeriods/r))
	}
	if moves != "" {
		parts = append(parts, "moves_with: ["+moves+"]")
		guesses = append(guesses, "guess: moves with")
	}
	s := "{" + strings.Join(parts, ", ") + "}"
	if len(guesses) > 0 {
		s += "   # " + strings.Join(guesses, "; ")
	}
	return s
}

// unit is what the logger's unit most likely means.
func (l *Look) unit() (units.Unit, bool) {
	for _, symbol := range loggerSpellings[strings.ToLower(l.Column.Unit)] {
		if u, err := units.Lookup(symbol); err == nil {
			return u, true
		}
	}
	if all := meanings(l.Column.Unit); l.Column.Unit != "" && len(all) > 0 {
		return all[0], true
	}
	return units.Unit{}, false
}

func isPressure(u units.Unit) bool {
	pa, err := units.Lookup("Pa")
	return err == nil && u.Type.Dim == pa.Type.Dim
}

func looksAbsolute(name string) bool {
	for _, word := range strings.Split(name, "_") {
		if slices.Contains([]string{"man", "map", "manifold", "baro", "barometer", "amb", "ambient", "abs", "airbox", "station"}, word) {
			return true
		}
	}
	return false
}

// Short words of logger names and the words they stand for.
var wordsFor = map[string]string{
	"brk": "brake", "spd": "speed", "press": "pressure", "pres": "pressure", "thr": "throttle", "temperature": "temp", "tmp": "temp",
	"gbx": "gearbox", "eng": "engine", "wng": "wing", "cmd": "command", "pmp": "pump", "bat": "battery", "batt": "battery",
}

// notNames are words a channel may not be called: roots of the documents,
// words and types of CEL.
var notNames = sync.OnceValue(func() map[string]bool {
	m := map[string]bool{}
	for word := range strings.FieldsSeq(`car setup measured parts life plan limits baseline lockout trips weather tools faults people log
		positions meters jobs signed derived channels element unknown
		true false null in as break const continue else for function if import let loop package namespace return var void while
		int uint double bool string bytes list map type dyn timestamp duration size has all exists filter`) {
		m[word] = true
	}
	return m
})

// name makes a channel name of plain lower-case words: P_OIL in bar becomes
// oil_pressure, EngRpm becomes engine_rpm.
func (l *Look) name(unit units.Unit, known bool) string {
	var words []string
	word := []rune{}
	end := func() {
		if len(word) > 0 {
			words = append(words, strings.ToLower(string(word)))
			word = word[:0]
		}
	}
	before := rune(0)
	for _, r := range l.Column.Name {
		if r > 0x7f || !(unicode.IsLetter(r) || unicode.IsDigit(r)) {
			end()
		} else {
			if unicode.IsUpper(r) && unicode.IsLower(before) {
				end()
			}
			word = append(word, r)
		}
		before = r
	}
	end()
	for i, w := range words {
		if full, ok := wordsFor[w]; ok {
			words[i] = full
		}
	}
	if len(words) > 1 && known {
		suffix := ""
		switch point := unit.Type.Kind == units.Point; {
		case words[0] == "p" && isPressure(unit):
			suffix = "pressure"
		case words[0] == "t" && point:
			suffix = "temp"
		}
		if suffix != "" {
			words = append(words[1:], suffix)
		}
	}
	name := strings.Join(words, "_")
	if len(name) > 60 {
		name = strings.TrimRight(name[:60], "_")
	}
	if name == "" || name[0] < 'a' || name[0] > 'z' {
		name = strings.TrimRight("channel_"+name, "_")
	}
	if notNames()[name] {
		name += "_logged"
	}
	return name
}

// rounded is a range with room: from nothing, or from -20 °C, to half as much
// again as was reached, rounded outwards.
func (l *Look) rounded(unit units.Unit) (low, high float64) {
	if unit.Symbol == "%" && l.Min >= 0 && l.Max <= 100 {
		return 0, 100
	}
	low, high = min(0, -roundUp(-1.5*l.Min)), max(0, roundUp(1.5*l.Max))
	if unit.Type.Kind == units.Point {
		const cold = 253.15 // K
		low = min(l.Min, math.Floor(unit.Of(cold)+0.5))
	}
	if low == high {
		high = 1
	}
	return low, high
}

// roundUp gives the next round number; 0 for what is not positive.
func roundUp(x float64) float64 {
	if x <= 0 {
		return 0
	}
	p := math.Pow(10, math.Floor(math.Log10(x)))
	for _, k := range []float64{1, 1.5, 2, 2.5, 3, 4, 5, 6, 8} {
		if k*p >= x {
			return k * p
		}
	}
	return 10 * p
}

// digits writes a number with so many significant digits and no exponent.
func digits(v float64, n int) string {
	rounded, _ := strconv.ParseFloat(strconv.FormatFloat(v, 'g', n, 64), 64)
	return strconv.FormatFloat(rounded+0, 'f', -1, 64)
}

func holdText(s float64) string {
	if s < 1 {
		return digits(s*1000, 3) + " ms"
	}
	return digits(s, 3) + " s"
}

func yamlUnit(symbol string) string {
	for _, r := range symbol {
		if !unicode.IsLetter(r) && !strings.ContainsRune("/0123456789²³·°", r) || r == '1' && symbol == "1" {
			return quote(symbol)
		}
	}
	return symbol
}

func quote(s string) string { return "'" + strings.ReplaceAll(s, "'", "''") + "'" }

func orUnknown(s string) string {
	if s == "" || !printable(s) {
		return "unknown"
	}
	return quote(s)
}

func printable(s string) bool {
	for _, r := range s {
		if !unicode.IsPrint(r) {
			return false
		}
	}
	return s != ""
}

func oneLine(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsPrint(r) {
			return r
		}
		return '?'
	}, s)
}
