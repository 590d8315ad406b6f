package schema

import (
	"strconv"
	"strings"
	"time"

	"github.com/paintmark/paintmark/internal/source"
)

var (
	dayForm     = source.Form(`^[0-9]{4}-[0-9]{2}-[0-9]{2}$`)
	instantForm = source.Form(`^[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}(:[0-9]{2})?(Z|[+-][0-9]{2}:[0-9]{2})$`)
	noZoneForm  = source.Form(`^[0-9]{4}-[0-9]{2}-[0-9]{2}[T ][0-9]{2}:[0-9]{2}(:[0-9]{2})?$`)
	spanForm    = source.Form(`^([0-9]{1,4}) (d|wk|mo|a)$`)
)

// ParseDay reads a day written as 2026-05-16, at UTC midnight. No other form is
// taken: 05/06/26 is two different days.
func ParseDay(text string) (time.Time, error) {
	if dayForm().MatchString(text) {
		if t, err := time.Parse(time.DateOnly, text); err == nil && t.Year() > 0 {
			return t, nil
		}
		return time.Time{}, mistake("there is no day %s", "write year-month-day, as 2026-05-16", text)
	}
	return time.Time{}, mistake("%s is not a day", "write year-month-day, as 2026-05-16", quote(text))
}

// ParseInstant reads a moment written as 2026-05-16T08:50+01:00, seconds or not, zone always.
func ParseInstant(text string) (time.Time, error) {
	if instantForm().MatchString(text) {
		layout := "2006-01-02T15:04Z07:00"
		if strings.Count(text[:min(19, len(text))], ":") == 2 && text[16] == ':' {
			layout = time.RFC3339
		}
		if t, err := time.Parse(layout, text); err == nil && t.Year() > 0 {
			return t.UTC(), nil
		}
		return time.Time{}, mistake("there is no moment %s", "write it as 2026-05-16T08:50+01:00", text)
	}
	if noZoneForm().MatchString(text) {
		return time.Time{}, mistake("%s has no zone", "write "+strings.Replace(text, " ", "T", 1)+"+01:00, or Z for UTC", quote(text))
	}
	return time.Time{}, mistake("%s is not a moment", "write it as 2026-05-16T08:50+01:00, with the zone", quote(text))
}

// AddSpan adds a calendar span such as `24 mo`, `5 a`, `8 wk` or `90 d` to a day. A month
// that is too short ends on its last day: 31 January + 1 mo = 28 February. ok is false for any other text.
func AddSpan(day time.Time, span string) (end time.Time, ok bool) {
	m := spanForm().FindStringSubmatch(span)
	if m == nil {
		return time.Time{}, false
	}
	n, _ := strconv.Atoi(m[1])
	switch m[2] {
	case "d":
		return day.AddDate(0, 0, n), true
	case "wk":
		return day.AddDate(0, 0, 7*n), true
	case "a":
		n *= 12
	}
	first := time.Date(day.Year(), day.Month(), 1, 0, 0, 0, 0, time.UTC).AddDate(0, n, 0)
	last := first.AddDate(0, 1, -1).Day()
	return first.AddDate(0, 0, min(day.Day(), last)-1), true
}

func quote(s string) string {
	const most = 60
	if r := []rune(s); len(r) > most {
		s = string(r[:most]) + "..."
	}
	return "`" + s + "`"
}
