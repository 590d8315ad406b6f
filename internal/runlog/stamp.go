package runlog

import (
	"bytes"
	"math"
)

// Times inside the reader are whole nanoseconds, so that subtracting the first
// row's time loses nothing however long the clock has been running.
const (
	second = 1_000_000_000
	day    = 86_400 * second
)

// timeUnits are the units a counted time may have, in nanoseconds.
var timeUnits = map[string]int64{
	"s": second, "sec": second, "secs": second, "second": second, "seconds": second,
	"ms": second / 1000, "msec": second / 1000, "millis": second / 1000, "milliseconds": second / 1000,
	"us": 1000, "µs": 1000, "μs": 1000, "usec": 1000, "micros": 1000, "microseconds": 1000,
	"ns": 1, "nsec": 1, "nanoseconds": 1,
	"min": 60 * second, "mins": 60 * second, "minutes": 60 * second,
	"h": 3600 * second, "hr": 3600 * second, "hours": 3600 * second,
}

// timeUnitName is the one name of each of those units.
func timeUnitName(ns int64) string {
	switch ns {
	case 1:
		return "ns"
	case 1000:
		return "us"
	case second / 1000:
		return "ms"
	case 60 * second:
		return "min"
	case 3600 * second:
		return "h"
	}
	return "s"
}

// countedTime reads a time written as a number of units.
func countedTime(text []byte, mark byte, unit int64) (ns int64, ok bool) {
	// Whole nanoseconds without passing through a double where it can be done.
	i, neg := 0, false
	if len(text) > 0 && (text[0] == '-' || text[0] == '+') {
		neg = text[0] == '-'
		i++
	}
	scale, mant, some, markAt := unit, int64(0), false, false
	for ; i < len(text); i++ {
		d := text[i] - '0'
		switch {
		case d <= 9 && mant <= (math.MaxInt64-9)/10:
			mant = mant*10 + int64(d)
			some = true
			if markAt {
				if scale%10 != 0 {
					return roundedTime(text, mark, unit)
				}
				scale /= 10
			}
		case text[i] == mark && !markAt:
			markAt = true
		default:
			return roundedTime(text, mark, unit)
		}
	}
	if !some || mant > math.MaxInt64/2/scale {
		return roundedTime(text, mark, unit)
	}
	if neg {
		mant = -mant
	}
	return mant * scale, true
}

func roundedTime(text []byte, mark byte, unit int64) (int64, bool) {
	v, ok := parseNumber(text, mark)
	if !ok {
		return 0, false
	}
	if v *= float64(unit); math.Abs(v) >= math.MaxInt64/2 {
		return 0, false
	}
	return int64(math.Round(v)), true
}

// clockTime reads a time of day, with a date and a zone or without:
// 09:42:00.000, 42:00.5, 9:42:00 PM, 2026-05-16T09:42:00.000+01:00. A date that
// is not written year first is not used: its order cannot be told.
func clockTime(text []byte) (ns int64, kind TimeKind, ok bool) {
	kind = Clock
	date, rest, dated := cutDate(text)
	if dated {
		text = rest
		if date != noDate {
			kind, ns = Stamp, date*day
		}
	}
	var fields [3]int64
	n := 0
	for n < 3 {
		i, v := 0, int64(0)
		for i < len(text) && text[i]-'0' <= 9 && i < 4 {
			v = v*10 + int64(text[i]-'0')
			i++
		}
		if i == 0 {
			return 0, 0, false
		}
		fields[n] = v
		n++
		text = text[i:]
		if n == 3 || len(text) == 0 || text[0] != ':' {
			break
		}
		text = text[1:]
	}
	switch n {
	case 2: // minutes and seconds
		fields[0], fields[1], fields[2] = 0, fields[0], fields[1]
	case 1:
		return 0, 0, false
	}
	if fields[0] > 24 || (n == 3 && fields[1] > 59) || fields[2] > 60 {
		return 0, 0, false
	}
	ns += (fields[0]*3600 + fields[1]*60 + fields[2]) * second
	if len(text) > 0 && (text[0] == '.' || text[0] == ',' || (text[0] == ':' && n == 3)) {
		text = text[1:]
		if len(text) == 0 || text[0]-'0' > 9 {
			return 0, 0, false
		}
		for unit := int64(second / 10); len(text) > 0 && text[0]-'0' <= 9; unit /= 10 {
			ns += int64(text[0]-'0') * unit
			text = text[1:]
		}
	}
	text = bytes.TrimLeft(text, " ")
	if half := bytes.ToUpper(text[:min(2, len(text))]); len(half) == 2 && half[1] == 'M' && (half[0] == 'A' || half[0] == 'P') && n == 3 {
		if fields[0] == 0 || fields[0] > 12 {
			return 0, 0, false
		}
		if fields[0] == 12 {
			ns -= 12 * 3600 * second
		}
		if half[0] == 'P' {
			ns += 12 * 3600 * second
		}
		text = bytes.TrimLeft(text[2:], " ")
	}
	zone, ok := cutZone(text)
	if !ok {
		return 0, 0, false
	}
	if kind == Stamp {
		ns -= zone
	}
	return ns, kind, true
}

// noDate is a date whose order of day and month cannot be told.
const noDate = math.MinInt64

// cutDate takes a date and the T or blank after it off the front. The date is
// in days from 1970-01-01.
func cutDate(text []byte) (days int64, rest []byte, ok bool) {
	var fields [3]int64
	var sep byte
	i, yearFirst := 0, false
	for n := range 3 {
		start := i
		for i < len(text) && text[i]-'0' <= 9 && i-start < 5 {
			fields[n] = fields[n]*10 + int64(text[i]-'0')
			i++
		}
		if i == start || i == len(text) {
			return 0, text, false
		}
		if n == 0 {
			yearFirst = i-start == 4
			sep = text[i]
			if sep != '-' && sep != '/' && sep != '.' {
				return 0, text, false
			}
		}
		if n < 2 {
			if text[i] != sep {
				return 0, text, false
			}
			i++
		}
	}
	if text[i] != 'T' && text[i] != 't' && text[i] != ' ' {
		return 0, text, false
	}
	rest = bytes.TrimLeft(text[i+1:], " ")
	if !yearFirst {
		return noDate, rest, true
	}
	y, m, d := fields[0], fields[1], fields[2]
	if y < 1900 || y > 2199 || m < 1 || m > 12 || d < 1 || d > 31 {
		return 0, text, false
	}
	return daysFrom1970(y, m, d), rest, true
}

// daysFrom1970 counts days in the Gregorian calendar, the year taken to begin
// in March so that the leap day is its last.
func daysFrom1970(y, m, d int64) int64 {
	if m <= 2 {
		y--
		m += 12
	}
	return 365*y + y/4 - y/100 + y/400 + (153*(m-3)+2)/5 + d - 1 - 719_468
}

// cutZone reads what may follow a time: nothing, Z, +01:00, +0100, +01.
func cutZone(text []byte) (ns int64, ok bool) {
	if len(text) == 0 || string(text) == "Z" || string(text) == "z" || string(text) == "UTC" {
		return 0, true
	}
	if text[0] != '+' && text[0] != '-' {
		return 0, false
	}
	neg := text[0] == '-'
	text = text[1:]
	if len(text) == 5 && text[2] == ':' {
		text = append(append(make([]byte, 0, 4), text[:2]...), text[3:]...)
	}
	if len(text) != 2 && len(text) != 4 {
		return 0, false
	}
	v := int64(0)
	for _, ch := range text {
		if ch-'0' > 9 {
			return 0, false
		}
		v = v*10 + int64(ch-'0')
	}
	if len(text) == 2 {
		v *= 100
	}
	if v%100 > 59 || v > 1500 {
		return 0, false
	}
	ns = (v/100*3600 + v%100*60) * second
	if neg {
		ns = -ns
	}
	return ns, true
}
