package classregs

import (
	"math"
	"testing"
	"time"
)

func day(text string) time.Time {
	t, err := time.Parse(time.DateOnly, text)
	if err != nil {
		panic(err)
	}
	return t
}

func TestBulletinsTakeEffectOnTheirDay(t *testing.T) {
	all, err := books()
	if err != nil {
		t.Fatal(err)
	}
	book := all["VI-2026"]
	for _, c := range []struct {
		on     string
		height float64
		months int
	}{
		{"2026-02-01", 1500, 48},
		{"2026-03-14", 1500, 48},
		{"2026-03-15", 1450, 48},
		{"2026-04-27", 1450, 36},
		{"2026-12-31", 1450, 36},
	} {
		rules, err := book.On(day(c.on))
		if err != nil {
			t.Fatal(err)
		}
		if rules.Wing.AboveGround != c.height || rules.Tyres.Age != c.months {
			t.Errorf("on %s: wing %g mm, tyres %d months, want %g and %d", c.on, rules.Wing.AboveGround, rules.Tyres.Age, c.height, c.months)
		}
		if rules.Wing.Span != 1600 {
			t.Errorf("on %s: a bulletin took away the span it does not name: %g mm", c.on, rules.Wing.Span)
		}
	}
	if _, err := book.On(day("2026-01-31")); err == nil {
		t.Error("rules before the first edition")
	}
}

func TestABookIsReadStrictly(t *testing.T) {
	for _, text := range []string{
		`{"book": "X"}`,
		`{"book": "X", "editions": [{"rules": {}}]}`,
		`{"book": "X", "editions": [{"in_force": "2026-02-01", "rules": {"clases": []}}]}`,
		`{"book": "X", "editions": [{"in_force": "2026-02-30", "rules": {}}]}`,
		`{"book": "X", "editions": [{"in_force": "2026-02-01", "rules": {}}], "bulletins": [{"no": "B1", "issued": "2026-03-01", "effective": "2026-03-01", "changes": {"wings": {}}}]}`,
		`{"book": "X", "editions": [{"in_force": "2026-02-01", "rules": {}}], "bulletins": [{"no": "B1", "changes": {}}]}`,
	} {
		if _, err := readBook([]byte(text)); err == nil {
			t.Errorf("read without complaint: %s", text)
		}
	}
}

// 1998 cm³ with a turbo and a factor of 1.7 class as 3396.6 cm³ (the factor: FIA Appendix J,
// Art. 277 with 252-3.1, as a national rally rule prints it, 1000 cm³ to 1700).
func TestEquivalentCapacity(t *testing.T) {
	rules := Rules{
		Equivalence:   map[string]float64{"turbo": 1.7, "natural": 1},
		Classes:       []Class{{"A", 2000}, {"B", 3396.6}, {"C", 0}},
		MinimumWeight: []Weight{{2000, 700}, {3500, 800}},
	}
	eq, err := rules.Equivalent(1998, "turbo")
	if err != nil || math.Abs(eq-3396.6) > 1e-9 {
		t.Errorf("1998 cm³ turbo: %g, %v", eq, err)
	}
	if _, err := rules.Equivalent(1998, "steam"); err == nil {
		t.Error("a factor for steam")
	}
	for cm3, want := range map[float64]string{1999: "A", 2000: "A", 2001: "B", 3400: "C"} {
		if got, _ := rules.ClassOf(cm3); got != want {
			t.Errorf("%g cm³ is class %s, want %s", cm3, got, want)
		}
	}
	if _, err := rules.LeastWeight(4000); err == nil {
		t.Error("a least weight beyond the table")
	}
}

// 275/40R20: 2·0.40·275 + 508 = 728 mm. 205/55R16: 113 mm of section height twice and 406 mm,
// 632 mm (ISO 4000-1 rounding, from memory).
func TestTyreMarkings(t *testing.T) {
	for text, want := range map[string]TyreSize{
		"275/40R20":       {275, 728, 20},
		"275/40 ZR20 106": {275, 728, 20},
		"205/55R16":       {205, 632, 16},
		"240/640R18":      {240, 640, 18},
		"200/57-13":       {200, 558, 13},
	} {
		got, err := ParseTyre(text)
		if err != nil || got != want {
			t.Errorf("%s: %+v, %v; want %+v", text, got, err, want)
		}
	}
	for _, text := range []string{"", "soft", "275", "275/40", "R20"} {
		if _, err := ParseTyre(text); err == nil {
			t.Errorf("%q was read as a size", text)
		}
	}
	made, err := MadeInWeek("4825")
	if err != nil || made.Format(time.DateOnly) != "2025-11-24" {
		t.Errorf("4825: %v, %v", made, err)
	}
	// 2020 had 53 weeks; week 1 of 2021 began on 4 January.
	if made, _ := MadeInWeek("0121"); made.Format(time.DateOnly) != "2021-01-04" {
		t.Errorf("0121: %v", made)
	}
	for _, text := range []string{"", "0026", "5426", "26", "abcd"} {
		if _, err := MadeInWeek(text); err == nil {
			t.Errorf("%q was read as a date code", text)
		}
	}
}

// The shapes of expiry that published standards have, with their published dates: each
// from the summaries named; the official text in force prevails.
func TestEachStandardHasItsOwnExpiry(t *testing.T) {
	rules := Rules{Safety: map[string]map[string]Label{
		"seat": {
			"8855-1999": {YearsFromMade: 5, To: "end of year"}, // labels from 1 Jan 2014: specialstage.com
			"8862-2009": {YearsFromMade: 10, To: "end of year"},
		},
		"harness":     {"8853/98": {YearsFromMade: 5, To: "end of year", NotAcceptedAfter: Day{day("2022-12-31")}}}, // hscc.org.uk
		"fuel cell":   {"FT3-1999": {YearsFromMade: 5, To: "month", YearsFromCheck: 2}},                             // Art. 253, 2014
		"extinguish":  {"plumbed-in": {MonthsFromCheck: 24}},                                                        // f-e-v.co.uk
		"helmet":      {"8860-2010": {FromLabel: "not_valid_after", NotAcceptedAfter: Day{day("2028-12-31")}}},      // TL25 of 11.12.2024
		"no end rule": {"X": {}},
	}}
	for _, c := range []struct {
		p    Printed
		want string
	}{
		{Printed{Item: "seat", Label: "8855-1999", Made: "2014-01"}, "2019-12-31"},
		{Printed{Item: "seat", Label: "8855-1999", Made: "2014-08"}, "2019-12-31"},
		{Printed{Item: "seat", Label: "8862-2009", Made: "2015"}, "2025-12-31"},
		{Printed{Item: "harness", Label: "8853/98", Made: "2016-03"}, "2021-12-31"},
		{Printed{Item: "harness", Label: "8853/98", Made: "2019-03"}, "2022-12-31"},
		{Printed{Item: "fuel cell", Label: "FT3-1999", Made: "2019-02"}, "2024-02-29"},
		{Printed{Item: "fuel cell", Label: "FT3-1999", Made: "2019-02", LastCheck: day("2024-02-10")}, "2026-02-10"},
		{Printed{Item: "fuel cell", Label: "FT3-1999", Made: "2019-02", LastCheck: day("2020-02-10")}, "2024-02-29"},
		{Printed{Item: "extinguish", Label: "plumbed-in", LastCheck: day("2024-02-29")}, "2026-02-28"},
		{Printed{Item: "helmet", Label: "8860-2010", NotValidAfter: day("2030-12-31")}, "2028-12-31"},
	} {
		got, by, err := rules.LastDay(c.p)
		if err != nil || got.Format(time.DateOnly) != c.want {
			t.Errorf("%+v: %s by %s, %v; want %s", c.p, got.Format(time.DateOnly), by, err, c.want)
		}
	}
	for _, p := range []Printed{
		{Item: "seat", Label: "8855-1999"},
		{Item: "seat", Label: "8855-1999", Made: "June"},
		{Item: "seat", Label: "unheard of", Made: "2014-01"},
		{Item: "window net", Label: "any"},
		{Item: "helmet", Label: "8860-2010"},
		{Item: "extinguish", Label: "plumbed-in"},
		{Item: "no end rule", Label: "X"},
	} {
		if got, _, err := rules.LastDay(p); err == nil {
			t.Errorf("%+v counts to %v", p, got)
		}
	}
}
