package demo

import (
	"fmt"
	"strings"
)

// plantedName is the file beside the car that says what is wrong with run 57.
const plantedName = "faults-planted.txt"

// plantedText writes down the planted faults of run 57 as the model has them.
func plantedText(r *Recording) []byte {
	var b strings.Builder
	line := func(format string, a ...any) { fmt.Fprintf(&b, format+"\n", a...) }
	wing, press, box := r.Truth[WingReturn], r.Truth[ShiftPressure], r.Truth[GearboxPeak]
	open := r.Run.find(OilSensorOpen).At
	line("Planted faults of run 57, Tern 3. All is invented; made by the vehicle model in internal/demo.")
	line("Times are seconds from the first row of logs/%s. Launch up the hill at %.2f s,", log57, r.Events[0].At)
	line("finish line at %.2f s. Figures are the model's own, before any sensor; in brackets", r.Events[1].At)
	line("what the same measure can come to when taken from the logged samples.")
	line("")
	line("1. Wing back to high downforce late, once. Ordered closed at %.2f s, into the hairpin;", wing.At)
	line("   over 36.5 deg after %.3f s (%.2f to %.2f). Limit: fail above 0.40 s. All other", wing.Value, wing.Low, wing.High)
	line("   closings take less than 0.28 s. Cause in the model: exhaust orifice restricted.")
	line("2. Oil temperature sensor, open circuit. Reads %d °C from %.1f s to the end; it is logged at", faultReads, open)
	line("   5 Hz, so the first such sample is at %.1f s. The oil itself goes on to %.0f °C.", nextSample(open, 0.2), r.Truth[OilPeak].Value)
	line("3. Gearbox oil hot. Peak %.1f °C at %.1f s (%.1f to %.1f). Limits: warn above 120 °C,", box.Value, box.At, box.Low, box.High)
	line("   fail above 135 °C. Cause in the model: the cooler duct taped up.")
	line("4. Shift pressure low. The pump starts late, at %.0f bar instead of 115 bar, from %.1f s. Lowest", r.Run.find(PumpLate).Size, r.Run.find(PumpLate).At)
	line("   in a shift %.1f bar at %.2f s (%.1f to %.1f), and %.1f bar in the shift at %.2f s. Limits: warn", press.Value, press.At, press.Low, press.High, secondLow.bar, secondLow.at)
	line("   below 112 bar, fail below 105 bar.")
	line("")
	line("Nothing else is wrong: the healthy variant is the same car on the same run without these four.")
	return []byte(b.String())
}

// secondLow is the other shift that the late pump brings under the limit; a test holds it true.
var secondLow = struct{ bar, at float64 }{104.4, 51.93}

// nextSample is the first sample at or after t.
func nextSample(t, period float64) float64 {
	n := int(t/period + 1 - 1e-9)
	return float64(n) * period
}
