package units

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/agnivade/levenshtein"
)

// Unit is one unit of the table.
type Unit struct {
	Symbol        string // the preferred spelling
	Type          Type
	scale, offset float64
}

// SI is a value of this unit in SI.
func (u Unit) SI(value float64) float64 { return value*u.scale + u.offset }

// Line is the scale and the offset of SI: a value in SI is value*scale + offset.
func (u Unit) Line() (scale, offset float64) { return u.scale, u.offset }

// Of is an SI value in this unit.
func (u Unit) Of(si float64) float64 { return (si - u.offset) / u.scale }

// AsDifference is the unit for differences: of °C and °F without their zero, of a
// pressure without its reference. Every other unit is its own.
func (u Unit) AsDifference() Unit {
	if u.Type.Dim == temperature || u.Type.Dim == pressure {
		u.Type.Kind, u.offset = Difference, 0
	}
	return u
}

var table = func() map[string]Unit {
	t := make(map[string]Unit, 3*len(rows))
	for _, r := range rows {
		for _, name := range r.names {
			t[name] = Unit{r.names[0], r.typ, r.scale, r.offset}
		}
	}
	return t
}()

// Lookup finds a unit by any of its spellings; the error names the nearest one.
func Lookup(symbol string) (Unit, error) {
	if u, ok := table[symbol]; ok {
		return u, nil
	}
	e := &Error{What: fmt.Sprintf("unknown unit `%s`", symbol), Remedy: "units are written as in 4.5 bar, 265 mm, 95 °C"}
	if near := nearest(symbol); near != "" {
		e.Remedy = fmt.Sprintf("did you mean `%s`?", near)
	}
	return Unit{}, e
}

func nearest(symbol string) string {
	if near, ok := misread[symbol]; ok {
		return near
	}
	allowed := 1
	if len([]rune(symbol)) > 4 {
		allowed = 2
	}
	best := ""
	for _, r := range rows {
		for _, name := range r.names {
			if strings.EqualFold(symbol, name) {
				return r.names[0]
			}
			n := len([]rune(name))
			if d := levenshtein.ComputeDistance(symbol, name); n > 1 && d < n && (d < allowed || d == allowed && best == "") {
				best, allowed = r.names[0], d
			}
		}
	}
	return best
}

// In is an SI value in the named unit. For differences of temperatures use
// Lookup and AsDifference.
func In(si float64, symbol string) (float64, error) {
	u, err := Lookup(symbol)
	if err != nil {
		return math.NaN(), err
	}
	return u.Of(si), nil
}

// Spellings lists every way each unit may be written, sorted.
func Spellings() []string {
	s := make([]string, 0, len(table))
	for name := range table {
		s = append(s, name)
	}
	slices.Sort(s)
	return s
}

// For lists up to three units of a type, as examples of what to write.
func For(t Type) []string {
	var s []string
	for _, r := range rows {
		if len(s) < 3 && fits(r.typ, t) {
			s = append(s, r.names[0])
		}
	}
	return s
}

// Format writes an SI value in a unit with so many decimals, or, below 0, with three
// significant digits and no idle zeros. It never writes -0; no number is "unknown".
func Format(si float64, u Unit, decimals int) string {
	value := u.Of(si)
	if math.IsNaN(value) {
		return "unknown"
	}
	text := number3(value)
	if decimals >= 0 && !math.IsInf(value, 0) {
		text = strconv.FormatFloat(value, 'f', decimals, 64)
	}
	if strings.Trim(text, "-0.") == "" {
		text = strings.TrimPrefix(text, "-")
	}
	if u.Symbol == "1" {
		return text
	}
	return text + " " + u.Symbol
}

// Decimals is how many decimals show three significant digits of a value, at most 6.
func Decimals(value float64) int {
	if value == 0 || math.IsInf(value, 0) || math.IsNaN(value) {
		return 0
	}
	// The exponent after rounding: 0.9996 is 1.00 in three digits.
	_, exp, _ := strings.Cut(strconv.FormatFloat(value, 'e', 2, 64), "e")
	e, _ := strconv.Atoi(exp)
	return min(max(2-e, 0), 6)
}

func number3(value float64) string {
	switch {
	case math.IsInf(value, 1):
		return "∞"
	case math.IsInf(value, -1):
		return "-∞"
	}
	text := strconv.FormatFloat(value, 'f', Decimals(value), 64)
	if strings.Contains(text, ".") {
		text = strings.TrimRight(strings.TrimRight(text, "0"), ".")
	}
	return text
}
