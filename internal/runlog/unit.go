package runlog

import (
	"fmt"
	"math"
	"strings"
	"sync"

	"github.com/paintmark/paintmark/internal/source"
	"github.com/paintmark/paintmark/internal/units"
)

// loggerSpellings are the ways loggers write units that a document may not
// use: for each, what it may stand for. They are only ever compared with the
// declared unit, never believed by themselves.
var loggerSpellings = map[string][]string{
	"c": {"°C"}, "celsius": {"°C"}, "deg c": {"°C"}, "deg_c": {"°C"}, "degc": {"°C"}, "ºc": {"°C"}, "°c": {"°C"},
	"f": {"°F"}, "fahrenheit": {"°F"}, "deg f": {"°F"}, "deg_f": {"°F"}, "degf": {"°F"}, "ºf": {"°F"}, "°f": {"°F"},
	"kelvin": {"K"}, "k": {"K"}, "pct": {"%"}, "percent": {"%"},
	"u/min": {"rpm"}, "min-1": {"rpm"}, "/min": {"rpm"}, "rev/min": {"rpm"}, "1/min": {"rpm"},
	"g": {"g0", "g"}, "gn": {"g0"}, "g0": {"g0"},
	"degrees": {"deg"}, "degree": {"deg"}, "°": {"deg"}, "º": {"deg"},
	"sec": {"s"}, "secs": {"s"}, "seconds": {"s"}, "volts": {"V"}, "volt": {"V"}, "amps": {"A"}, "amp": {"A"},
	"kg/cm2": {"kgf/cm2"}, "cv": {"PS"}, "ft.lb": {"lbf·ft"}, "ftlb": {"lbf·ft"}, "ft-lb": {"lbf·ft"}, "lb-ft": {"lbf·ft"},
	"lbs": {"lb"}, "knots": {"kn"}, "kts": {"kn"}, "pa": {"Pa"}, "km/hr": {"km/h"}, "litres": {"L"}, "lpm": {"L/min"}, "inch": {"in"}, "inches": {"in"},
	"-": {"1"}, "--": {"1"}, "none": {"1"}, "n/a": {"1"}, "#": {"1"}, "x": {"1"}, "counts": {"1"}, "count": {"1"}, "state": {"1"}, "status": {"1"},
	"enum": {"1"}, "bool": {"1"}, "boolean": {"1"}, "flag": {"1"}, "on/off": {"1"}, "0/1": {"1"}, "yes/no": {"1"}, "bits": {"1"}, "raw": {"1"},
	"gear": {"1"}, "lambda": {"1"}, "λ": {"1"}, "ratio": {"1"}, "gear no": {"1"},
}

// byCase finds the table's spelling of a unit written in other case: RPM, KPA.
var byCase = sync.OnceValue(func() map[string][]string {
	m := map[string][]string{}
	for _, s := range units.Spellings() {
		key := strings.ToLower(s)
		m[key] = append(m[key], s)
	}
	return m
})

// meanings lists the units a logger's text may stand for.
func meanings(text string) []units.Unit {
	var found []units.Unit
	add := func(symbol string) {
		if u, err := units.Lookup(symbol); err == nil {
			found = append(found, u)
		}
	}
	add(text)
	key := strings.ToLower(text)
	for _, s := range loggerSpellings[key] {
		add(s)
	}
	if len(found) == 0 {
		for _, s := range byCase()[key] {
			add(s)
		}
	}
	return found
}

// declaredUnit is the unit a channel is read in.
func (ch *Channel) declaredUnit() (units.Unit, *source.Fault) {
	symbol := ch.Unit
	if ch.Shape != Number {
		symbol = "1"
	}
	u, err := units.Lookup(symbol)
	if err != nil {
		f := source.Fault{Pos: ch.UnitPos, What: err.Error()}
		if e, ok := err.(*units.Error); ok {
			f.What, f.Remedy = e.What, e.Remedy
		}
		return u, &f
	}
	if ch.Reads == "difference" {
		u = u.AsDifference()
	}
	return u, nil
}

// agree says that a logged unit is the declared one in another spelling. A
// pressure the log calls gauge or absolute must be declared so.
func agree(logged, declared units.Unit, reads string) bool {
	if logged.Type.Dim != declared.Type.Dim || !near(logged.SI(1)-logged.SI(0), declared.SI(1)-declared.SI(0)) {
		return false
	}
	switch logged.Type.Kind {
	case units.Gauge:
		return reads == "gauge" || declared.Type.Kind == units.Gauge
	case units.Absolute:
		return reads == "absolute" || declared.Type.Kind == units.Absolute
	case units.Open: // a pressure whose reference only the declaration tells
		return true
	case units.Point:
		return reads == "difference" || near(logged.SI(0), declared.SI(0)) // 5 °C more is 5 K more
	}
	return logged.Type.Kind == declared.Type.Kind
}

func near(a, b float64) bool { return math.Abs(a-b) <= 1e-12*max(math.Abs(a), math.Abs(b)) }

// checkUnit compares the unit in the file with the declared one.
func (ch *Channel) checkUnit(c *Column, declared units.Unit) *source.Fault {
	if c.Unit == "" {
		return nil
	}
	for _, u := range meanings(c.Unit) {
		if agree(u, declared, ch.Reads) {
			return nil
		}
	}
	at := "channel " + ch.Name
	if ch.UnitPos.File != "" {
		at = ch.UnitPos.String()
	}
	what := ch.Unit
	if ch.Reads != "" {
		what += " " + ch.Reads
	}
	return &source.Fault{
		Pos:    c.UnitPos,
		What:   fmt.Sprintf("%s is in %q here but declared in %s at %s", c.Name, c.Unit, what, at),
		Remedy: "correct whichever is wrong; nothing is converted",
	}
}
