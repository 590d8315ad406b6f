package trade

import "math"

// Signal is what a transmitted signal says beside its value.
type Signal uint8

// The states of a signal.
const (
	SignalValid      Signal = iota
	SignalOutside           // beyond its range, but no fault yet
	SignalFault             // the sensor or its wire reports a fault
	SignalNotThere          // not available, or no number
	SignalUnassigned        // a code that says nothing of the value
)

// CurrentLoop is the state of a 4 to 20 mA signal by NAMUR NE 43: 3.8 to 20.5 mA is measured, under 3.6 and
// over 21 mA is a fault, between them nothing is laid down. In mA.
func CurrentLoop(milliamps float64) Signal {
	switch {
	case math.IsNaN(milliamps):
		return SignalNotThere
	case milliamps < 3.6 || milliamps > 21:
		return SignalFault
	case milliamps < 3.8 || milliamps > 20.5:
		return SignalOutside
	}
	return SignalValid
}

// Ratiometric is the state of a sensor that gives 10 to 90 % of its supply: between 4 and 96 % it says that it
// is beyond its range, and further out that it or its wire is broken. (Allegro A17700, as one such sensor; FSAE
// Rules 2026, T.4.2.10 call 0.5 and 4.5 V of 5 V the limits.) share is of the supply, 0 to 1.
func Ratiometric(share float64) Signal {
	switch {
	case math.IsNaN(share):
		return SignalNotThere
	case share < 0.04 || share > 0.96:
		return SignalFault
	case share < 0.1 || share > 0.9:
		return SignalOutside
	}
	return SignalValid
}

// J1939 is the state of a raw value of so many bytes (1, 2 or 4) by SAE J1939-71: up to FA.. is valid, FB.. says
// something of its own, FC.. and FD.. are reserved, FE.. is an error, FF.. not available. The table is from memory,
// confirmed by the scalings of public parameters.
func J1939(raw float64, bytes int) Signal {
	if math.IsNaN(raw) || raw < 0 || raw != math.Trunc(raw) || bytes != 1 && bytes != 2 && bytes != 4 || raw >= math.Pow(256, float64(bytes)) {
		return SignalNotThere
	}
	switch top := int(raw / math.Pow(256, float64(bytes-1))); {
	case top == 0xff:
		return SignalNotThere
	case top == 0xfe:
		return SignalFault
	case top > 0xfa:
		return SignalUnassigned
	}
	return SignalValid
}
