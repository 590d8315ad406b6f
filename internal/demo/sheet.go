package demo

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"strings"
	"time"
)

// sheet is what people add to a run's figures on its run sheet.
type sheet struct {
	at, started string // with the zone
	session     string // "" for none
	kind        string
	setup       string
	tyres       string
	fuel        string
	road        string
	said        string
}

var sheets = map[int]sheet{
	55: {
		at: "2026-05-15T14:36+01:00", started: "2026-05-15T14:31+01:00", kind: "shakedown", setup: "S13", tyres: "DRY-2",
		fuel: "{out: 12.0 kg, in: 10.1 kg}", road: "18 °C", said: "all in order, brakes still bedding",
	},
	56: {
		at: "2026-05-15T15:26+01:00", started: "2026-05-15T15:20+01:00", kind: "shakedown", setup: "S13", tyres: "DRY-2",
		fuel: "{out: 10.0 kg, in: 8.1 kg}", road: "17 °C", said: "steering fine, small push in slow corners",
	},
	57: {
		at: "2026-05-16T09:48+01:00", started: "2026-05-16T09:42+01:00", session: "P1", kind: "practice", setup: "S14", tyres: "DRY-3",
		fuel: "{out: 9.0 kg, in: 7.1 kg}", road: "15 °C",
		said: "wing felt late coming back into the hairpin; oil temp on the dash went to minus forty at the second left",
	},
}

// healthySaid is what the driver says when nothing was wrong with run 57.
const healthySaid = "car good, nothing to report"

// runSheet writes the run sheet of a recording: figures from the model, words from sheets.
func (r *Recording) runSheet(log string, digest string) (name string, content []byte) {
	s := sheets[r.Run.Number]
	if r.Run.Number == 57 && r.Run.find(WingSlow) == nil {
		s.said = healthySaid
	}
	var b strings.Builder
	line := func(format string, a ...any) { fmt.Fprintf(&b, format+"\n", a...) }
	value := func(key string) float64 { return r.Truth[key].Value }
	line("at: %s", s.at)
	line("by: SQ")
	line("run:")
	line("  no: %d", r.Run.Number)
	if s.session != "" {
		line("  session: %s", s.session)
	}
	line("  kind: %s", s.kind)
	line("  started: %s", s.started)
	line("  driver: TB")
	line("  setup: %s", s.setup)
	line("  tyres: %s", s.tyres)
	line("  fuel: %s", s.fuel)
	line("  weather: {air: %.0f °C, road: %s, station_pressure: %.0f hPa, road_state: dry}", r.Run.Air, s.road, r.Run.Station/100)
	line("  result: {time: %.2f s, finished: true}", r.CourseTime())
	line("  logs:")
	line("    - {file: %s, sha256: %s, kind: run, counter: %q}", log, digest, fmt.Sprint(r.Run.Number))
	line("  meters: {distance: %.2f km, engine_hours: %.4f h, full_throttle: %.4f h, launches: %.0f, shifts: %.0f, wing_actuations: %.0f, pressure_cycles: %d, heat_cycles: 1,",
		value(Distance)/1000, r.Length()/3600, value(FullThrottle)/3600, value(Launches), value(Shifts), value(WingOpenings), r.Truth[PumpTime].Seen)
	// Events of meters.yaml: 100 rpm over the limit of the cut, 2 % over the turbo's, 80 ms between two gears.
	line("    over_rev: %d, turbo_over_speed: %d, gear_crash: %d}", once(value(RevPeak) > 7700), once(value(TurboPeak) > 1.02*158e3), once(value(ShiftTime) > 0.080))
	line("  values: {wing_return: %.2f s, shift_pressure: %.0f bar, oil_in_hand: %.2f bar, gearbox_temp_peak: %.0f °C}",
		value(WingReturn), value(ShiftPressure), value(OilInHand), value(GearboxPeak))
	line("  said: %s", s.said)
	content = []byte(b.String())
	return recordName(s.at, "SQ", fmt.Sprintf("run-%d", r.Run.Number), content), content
}

// once counts an event of a run.
func once(happened bool) int {
	if happened {
		return 1
	}
	return 0
}

// fallowSheet writes the run sheet of the second car, in its team's own units.
func (r *Recording) fallowSheet(digest string) (name string, content []byte) {
	const at, mile = "2026-06-06T10:41+01:00", 1609.344 // m
	content = fmt.Appendf(nil, `at: %s
by: JF
run:
  no: %d
  session: P1
  kind: practice
  started: 2026-06-06T10:32+01:00
  driver: JF
  setup: F9-31
  tyres: FT-1
  fuel: {out: 20.0 lb, in: 17.8 lb}
  weather: {air: %.0f °F, road: 70 °F, station_pressure: %.1f inHg, road_state: dry}
  result: {time: %.2f s, finished: true}
  logs:
    - {file: %s, sha256: %s, kind: run, counter: "%d"}
  meters: {distance: %.2f mi, engine_hours: %.4f h, heat_cycles: 1}
  said: oil light came on for a moment, out of the first left
`, at, r.Run.Number, fahrenheit(r.Run.Air), r.Run.Station/inHg, r.CourseTime(), logFallow, digest, r.Run.Number, r.Driven/mile, r.Length()/3600)
	return recordName(at, "JF", fmt.Sprintf("run-%d", r.Run.Number), content), content
}

// recordName is the name of a record: time in UTC, initials, what it is, the start of its digest.
func recordName(at, by, what string, content []byte) string {
	t, err := time.Parse("2006-01-02T15:04Z07:00", at)
	if err != nil {
		panic("demo: the time of a run sheet is not a time: " + at) // a constant of this package
	}
	return fmt.Sprintf("%s-%s-%s-%s.yaml", t.UTC().Format("20060102T150405Z"), by, what, digestOf(content)[:6])
}

func digestOf(b []byte) string {
	d := sha256.Sum256(b)
	return hex.EncodeToString(d[:])
}

// CourseTime is the time from the launch to the finish line, s.
func (r *Recording) CourseTime() float64 { return r.Finish - r.Launch }

// Length is how long the log is, s.
func (r *Recording) Length() float64 { return float64(r.Millis[len(r.Millis)-1]) / 1000 }
