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
	smooth := r.Truth[GearboxSmooth]
	wing, press, box, start := r.Truth[WingReturn], r.Truth[ShiftPressure], r.Truth[GearboxPeak], r.Truth[PumpStart]
	open := r.Run.find(OilSensorOpen).At
	line("Planted faults of run 57, Tern 3. All is invented; made by the vehicle model in internal/demo.")
	line("Times are seconds from the first row of logs/%s. Launch up the hill at %.2f s,", log57, r.Launch)
	line("finish line at %.2f s. Figures are the model's own, before any sensor; in brackets", r.Finish)
	line("what the same measure can come to when taken from the logged samples.")
	line("")
	line("1. Wing back to high downforce late, once. Ordered closed at %.2f s, into the hairpin;", wing.At)
	others := 0.0
	for _, c := range r.Closings {
		if c.At != wing.At {
			others = max(others, c.Value)
		}
	}
	line("   over 36.5 deg after %.3f s (%.2f to %.2f). Limit: fail above 0.40 s. The other", wing.Value, wing.Low, wing.High)
	line("   closings take up to %.3f s. Cause in the model: exhaust orifice restricted.", others)
	line("2. Oil temperature sensor, open circuit. Reads %d °C from %.1f s to the end; it is logged at", faultReads, open)
	line("   5 Hz, so the first such sample is at %.1f s. The oil itself goes on to %.0f °C.", nextSample(open, 0.2), r.Truth[OilPeak].Value)
	line("3. Gearbox oil hot. Peak %.1f °C at %.1f s (%.1f to %.1f). Limits: warn above 120 °C,", box.Value, box.At, box.Low, box.High)
	line("   fail above 135 °C. The mean of 2 s is highest at %.1f s, %.1f °C. Cause: the tape of the cold", smooth.At, smooth.Value)
	line("   morning left on the cooler duct (measured/ has it on before the run, and off since).")
	late := r.Run.find(PumpLate)
	line("4. Shift pressure low. The pump starts late, at %.0f bar instead of 115 bar, from %.1f s. Lowest", late.Size, late.At)
	line("   in a shift %.1f bar at %.2f s (%.1f to %.1f). All shifts below 112 bar:", press.Value, press.At, press.Low, press.High)
	for _, s := range r.ShiftLows {
		if s.Value < 112 {
			line("     %.1f bar at %.2f s", s.Value, s.At)
		}
	}
	line("   Limits: warn below 112 bar, fail below 105 bar. The pump itself: under 113 bar from %.2f s, on %.2f s", start.At, start.Value)
	line("   later (%.2f to %.2f); limit 0.5 s.", start.Low, start.High)
	line("")
	line("Nothing else is wrong; what follows from these (no oil temperature after %.1f s) is no other", open)
	line("fault. The healthy variant is the same car on the same run without these four.")
	line("")
	line("What the bundled rules and plugins should answer, and when (s, good to ±):")
	found := func(rule, outcome string, at, within float64) {
		line("  %-28s %-8s %6.2f ± %.2f", rule, outcome, at, within)
	}
	found("wing.close-time", "fail", wing.At, 0.02)
	found("failsafe.wing-losses", "fail", wing.At, 0.02)
	found("hydraulics.shift-pressure", "fail", press.At, 0.03)
	found("hydraulics.pump-starts", "fail", start.At, 0.10)
	found("gearbox.oil-temp", "warn", smooth.At, 0.40)
	found("engine.oil-before-load", "no data", nextSample(open, 0.2), 0.20)
	found("engine.oil-peak", "no data", nextSample(open, 0.2), 0.20)
	found("sensors.oil-temp", "no data", nextSample(open, 0.2), 0.20)
	found("sensors.oil-step", "no data", nextSample(open, 0.2), 0.20)
	found("sensorhealth.noise", "no data", nextSample(open, 0.2), 0.20)
	found("sensorhealth.noise-rise", "no data", nextSample(open, 0.2), 0.20)
	found("protection.seen", "no data", nextSample(open, 0.2), 0.20)
	found("failsafe.trips", "no data", nextSample(open, 0.2), 0.20)
	line("For no data the time is that from which oil_temp is unseen.")
	return []byte(b.String())
}

// plantedFallow writes down the planted fault of the second car's log, as logged.
func plantedFallow(r *Recording) []byte {
	f := r.Run.find(OilDip)
	return fmt.Appendf(nil, `Planted fault of run %d, Fallow 9. All is invented; made by the vehicle model in internal/demo.
Times are seconds from the first row of logs/%s.

1. Oil pressure pulled down by %.1f bar (%.1f psi) for %.1f s from %.2f s, out of the first left at full throttle:
   the oil has run away from the pick-up of the wet sump. Elsewhere it keeps to the line in the model.
`, r.Run.Number, logFallow, f.Size, f.Size*bar/psi, f.For, r.Dip)
}

// nextSample is the first sample at or after t.
func nextSample(t, period float64) float64 {
	n := int(t/period + 1 - 1e-9)
	return float64(n) * period
}
