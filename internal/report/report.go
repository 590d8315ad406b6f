// Package report prints one look over the car: as text for the awning, as JSON
// for other programs. It knows only what a check.Look holds and never opens a log.
package report

import (
	"slices"
	"strings"

	"github.com/paintmark/paintmark/internal/check"
)

// Caution closes every report.
const Caution = "Advice only. A pass means only that the rules found nothing. The regulations in\n" +
	"force prevail; the responsible engineer and the scrutineer decide."

// Counts is how many items came out how.
type Counts struct {
	Pass          int `json:"pass"`
	Warn          int `json:"warn"`
	Fail          int `json:"fail"`
	NoData        int `json:"no_data"`
	NotApplicable int `json:"not_applicable"`
}

// Count counts the items of a look.
func Count(items []check.Item) Counts {
	var c Counts
	for _, it := range items {
		switch it.Outcome {
		case check.Pass:
			c.Pass++
		case check.Warn:
			c.Warn++
		case check.Fail:
			c.Fail++
		case check.NoData:
			c.NoData++
		case check.NotApplicable:
			c.NotApplicable++
		}
	}
	return c
}

// unconfirmed counts the limits nobody has put a date and initials to.
func unconfirmed(items []check.Item) int {
	var seen []string
	for _, it := range items {
		if it.Limit != nil && it.Limit.Source.Confirmed == "" {
			seen = append(seen, it.Limit.Where.String())
		}
	}
	slices.Sort(seen)
	return len(slices.Compact(seen))
}

// hat is how a hat is said on the bank.
func hat(name string) string {
	name = strings.TrimSuffix(name, "-engineer")
	return strings.TrimSuffix(name, "-mechanic")
}

// hats joins hats as they stand in the last column.
func hats(names []string) string {
	short := make([]string, len(names))
	for i, n := range names {
		short[i] = hat(n)
	}
	return strings.Join(short, "+")
}
