package readiness

import (
	"context"

	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/pack"
)

// Reading looks at the items whose rules read any of the values at paths ("measured.wing.bottle"),
// and at nothing else, in the order of what they keep the car from.
func (c *Car) Reading(ctx context.Context, paths []string) []check.Item {
	var rules []*pack.Rule
	for _, p := range c.packs {
		for _, r := range p.Rules {
			if r.Reads(paths) {
				rules = append(rules, r)
			}
		}
	}
	results := c.judge(ctx, rules)
	c.finish(results)
	return weigh(results, c.worn)
}
