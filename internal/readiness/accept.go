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

// Room says why a team may not carry one more deviation, "" where it may: no more than five, and
// one in a system, since two in one system may be one thing. What is blind by a channel that a
// deviation covers already is the same deviation. also are items about to be accepted with it.
func (c *Car) Room(look *check.Look, it *check.Item, also []*check.Item) string {
	same := func(other *check.Item) bool {
		return slices.ContainsFunc(other.Unseen, func(u check.Unseen) bool {
			return slices.ContainsFunc(it.Unseen, func(v check.Unseen) bool { return u.Channel == v.Channel })
		})
	}
	covered := map[string]bool{}
	carried := slices.Clone(also)
	for i := range look.Items {
		if look.Items[i].Deviation != "" {
			carried = append(carried, &look.Items[i])
		}
	}
	for _, other := range carried {
		if same(other) {
			continue
		}
		if other.Card.System == it.Card.System {
			return fmt.Sprintf("%s of the %s is accepted already, and two deviations in one system may be one thing; put one right", other.Card.ID, it.Card.System)
		}
		key := other.Card.ID + other.Position
		if len(other.Unseen) > 0 {
			key = other.Unseen[0].Channel
		}
		covered[key] = true
	}
	if len(covered) >= mostDeviations {
		return fmt.Sprintf("%d deviations are open, and a team that carries more no longer knows what it carries; put one right", len(covered))
	}
	return ""
}

// Joints lists the joints whose initials rules ask for, each with its rule: "wheel-nut FL".
func (c *Car) Joints(ctx context.Context) map[string]string { return c.ruledJoints(ctx) }
