package partlife

import (
	"context"
	"fmt"
	"math"

	"github.com/paintmark/paintmark/plugins/sdk"
)

// farOff is what the life sheet writes for a limit that runs use nothing of.
const farOff = 1e6

var assembly = &sdk.Check{
	ID: "partlife.assembly", Item: "Weakest member of an assembly after the planned runs", System: "chassis",
	Moments: []sdk.Moment{sdk.Commit, sdk.Paddock}, Unit: "%",
	Needs: sdk.Needs{
		Documents: []string{"life.fitted", "life.limits"},
		Limits:    []sdk.Limit{{Name: "life", Value: 100, Unit: "%", Tighten: "down", Source: sdk.Source{Kind: "practice", Text: "of the member's own limit in parts.yaml"}}},
	},
	Do: "Have the next assembly at hand, or open it for that member while there is time.", Caution: "lifted-car",
	Source: sdk.Source{Kind: "practice", Text: "an assembly lasts as long as the member that falls first"},
	Accept: sdk.Accept{Warn: sdk.Hats("lead-engineer"), NoData: sdk.Hats("lead-engineer")}, // two names stand under the member's own item
	Run: func(_ context.Context, ev *sdk.Evidence) ([]sdk.Result, error) {
		fitted, ok1 := ev.Each("life.fitted")
		limits, ok2 := ev.Each("life.limits")
		if !ok1 || !ok2 {
			return sdk.One(ev.NoData())
		}
		inside := map[string]string{}
		for _, p := range fitted {
			serial, _ := p.Get("serial").Text()
			if n := p.Get("inside"); serial != "" {
				if there, _ := n.Fitted(); there {
					inside[serial], _ = n.Text()
				}
			}
		}
		members := map[string][]sdk.Node{} // limits by assembly
		var order []string
		mixed := map[string]bool{} // it is more than its own limits
		for _, l := range limits {
			serial, _ := l.Get("part").Text()
			top := outermost(inside, serial)
			if members[top] == nil {
				order = append(order, top)
			}
			members[top] = append(members[top], l)
			mixed[top] = mixed[top] || top != serial
		}
		var out []sdk.Result
		for _, top := range order {
			if mixed[top] { // what has only its own limits has its own items
				out = append(out, weakest(ev.For(top), top, members[top]))
			}
		}
		if len(out) == 0 {
			return sdk.One(sdk.Result{Outcome: sdk.NotApplicable, Message: "no part on the car has limits and is inside another"})
		}
		return out, nil
	},
}

// outermost is the assembly that a part is in, at any depth; itself where it is in none.
func outermost(inside map[string]string, serial string) string {
	for range len(inside) {
		in := inside[serial]
		if in == "" {
			break
		}
		serial = in
	}
	return serial
}

// weakest judges an assembly by the member that will have used most of its limit.
func weakest(ev *sdk.Evidence, top string, limits []sdk.Node) sdk.Result {
	least, most := math.Inf(-1), math.Inf(-1)
	var first sdk.Node
	for _, l := range limits {
		share := l.For(top).Get("share_with_plan").Number()
		if !share.Known {
			share = sdk.Between(0, math.Inf(1))
		}
		least = math.Max(least, share.Low)
		if share.High > most {
			most, first = share.High, l.For(top)
		}
	}
	r := sdk.Judge(sdk.Between(least, most), ev.Ceiling("life", sdk.Warn))
	part, _ := first.Get("part").Text()
	meter, _ := first.Get("meter").Text()
	r.Message = join(r.Message, fmt.Sprintf("%s by %s", part, meter))
	if when := first.Get("falls_in"); r.Outcome != sdk.Pass {
		if falls, known := when.Text(); known {
			r.Message += ", falls in " + falls
		}
	} else if left := first.Get("runs_left").Number(); left.Known && left.Low < farOff {
		r.Message += fmt.Sprintf(", %.0f runs left", left.Low)
	}
	r.Position = top
	return r
}
