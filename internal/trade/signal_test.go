package trade

import (
	"math"
	"testing"
)

// NAMUR NE 43: < 3.6 fault; 3.6 to 3.8 undefined; 3.8 to 20.5 valid; 20.5 to 21 undefined; > 21 mA fault.
func TestCurrentLoop(t *testing.T) {
	for mA, want := range map[float64]Signal{
		0: SignalFault, 3.59: SignalFault, 3.6: SignalOutside, 3.79: SignalOutside, 3.8: SignalValid, 4: SignalValid, 20: SignalValid,
		20.5: SignalValid, 20.51: SignalOutside, 21: SignalOutside, 21.01: SignalFault,
	} {
		if got := CurrentLoop(mA); got != want {
			t.Errorf("%v mA: %v, want %v", mA, got, want)
		}
	}
	if CurrentLoop(math.NaN()) != SignalNotThere {
		t.Error("no number is there")
	}
}

// Allegro A17700: 10 to 90 % of supply is measured, 4 to 10 and 90 to 96 % beyond the range, clamps at 4 and 96 %.
func TestRatiometric(t *testing.T) {
	for volts, want := range map[float64]Signal{
		0: SignalFault, 0.19: SignalFault, 0.2: SignalOutside, 0.49: SignalOutside, 0.5: SignalValid, 2.5: SignalValid, 4.5: SignalValid,
		4.51: SignalOutside, 4.8: SignalOutside, 4.81: SignalFault, 5: SignalFault,
	} {
		if got := Ratiometric(volts / 5); got != want {
			t.Errorf("%v V: %v, want %v", volts, got, want)
		}
	}
}

// SAE J1939-71: 8-bit 00-FA valid, FB own, FC-FD reserved, FE error, FF not available; 16 and 32 bits by their top byte.
func TestJ1939(t *testing.T) {
	for _, c := range []struct {
		raw   float64
		bytes int
		want  Signal
	}{
		{0, 1, SignalValid},
		{0xfa, 1, SignalValid},
		{0xfb, 1, SignalUnassigned},
		{0xfd, 1, SignalUnassigned},
		{0xfe, 1, SignalFault},
		{0xff, 1, SignalNotThere},
		{64255, 2, SignalValid}, // FAFF: SPN 27 at its greatest, 160.6375 %
		{64256, 2, SignalUnassigned},
		{0xfe00, 2, SignalFault},
		{0xfeff, 2, SignalFault},
		{0xff00, 2, SignalNotThere},
		{0xfaffffff, 4, SignalValid},
		{0xfe000000, 4, SignalFault},
		{256, 1, SignalNotThere},
		{1.5, 1, SignalNotThere},
		{1, 3, SignalNotThere},
	} {
		if got := J1939(c.raw, c.bytes); got != c.want {
			t.Errorf("%x of %d bytes: %v, want %v", int64(c.raw), c.bytes, got, c.want)
		}
	}
}
