package classregs

import (
	"fmt"
	"strings"
	"time"
)

// Printed is what stands on a safety item's label. Days are zero where nothing is printed.
type Printed struct {
	Item, Label   string
	NotValidAfter time.Time
	Made          string // "2022-06" or "2022"
	LastCheck     time.Time
}

// LastDay is the last day a label counts under the rules, and by which of them. A label the
// rules do not know is an error, and so is a day the label's rule needs and that is not there.
func (r *Rules) LastDay(p Printed) (last time.Time, by string, err error) {
	known, ok := r.Safety[p.Item]
	if !ok {
		return last, "", fmt.Errorf("the book says nothing of a %s", p.Item)
	}
	rule, ok := known[p.Label]
	if !ok {
		return last, "", fmt.Errorf("the book does not accept %s for the %s", p.Label, p.Item)
	}
	earliest := func(day time.Time, why string) {
		if last.IsZero() || day.Before(last) {
			last, by = day, why
		}
	}
	var missing []string
	if rule.FromLabel != "" {
		if p.NotValidAfter.IsZero() {
			missing = append(missing, "the day printed as not valid after")
		} else {
			earliest(p.NotValidAfter, "the day on its label")
		}
	}
	if rule.YearsFromMade > 0 {
		day, err := madeLife(p.Made, rule.YearsFromMade, rule.To)
		switch {
		case p.Made == "":
			missing = append(missing, "the month it was made")
		case err != nil:
			return last, "", err
		default:
			why := fmt.Sprintf("%d years from manufacture", rule.YearsFromMade)
			// A check by the maker lengthens the made life: it does not end a younger one.
			if checked := p.LastCheck; rule.YearsFromCheck > 0 && !checked.IsZero() {
				if longer := checked.AddDate(rule.YearsFromCheck, 0, 0); longer.After(day) {
					day, why = longer, fmt.Sprintf("%d years from the maker's check", rule.YearsFromCheck)
				}
			}
			earliest(day, why)
		}
	}
	if rule.MonthsFromCheck > 0 {
		if p.LastCheck.IsZero() {
			missing = append(missing, "the day of the last check")
		} else {
			earliest(addMonths(p.LastCheck, rule.MonthsFromCheck), fmt.Sprintf("%d months from the last check", rule.MonthsFromCheck))
		}
	}
	if !rule.NotAcceptedAfter.IsZero() {
		earliest(rule.NotAcceptedAfter.Time, "the day "+p.Label+" goes out")
	}
	if len(missing) > 0 {
		return time.Time{}, "", fmt.Errorf("the label's %s is not known", strings.Join(missing, " and "))
	}
	if last.IsZero() {
		return last, "", fmt.Errorf("the book has no rule of expiry for %s", p.Label)
	}
	return last, by, nil
}

// madeLife is the last day of a life in years from the month, or the year, of manufacture.
func madeLife(made string, years int, to string) (time.Time, error) {
	for _, layout := range []string{"2006-01", "2006"} {
		t, err := time.Parse(layout, made)
		if err != nil {
			continue
		}
		if to == "end of year" || layout == "2006" {
			return time.Date(t.Year()+years, 12, 31, 0, 0, 0, 0, time.UTC), nil
		}
		return t.AddDate(years, 1, -1), nil // the last day of that month
	}
	return time.Time{}, fmt.Errorf("%q is no month of manufacture; write 2022-06", made)
}

// addMonths adds calendar months and stays in the month it lands in: 31 August and 6 months
// are the last of February.
func addMonths(day time.Time, months int) time.Time {
	first := time.Date(day.Year(), day.Month()+time.Month(months), 1, 0, 0, 0, 0, time.UTC)
	last := first.AddDate(0, 1, -1).Day()
	return first.AddDate(0, 0, min(day.Day(), last)-1)
}
