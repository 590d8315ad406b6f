package report

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/paintmark/paintmark/internal/check"
)

// decimals is how many decimals a line needs: three figures of the largest value,
// more where the difference would otherwise read as nothing.
func decimals(difference float64, values ...float64) int {
	largest := 0.0
	for _, v := range values {
		if a := math.Abs(v); known(v) && a > largest {
			largest = a
		}
	}
	d := 0
	if largest > 0 {
		d = min(3, max(0, 2-int(math.Floor(math.Log10(largest)))))
	}
	for d < 6 && difference != 0 && math.Abs(difference) < 0.5*math.Pow10(-d) {
		d++
	}
	return d
}

// shortest drops decimals that are zero in every value of the line.
func shortest(d int, values ...float64) int {
	same := func(v float64) bool { return !known(v) || trimmed(v, d) == trimmed(v, d-1) }
	for d > 0 && !slices.ContainsFunc(values, func(v float64) bool { return !same(v) }) {
		d--
	}
	return d
}

func known(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// fixed writes v with d decimals; never "-0".
func fixed(v float64, d int) string {
	s := strconv.FormatFloat(v, 'f', d, 64)
	if strings.HasPrefix(s, "-") && strings.Trim(s, "-0.") == "" {
		s = s[1:]
	}
	return s
}

// trimmed is fixed without the zeros that end it.
func trimmed(v float64, d int) string {
	s := fixed(v, d)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	return s
}

func withUnit(number, unit string) string {
	if unit == "" || unit == "1" {
		return number
	}
	return number + " " + unit
}

// figures are the numbers of one line, all with the same decimals.
type figures struct{ have, limit, inHand, between string }

func figuresOf(r *check.Result) figures {
	var f figures
	if r.Measured == nil {
		return f
	}
	m := r.Measured
	values, difference := []float64{m.Value}, 0.0
	if !known(m.Value) {
		values = []float64{m.Low, m.High}
	}
	if r.Limit != nil {
		values = append(values, r.Limit.Value)
		if r.Limit.Kind == "a to b" {
			values = append(values, r.Limit.Upper)
		}
	}
	if r.Margin != nil {
		difference = *r.Margin
	}
	d := decimals(difference, values...)
	d = shortest(d, append(values, difference, m.Low, m.High)...)
	switch {
	case known(m.Value):
		f.have = withUnit(fixed(m.Value, d), m.Unit)
	case known(m.Low):
		f.have = "over " + withUnit(fixed(m.Low, d), m.Unit)
	case known(m.High):
		f.have = "under " + withUnit(fixed(m.High, d), m.Unit)
	}
	low, high := fixed(m.Low, d), fixed(m.High, d)
	switch {
	case low == high:
	case known(m.Low) && known(m.High):
		f.between = withUnit(low+" to "+high, m.Unit)
	case known(m.Low):
		f.between = "at least " + withUnit(low, m.Unit)
	case known(m.High):
		f.between = "at most " + withUnit(high, m.Unit)
	}
	if l := r.Limit; l != nil {
		f.limit = limitWords(*l, d)
	}
	if r.Margin != nil && known(*r.Margin) {
		f.inHand = fixed(*r.Margin, d)
		if !strings.HasPrefix(f.inHand, "-") {
			f.inHand = "+" + f.inHand
		}
	}
	return f
}

// limitWords is "0.32 max", "105 min" or "1.30 to 1.40": no symbols to learn. Up to two
// decimals it lines up with the value beside it; beyond that a limit stays as short as it is.
func limitWords(l check.Limit, d int) string {
	write := fixed
	if d > 2 {
		write = trimmed
	}
	if l.Kind == "a to b" {
		return write(l.Value, d) + " to " + write(l.Upper, d)
	}
	return write(l.Value, d) + " " + l.Kind
}

// seconds writes a time in the log as finely as it is known.
func seconds(at check.At) string {
	d := 2
	for d < 4 && at.Within > 0 && at.Within < 0.5*math.Pow10(-d) {
		d++
	}
	return fixed(at.Time, d) + " s"
}
