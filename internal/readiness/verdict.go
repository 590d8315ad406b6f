package readiness

import (
	"cmp"
	"slices"
	"strings"

	"github.com/paintmark/paintmark/internal/check"
)

// weigh turns results into items: which of them stand open, who has to move, and in the
// order of what they keep the car from. worn are the hats somebody in the team wears.
func weigh(results []check.Result, worn []string) []check.Item {
	items := make([]check.Item, len(results))
	for i, r := range results {
		items[i] = check.Item{Result: r, Open: open(&r)}
		if items[i].Open || r.Outcome == check.NoData {
			items[i].Who = who(&r, worn)
		}
	}
	slices.SortStableFunc(items, func(a, b check.Item) int {
		return cmp.Or(cmp.Compare(consequence(&a), consequence(&b)),
			strings.Compare(a.Card.System, b.Card.System), strings.Compare(a.Card.ID, b.Card.ID))
	})
	return items
}

// open says that a result stands between the car and ready.
func open(r *check.Result) bool {
	switch {
	case r.Deviation != "":
		return false
	case r.Outcome == check.NoData:
		return !r.Card.Lenient
	}
	return r.Outcome == check.Warn || r.Outcome == check.Fail
}

// consequence ranks an item by what it keeps the car from; the elements of one rule
// keep the order of the car.
func consequence(it *check.Item) int {
	rank := []bool{
		it.Stops() && it.Outcome == check.Fail,
		it.Stops() && it.Outcome == check.Warn,
		it.Open && it.Outcome == check.Fail,
		it.Open && it.Outcome == check.Warn,
		it.Stops(),
		it.Open,
		it.Outcome == check.NoData,
		it.Deviation != "",
		it.Due != nil,
		it.Outcome == check.Pass,
	}
	if i := slices.Index(rank, true); i >= 0 {
		return i
	}
	return len(rank)
}

// verdict is what the items come to. A fault of the tool is never ready: nobody knows
// what the part that broke would have said.
func verdict(items []check.Item, faults int) check.Verdict {
	switch {
	case faults > 0, slices.ContainsFunc(items, func(it check.Item) bool { return it.Stops() }):
		return check.NoGo
	case slices.ContainsFunc(items, func(it check.Item) bool { return it.Open }):
		return check.NeedsNames
	}
	return check.Ready
}

// keepers are the hats that look after a system, the likeliest first. Teams differ, and one
// person wears several hats; where nobody wears any of them it is the lead engineer's.
// Common practice in small teams.
var keepers = map[string][]string{
	"engine":     {"engine"},
	"turbo":      {"engine"},
	"cooling":    {"engine"},
	"fuel":       {"fuel", "engine"},
	"gearbox":    {"gearbox"},
	"clutch":     {"gearbox"},
	"driveline":  {"gearbox"},
	"hydraulics": {"hydraulics", "gearbox"},
	"wing":       {"hydraulics", "engine"},
	"tyres":      {"tyres"},
	"wheels":     {"tyres"},
	"electrical": {"electrical", "data"},
	"sensors":    {"data", "electrical"},
	"logger":     {"data", "electrical"},
	"throttle":   {"engine", "electrical"},
	"brakes":     {"chief-mechanic"},
	"steering":   {"chief-mechanic"},
	"suspension": {"chief-mechanic"},
	"chassis":    {"chief-mechanic"},
	"bodywork":   {"chief-mechanic"},
	"safety":     {"chief-mechanic"},
}

// who has to move: the people who may accept the outcome, else whoever keeps the system
// and has to put it right.
func who(r *check.Result, worn []string) []string {
	by := r.Acceptor()
	switch {
	case by.Official:
		return []string{"scrutineer"}
	case len(by.Hats) > 0:
		return by.Hats
	}
	for _, hat := range keepers[r.Card.System] {
		if slices.Contains(worn, hat) {
			return []string{hat}
		}
	}
	return []string{"lead-engineer"}
}
