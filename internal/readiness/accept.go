package readiness

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/check"
)

// Item finds one item of a look, by its rule and position. Where the rule gives several and none
// is named, the one that stands open counts; the error says what there is.
func (c *Car) Item(look *check.Look, rule, position string) (*check.Item, error) {
	var found []*check.Item
	var positions []string
	for i := range look.Items {
		it := &look.Items[i]
		if it.Card.ID != rule {
			continue
		}
		positions = append(positions, it.Position)
		if it.Position == position || position == "" && it.Open {
			found = append(found, it)
		}
	}
	switch {
	case len(found) == 1:
		return found[0], nil
	case len(found) > 1:
		var open []string
		for _, it := range found {
			open = append(open, it.Position)
		}
		return nil, fmt.Errorf("%s stands open for %s; name one: --position %s", rule, strings.Join(open, ", "), open[0])
	case len(positions) > 0 && position != "" && !slices.Contains(positions, position):
		return nil, fmt.Errorf("%s has no %q; it has %s", rule, position, strings.Join(positions, ", "))
	case len(positions) > 0:
		return nil, fmt.Errorf("%s is not open: there is nothing to accept", rule)
	}
	_, err := c.rule(rule)
	if err == nil {
		err = fmt.Errorf("%s gave no item", rule)
	}
	return nil, err
}

// Short says what a deviation lacks to cover an item, "" if nothing.
func (c *Car) Short(d *car.Record, it *check.Item) string { return c.short(d, &it.Result) }

// Protects lists the protections that rest on the channels an item did not see.
func (c *Car) Protects(it *check.Item) []string {
	var out []string
	for _, u := range it.Unseen {
		if ch := c.folder.Channel(u.Channel); ch != nil {
			out = append(out, ch.Protects...)
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// Room says why a team may not carry a deviation on one more item, "" where it may. also are items
// about to be accepted with it.
func (c *Car) Room(look *check.Look, it *check.Item, also []*check.Item) string {
	var carried []*check.Result
	for _, other := range also {
		carried = append(carried, &other.Result)
	}
	for i := range look.Items {
		if look.Items[i].Deviation != "" {
			carried = append(carried, &look.Items[i].Result)
		}
	}
	return room(carried, &it.Result)
}

// Joints lists the joints whose initials rules ask for, each with its rule: "wheel-nut FL".
func (c *Car) Joints(ctx context.Context) map[string]string { return c.ruledJoints(ctx) }
