package classregs

import (
	"fmt"
	"regexp"
	"strconv"
	"time"
)

// TyreSize is what a marking says of a tyre, in mm and inches.
type TyreSize struct {
	Section  float64 // width of section, mm
	Diameter float64 // outer diameter as designed, mm
	Rim      float64 // rim diameter, inches
}

// Two ways to mark a size are in use: section/aspect R rim (275/40 R20, ISO 4000-1), and that
// of competition tyres, section/diameter-rim (240/640-18 or 240/640R18; common practice).
var marking = regexp.MustCompile(`^\s*(\d{2,3})/(\d{2,3})\s*(?:[A-Z]*R|-|B)\s*(\d{2}(?:\.\d)?)\b`)

// ParseTyre reads a marking; what follows the size (load, speed, compound) is left.
// The design diameter is 2·section·aspect + 25.4·rim, section heights rounded to 1 mm and the
// rim to 1 mm as the standard's tables have it.
func ParseTyre(text string) (TyreSize, error) {
	m := marking.FindStringSubmatch(text)
	if m == nil {
		return TyreSize{}, fmt.Errorf("%q is no tyre size; write it as it is moulded: 275/40R20 or 240/640R18", text)
	}
	section, _ := strconv.ParseFloat(m[1], 64)
	second, _ := strconv.ParseFloat(m[2], 64)
	rim, _ := strconv.ParseFloat(m[3], 64)
	size := TyreSize{Section: section, Rim: rim}
	if second < 100 {
		size.Diameter = 2*whole(section*second/100) + whole(25.4*rim)
	} else {
		size.Diameter = second
	}
	return size, nil
}

func whole(x float64) float64 { return float64(int(x + 0.5)) }

// MadeInWeek reads a date code of four figures, week and year: "4825" is the Monday of week 48 of
// 2025. Weeks as ISO 8601 counts them.
func MadeInWeek(code string) (time.Time, error) {
	n, err := strconv.Atoi(code)
	week, year := n/100, 2000+n%100
	if err != nil || len(code) != 4 || week < 1 || week > 53 {
		return time.Time{}, fmt.Errorf("%q is no date code; write the four figures in the oval: week and year, 4825", code)
	}
	// 4 January is always in week 1.
	day := time.Date(year, 1, 4, 0, 0, 0, 0, time.UTC)
	monday := day.AddDate(0, 0, -(int(day.Weekday())+6)%7)
	return monday.AddDate(0, 0, 7*(week-1)), nil
}
