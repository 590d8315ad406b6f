package units

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Parse reads a quantity such as `4.5 bar`, `-0.10 deg`, `95 °C`, `59.0 %`, `12e3 rpm`
// or a bare `1`. It refuses decimal commas, digits grouped by commas, hexadecimal,
// infinities and what is not a number. Errors are *Error.
//
// A unit that is open in kind, as `bar` is, stays so: Check closes it.
func Parse(text string) (Quantity, error) {
	number, rest, err := cutNumber(text)
	if err != nil {
		return Quantity{}, err
	}
	q := Quantity{Value: number, SI: number, Unit: strings.TrimSpace(rest)}
	if q.Unit == "" {
		return q, nil
	}
	u, err := Lookup(q.Unit)
	if err != nil {
		if _, second, ok := strings.Cut(q.Unit, " "); ok && numberEnd(second) > 0 {
			err = &Error{fmt.Sprintf("`%s` has two numbers", strings.TrimSpace(text)), "write one, as in 9.5 min"}
		}
		return Quantity{}, err
	}
	q.SI, q.Type = u.SI(number), u.Type
	if math.IsInf(q.SI, 0) {
		return Quantity{}, &Error{fmt.Sprintf("`%s` is too large a number", text), "look at its exponent"}
	}
	return q, nil
}

// cutNumber reads the number at the start of a text.
func cutNumber(text string) (number float64, rest string, err error) {
	s := strings.TrimSpace(text)
	end := numberEnd(s)
	if end == 0 {
		switch {
		case s == "":
			return 0, "", &Error{"there is no value", "write a number and its unit, or `unknown`"}
		case strings.HasPrefix(s, "−") || strings.HasPrefix(s, "–"):
			return 0, "", &Error{fmt.Sprintf("`%s` starts with a dash that is no minus sign", s), "write -"}
		case strings.HasPrefix(s, "- "):
			return 0, "", &Error{fmt.Sprintf("`%s` is not a number", s), "no space after the minus"}
		}
		return 0, "", &Error{fmt.Sprintf("`%s` does not start with a number", s), "write a number and its unit, as in 4.5 bar"}
	}
	number, rest = 0, s[end:]
	if number, err = strconv.ParseFloat(s[:end], 64); err != nil {
		return 0, "", &Error{fmt.Sprintf("`%s` is too large a number", s), "look at its exponent"}
	}
	if len(rest) > 1 && rest[0] == ',' && isDigit(rest[1]) {
		return 0, "", commaError(s, s[:end], rest[1:])
	}
	if rest != "" && (isDigit(rest[0]) || rest[0] == '.' || rest[0] == ',' || rest[0] == '_') || numberEnd(strings.TrimSpace(rest)) > 0 && !table1(rest) {
		return 0, "", &Error{fmt.Sprintf("`%s` is not one number and one unit", s), "write it as in 4.5 bar"}
	}
	if len(rest) > 1 && s[end-1] == '0' && (rest[0] == 'x' || rest[0] == 'X') && end <= 2 {
		return 0, "", &Error{fmt.Sprintf("`%s` is hexadecimal", s), "write a decimal number"}
	}
	return number, rest, nil
}

// table1 says that a text is a unit although it starts with a digit, as 1/min does.
func table1(s string) bool {
	_, ok := table[strings.TrimSpace(s)]
	return ok
}

func commaError(all, before, after string) error {
	digits := 0
	for digits < len(after) && isDigit(after[digits]) {
		digits++
	}
	remedy := fmt.Sprintf("write `%s.%s`", before, after)
	if digits == 3 {
		remedy = fmt.Sprintf("write `%s%s`, or `%s.%s` if the comma is a decimal one", before, after, before, after)
	}
	return &Error{fmt.Sprintf("`%s` has a comma in its number", all), remedy}
}

// numberEnd is where a decimal number at the start of s ends; 0 if there is none.
func numberEnd(s string) int {
	i := 0
	if i < len(s) && (s[i] == '-' || s[i] == '+') {
		i++
	}
	start := i
	for i < len(s) && isDigit(s[i]) {
		i++
	}
	whole := i - start
	if i+1 < len(s) && s[i] == '.' && isDigit(s[i+1]) {
		for i++; i < len(s) && isDigit(s[i]); i++ {
		}
	} else if whole == 0 {
		return 0
	}
	if whole == 0 && s[start] != '.' {
		return 0
	}
	if i < len(s) && (s[i] == 'e' || s[i] == 'E') {
		j := i + 1
		if j < len(s) && (s[j] == '-' || s[j] == '+') {
			j++
		}
		if j < len(s) && isDigit(s[j]) {
			for i = j; i < len(s) && isDigit(s[i]); i++ {
			}
		}
	}
	return i
}

func isDigit(c byte) bool { return '0' <= c && c <= '9' }

// ParseRange reads `0 bar..160 bar`, `100..600 N·m` or `0..6`: both ends of one type,
// the lower not above the upper. An end without a unit takes the other's.
func ParseRange(text string) (low, high Quantity, err error) {
	before, after, ok := strings.Cut(text, "..")
	if !ok {
		return low, high, &Error{fmt.Sprintf("`%s` is not a range", text), "write it as in 0 bar..160 bar"}
	}
	if high, err = Parse(after); err != nil {
		return low, high, err
	}
	if numberEnd(strings.TrimSpace(before)) == len(strings.TrimSpace(before)) && before != "" {
		before += " " + high.Unit
	}
	if low, err = Parse(before); err != nil {
		return low, high, err
	}
	if low.Type != high.Type {
		return low, high, &Error{fmt.Sprintf("`%s` goes from %s to %s", text, a(low.Type), a(high.Type)), "write both ends in one unit"}
	}
	if low.SI > high.SI {
		return low, high, &Error{fmt.Sprintf("`%s` ends below its start", text), "write the lower end first"}
	}
	return low, high, nil
}

// Check gives the quantity as the type a place wants: an open kind takes the place's,
// a temperature where a difference is wanted becomes one. Anything else that does not
// fit is an *Error.
func Check(q Quantity, want Type) (Quantity, error) {
	if q.Type == want || q.Type.Dim == want.Dim && want.Kind == Open {
		return q, nil
	}
	if q.Type.Dim == want.Dim {
		if q.Type.Kind == Open {
			q.Type = want
			return q, nil
		}
		if want.Kind == Difference && q.Type.Kind == Point {
			if u, err := Lookup(q.Unit); err == nil {
				q.SI, q.Type = u.AsDifference().SI(q.Value), want
				return q, nil
			}
		}
	}
	return q, misfit(q, want)
}

func misfit(q Quantity, want Type) error {
	written := strings.TrimSpace(strconv.FormatFloat(q.Value, 'g', -1, 64) + " " + q.Unit)
	e := &Error{What: fmt.Sprintf("`%s` is %s, but %s is wanted", written, a(q.Type), a(want))}
	if examples := For(want); len(examples) > 0 {
		e.Remedy = "write it in " + strings.Join(examples, ", ")
	}
	switch {
	case q.Unit == "g" && want.Dim == acceleration:
		e.Remedy = "g is gram: did you mean `g0`?"
	case q.Unit == "":
		e.What = fmt.Sprintf("`%s` has no unit, but %s is wanted", written, a(want))
	case q.Type.Dim == pressure && want.Dim == pressure && want.Kind == Difference:
		e.Remedy = "write a difference in bar, kPa, psi"
	case q.Type.Dim == pressure && want.Dim == pressure:
		e.Remedy = "going from one to the other takes the station pressure: write the value as it was read, in the field for it"
	case want == Number:
		e.Remedy = "write a plain number, or a share in %"
	}
	return e
}
