package readiness

import (
	"context"
	"slices"
	"strings"

	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/pack"
)

// Reading looks at the items whose rules or plugins read any of the values at paths
// ("measured.wing.bottle"), and at nothing else, in the order of what they keep the car from.
func (c *Car) Reading(ctx context.Context, paths []string) []check.Item {
	var rules []*pack.Rule
	for _, p := range c.packs {
		for _, r := range p.Rules {
			if r.Reads(paths) {
				rules = append(rules, r)
			}
		}
	}
	var checks []check.Check
	for _, k := range c.plugins {
		if !k.wire.GetHealth() && slices.ContainsFunc(k.wire.GetNeeds().GetDocuments(), func(d string) bool { return d != "measured" && among(d, paths) }) {
			checks = append(checks, c.pluginCheckOf(k))
		}
	}
	results := append(c.judge(ctx, rules), runChecks(ctx, checks, deadline)...)
	c.finish(results)
	return weigh(results, c.worn)
}

// among says that one of paths is, holds, or is part of a document.
func among(document string, paths []string) bool {
	return slices.ContainsFunc(paths, func(p string) bool {
		return p == document || strings.HasPrefix(p, document+".") || strings.HasPrefix(document, p+".")
	})
}
