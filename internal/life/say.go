package life

import (
	"math"
	"strconv"
	"strings"
)

// Number writes an amount in the meter's unit as finely as anybody wrote it: "640",
// "970 to 1270", "at least 5.2", "unknown".
func (m *Meter) Number(a Amount) string {
	if m == nil {
		return number(a, 0, 0)
	}
	return number(a, m.Decimals, m.significant())
}

// Say is Number with the unit.
func (m *Meter) Say(a Amount) string {
	s, u := m.Number(a), unitOf(m)
	if u == "" || s == "unknown" {
		return s
	}
	return s + " " + u
}

// significant is how many figures to print where the size is not known beforehand: damage
// runs over powers of ten.
func (m *Meter) significant() int {
	if m.damage != nil {
		return 3
	}
	return 0
}

func number(a Amount, decimals, significant int) string {
	one := func(v float64) string {
		if significant > 0 {
			return strconv.FormatFloat(v, 'g', significant, 64)
		}
		s := strconv.FormatFloat(v, 'f', decimals, 64)
		if strings.HasPrefix(s, "-") && strings.Trim(s, "-0.") == "" {
			s = s[1:]
		}
		if strings.Contains(s, ".") {
			s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
		}
		return s
	}
	low, high := math.IsInf(a.Low, -1), math.IsInf(a.High, 1)
	switch {
	case math.IsNaN(a.Low) || math.IsNaN(a.High), (low || a.Low == 0) && high:
		return "unknown"
	case high:
		return "at least " + one(a.Low)
	case low:
		return "at most " + one(a.High)
	case one(a.Low) == one(a.High):
		return one(a.Low)
	}
	return one(a.Low) + " to " + one(a.High)
}

// Percent writes a share: "12.4 %"; what is next to nothing is not written as nothing.
func Percent(a Amount) string {
	if a.High > 0 && a.High < 0.001 {
		return "under 0.1 %"
	}
	s := number(Amount{a.Low * 100, a.High * 100, false}, 1, 0)
	if s == "unknown" {
		return s
	}
	return s + " %"
}

// Words is what a meter is called in a line.
func (m *Meter) Words() string {
	if m == nil {
		return Calendar
	}
	if m.Label != "" {
		return m.Label
	}
	return strings.ReplaceAll(m.Name, "_", " ")
}

// Words says which limit falls first: "clutch pack CL-05, launches 47 of 60, 8 planned: 55".
// Of a nil First it is "".
func (f *First) Words() string {
	if f == nil {
		return ""
	}
	l, m := f.Limit, f.Limit.Meter
	s := f.Part.Kind + " " + f.Part.Serial + ", " + m.Words() + " "
	if l.Falls == Now {
		s += m.Number(l.Used) + " of " + m.Say(counted(l.Life))
		if !l.IsOver() {
			return s + ": may be over now"
		}
		return s + ": over now"
	}
	s += m.Number(l.Used) + " of " + m.Say(counted(l.Life)) + ", " + m.Number(l.Planned) + " planned: " + m.Number(l.WithPlan())
	if l.Falls != "" {
		s += ", falls in " + l.Falls
	}
	return s
}

// Exact writes a number in full, without what adding decimals in binary leaves behind; ""
// where it is not known.
func Exact(f float64) string {
	if math.IsInf(f, 0) || math.IsNaN(f) {
		return ""
	}
	return strconv.FormatFloat(round(f), 'f', -1, 64)
}
