package readiness

import (
	"context"
	"strings"

	"github.com/paintmark/paintmark/internal/check"
)

// jointsID is the item that work on the car opens by itself: no pack has to ask for it, and it
// cannot be left out of limits.yaml.
const jointsID = "work.joints"

// openJoints are the joints that stand open, each with the system it belongs to. Common
// practice: whoever closed it and another person who looked put their initials to a joint.
// There is no item where everything is closed, and none where a rule of its own asks for more
// of a joint, as for the wheel nuts.
func (c *Car) openJoints(ctx context.Context) []check.Result {
	open := c.folder.OpenJoints(c.asOf)
	if len(open) == 0 {
		return nil
	}
	ruled := c.ruledJoints(ctx)
	cards := map[string]*check.Card{}
	var out []check.Result
	for _, j := range open {
		card := cards[j.System]
		if card == nil {
			card = &check.Card{
				ID: jointsID, Item: "Opened joint, two people's initials", System: j.System, Moments: []check.Moment{check.Paddock},
				Do: "Close it, mark it, have another person look at it; then `sign`, first and second.", Source: check.Source{Kind: "practice"}, Where: j.Since.Pos,
			}
			cards[j.System] = card
		}
		if ruled[j.Joint] != "" || !c.asked(card) {
			continue
		}
		said := j.Why + ", " + j.Lacks() + " missing"
		out = append(out, check.Result{
			Card: card, Position: j.Joint, Outcome: check.NoData, Message: said, Note: said, Where: j.Since.Pos,
			From: check.From{Kind: "record", Record: j.Since.File},
		})
	}
	return out
}

// ruledJoints are the joints whose initials a rule asks for itself, each with its rule.
func (c *Car) ruledJoints(ctx context.Context) map[string]string {
	ruled := map[string]string{}
	for _, p := range c.packs {
		for _, r := range p.Rules {
			joint := r.Joint()
			if joint == "" {
				continue
			}
			for _, result := range r.Check(c.evidence).Run(ctx) {
				ruled[strings.TrimSpace(joint+" "+result.Position)] = r.ID
			}
		}
	}
	return ruled
}
