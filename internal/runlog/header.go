package runlog

import (
	"strings"
	"sync"
)

// unitWords are spellings that mark a row of units or a bracket with a unit
// in it. It only tells a unit from a name; what the unit means is settled when
// the log is cleaned.
var unitWords = sync.OnceValue(func() map[string]bool {
	set := map[string]bool{}
	for word := range strings.FieldsSeq(`
		s sec secs ms us µs μs ns min h hr hh:mm:ss hh:mm:ss.fff hh:mm:ss.sss
		rpm 1/min min-1 /min rev/min u/min rad/s deg/s °/s hz khz
		bar barg bara mbar kpa kpag kpaa mpa hpa pa psi psig psia inhg mmhg kg/cm2
		degc °c c deg_c ºc celsius degf °f f ºf k kelvin
		% percent pct deg ° degrees rad mm cm m km in inch ft mi um µm
		km/h kph kmh mph m/s ft/s m/s2 m/s^2 m/s² g g0 gn
		nm n·m n.m n*m ft.lb lbf·ft lbft ftlb n kn lbf lb kg t n/mm lb/in
		kw w hp ps cv v mv kv a ma ah wh kwh ohm l ml cc cm3 l/min l/h l/s g/s kg/h kg/s kg/l
		lambda λ afr count counts state bool boolean flag on/off 0/1 yes/no - -- none n/a 1 # ratio x
		enum status raw bits ticks clicks string text`) {
		set[word] = true
	}
	return set
})

func isUnit(text string) bool { return unitWords()[strings.ToLower(bare(text))] }

// bare takes the brackets off a unit.
func bare(text string) string {
	text = strings.TrimSpace(text)
	for _, pair := range []string{"[]", "()", "{}"} {
		if len(text) >= 2 && text[0] == pair[0] && text[len(text)-1] == pair[1] {
			return strings.TrimSpace(text[1 : len(text)-1])
		}
	}
	return text
}

// cutUnit takes a unit in brackets off the end of a name: `P_OIL [bar]`. In
// round brackets it must be a unit we have seen, as names use those too.
func cutUnit(name string) (rest, unit string) {
	name = strings.TrimSpace(name)
	if name == "" {
		return "", ""
	}
	open := byte(0)
	switch name[len(name)-1] {
	case ']':
		open = '['
	case ')':
		open = '('
	default:
		return name, ""
	}
	i := strings.LastIndexByte(name, open)
	if i <= 0 {
		return name, ""
	}
	unit = strings.TrimSpace(name[i+1 : len(name)-1])
	rest = strings.TrimSpace(name[:i])
	if rest == "" || (open == '(' && unit != "" && !isUnit(unit)) {
		return name, ""
	}
	return rest, unit
}

// isUnitsRow says that a line holds the units of the names above it: text below
// a line that names the time, or else mostly units we have seen. A unit nobody
// knows is a unit all the same, or it would be passed over in silence.
func isUnitsRow(line, names headLine) bool {
	if line.width() > names.width() || names.width() < 2 || line.hasNumbers() || names.hasNumbers() {
		return false
	}
	known, other := 0, 0
	for _, c := range line.cells {
		switch text := asText(c.text); {
		case text == "":
		case isUnit(text):
			known++
		default:
			other++
		}
	}
	_, rank := timeName(names)
	if _, own := timeName(line); rank < own && line.width() == names.width() {
		return true
	}
	return known > other
}

// Names of the column that counts time, in lower case, blanks for _ and -.
// Those of the second rank are used where none of the first is there.
var timeNames = sync.OnceValue(func() [2]map[string]bool {
	ranks := [2]string{
		"time|t|timestamp|time stamp|stamp|clock|elapsed|elapsed time|time elapsed|run time|runtime|log time|logtime|logger time|" +
			"session time|xtime|date time|datetime|date/time|time of day|tod|zeit|zeitstempel|uhrzeit|temps|tiempo|tempo",
		"utc|utc time|gps time|gpstime|local time|system time|unix time|epoch|seconds|sec|secs|milliseconds|millis|s|ms",
	}
	var sets [2]map[string]bool
	for i, names := range ranks {
		sets[i] = map[string]bool{}
		for name := range strings.SplitSeq(names, "|") {
			sets[i][name] = true
		}
	}
	return sets
})

// plainName puts a name in lower case with blanks between its words.
func plainName(name string) string {
	name = strings.ToLower(strings.TrimSpace(name))
	return strings.Join(strings.Fields(strings.NewReplacer("_", " ", "-", " ", ".", " ").Replace(name)), " ")
}

// cutTimeUnit takes a unit off the end of a time's name: time_ms.
func cutTimeUnit(plain string) (rest string, unit int64) {
	i := strings.LastIndexByte(plain, ' ')
	if i < 0 {
		switch plain {
		case "ms", "millis", "milliseconds", "s", "sec", "secs", "seconds":
			return plain, timeUnits[plain]
		}
		return plain, 0
	}
	if ns, ok := timeUnits[plain[i+1:]]; ok {
		return plain[:i], ns
	}
	return plain, 0
}

// timeName is the index of the cell that names the time, or -1, and the rank
// of that name.
func timeName(line headLine) (col, rank int) {
	for rank, names := range timeNames() {
		for i, c := range line.cells {
			name, unit := cutUnit(asText(c.text))
			if i == 0 {
				name = strings.TrimLeft(name, "#% ")
			}
			plain, _ := cutTimeUnit(plainName(name))
			if name == "T" && timeUnits[strings.ToLower(unit)] == 0 {
				continue // far more often a temperature
			}
			if names[plain] {
				return i, rank
			}
		}
	}
	return -1, len(timeNames())
}

// findTime finds the column that tells the time, and how.
func (l *layout) findTime(lines []headLine, first int) *refusal {
	header := headLine{}
	for _, line := range lines[:first] {
		if line.no == l.dialect.Header {
			header = line
		}
	}
	var rank int
	l.timeCol, rank = timeName(header)
	data := lines[first:]
	if rank > 0 {
		// A column of stamps tells the time whatever it is called.
		for i := range l.names {
			if s, _ := shapeIn(data, i); s == stampShape && l.names[i] != "" {
				l.timeCol = i
				break
			}
		}
	}
	if l.timeCol < 0 {
		return refuse(l.dialect.Header, 1, "name the column that counts time: Time, time_ms, Clock or Stamp",
			"no time column among %s", someNames(l.names))
	}
	i := l.timeCol
	shape, sample := shapeIn(data, i)
	l.time = TimeColumn{Name: l.names[i], Pos: l.places[i], First: sample}
	switch shape {
	case stampShape:
		if _, kind, _ := clockTime([]byte(sample)); kind == Stamp {
			l.time.Kind = Stamp
		} else {
			l.time.Kind = Clock
		}
		return nil
	case numberShape:
	default:
		return refuse(lines[first].no, 1, "export the time as seconds, as a clock or as an ISO stamp",
			"the time %q in column %s cannot be read", sample, l.time.Name)
	}
	return l.countedUnit()
}

// countedUnit finds the unit of a time that is a number: from its name, from
// the unit that is given, or else seconds.
func (l *layout) countedUnit() *refusal {
	i := l.timeCol
	l.time.Kind = Counted
	_, l.timeUnit = cutTimeUnit(plainName(l.time.Name))
	if unit := l.units[i]; unit != "" {
		ns, ok := timeUnits[strings.ToLower(unit)]
		if !ok {
			return refuse(l.unitPos[i].Line, l.unitPos[i].Column, "export the time in s or ms",
				"%q is no unit of time for column %s", unit, l.time.Name)
		}
		if l.timeUnit != 0 && l.timeUnit != ns {
			return refuse(l.unitPos[i].Line, l.unitPos[i].Column, "let name and unit agree",
				"column %s is in %q by its unit and in %s by its name", l.time.Name, unit, timeUnitName(l.timeUnit))
		}
		l.timeUnit = ns
	}
	if l.timeUnit == 0 {
		l.timeUnit, l.unitGuessed = second, true
	}
	l.time.Unit = timeUnitName(l.timeUnit)
	scale := l.timeUnit
	for i := range l.tickScales {
		l.tickScales[i] = scale
		if scale%10 != 0 {
			break
		}
		scale /= 10
	}
	return nil
}

// shapeIn is the shape of a column's first cell that tells the time, or of its
// first cell at all.
func shapeIn(data []headLine, col int) (s shape, sample string) {
	for _, line := range data {
		if col < len(line.cells) {
			s, _ := shapeOf(line.cells[col].text)
			if s == numberShape || s == stampShape {
				return s, asText(line.cells[col].text)
			}
			if sample == "" {
				sample = asText(line.cells[col].text)
			}
		}
	}
	return textShape, sample
}

func someNames(names []string) string {
	const most = 6
	if len(names) > most {
		return strings.Join(names[:most], ", ") + ", ..."
	}
	return strings.Join(names, ", ")
}
