package sdk

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"runtime/debug"
	"slices"
	"strings"
)

// Inspect runs the check on what it is given and holds its results to the contract: what a
// host does with it, and what its tests do. An error is a fault of the check.
func (c *Check) Inspect(ctx context.Context, g Given) (results []Result, err error) {
	ev := newEvidence(c, g)
	if r, short := ev.short(); short {
		return []Result{r}, nil
	}
	defer func() {
		if p := recover(); p != nil {
			if results, err = nil, ev.fault; err == nil { // else it went on without what it was not given
				err = fmt.Errorf("panicked: %v at %s", p, origin(debug.Stack()))
			}
		}
	}()
	results, err = c.Run(ctx, ev)
	switch {
	case ev.fault != nil: // what came of it means nothing
		return nil, ev.fault
	case err != nil:
		return nil, err
	case len(results) == 0:
		return nil, errors.New("gave no result")
	}
	for i := range results {
		if err := ev.finish(&results[i]); err != nil {
			return nil, err
		}
	}
	return results, nil
}

// short is the answer where a channel that the check cannot do without is not at hand.
func (ev *Evidence) short() (Result, bool) {
	for _, need := range ev.check.Needs.Channels {
		if need.Optional {
			continue
		}
		if !ev.given.Log.has(need.Name) {
			ev.miss(need.Name)
		}
	}
	if len(ev.missing) == 0 {
		return Result{}, false
	}
	if ev.given.Log == nil {
		return Result{Outcome: NoData, Message: "no log at hand; take the run in"}, true
	}
	return ev.NoData(), true
}

// finish fills in what the evidence knows about a result, and turns a pass that rests on
// something missing into no data. What cannot be told says which channels were not seen throughout.
func (ev *Evidence) finish(r *Result) error {
	scopes := []*Evidence{ev}
	if s := ev.scopes[r.Position]; s != nil {
		scopes = append(scopes, s)
	}
	var missing, unseen []string
	for _, s := range scopes {
		r.Inputs = append(r.Inputs, s.read...)
		for _, m := range s.missing {
			if !despite(r, m) {
				missing = append(missing, m+" not known")
			}
		}
		for _, name := range s.holes {
			c, err := ev.channel(name)
			if err != nil {
				return err
			}
			r.Unseen = append(r.Unseen, c.Gaps...)
			if !despite(r, name) {
				unseen = append(unseen, name+" unseen in places")
			}
		}
	}
	slices.Sort(r.Inputs)
	r.Inputs = slices.Compact(r.Inputs)
	slices.SortFunc(r.Unseen, func(a, b Span) int {
		return cmp.Or(strings.Compare(a.Channel, b.Channel), cmp.Compare(a.From, b.From), cmp.Compare(a.To, b.To), strings.Compare(a.Why, b.Why))
	})
	r.Unseen = slices.Compact(r.Unseen)
	switch r.Outcome {
	case Pass:
		unseen = append(unseen, missing...)
	case NoData: // the author said what was missing
		unseen = slices.DeleteFunc(unseen, func(u string) bool { return strings.Contains(r.Message, u[:strings.IndexByte(u, ' ')]) })
	default:
		unseen = nil
	}
	slices.Sort(unseen)
	if unseen = slices.Compact(unseen); len(unseen) > 0 {
		r.Outcome = NoData
		r.Message = strings.TrimPrefix(r.Message+"; "+listed(unseen), "; ")
	}
	return ev.check.wellFormed(r)
}

func despite(r *Result, what string) bool {
	return slices.ContainsFunc(r.Despite, func(d string) bool { return under(what, d) })
}

// wellFormed refuses a result that contradicts itself.
func (c *Check) wellFormed(r *Result) error {
	at := ""
	if r.Position != "" {
		at = " at " + r.Position
	}
	if !slices.Contains([]Outcome{Pass, Warn, Fail, NoData, NotApplicable}, r.Outcome) {
		return fmt.Errorf("gave the outcome %q%s, which is none", r.Outcome, at)
	}
	if m := r.Measured; m != nil && (math.IsNaN(m.Low) || math.IsNaN(m.High) || m.Low > m.High || !m.Known) {
		return fmt.Errorf("measured no number%s", at)
	}
	if r.Measured != nil && r.Limit != nil {
		in, out := r.Limit.holds(*r.Measured)
		switch {
		case r.Outcome == Pass && !in:
			return fmt.Errorf("passes%s what is not inside its limit", at)
		case (r.Outcome == Fail || r.Outcome == Warn) && r.Outcome == r.Limit.Means && !out:
			return fmt.Errorf("gives %s%s to what is not outside its limit", r.Outcome, at)
		}
	}
	if len(r.Dead) > 0 && !c.Health {
		return fmt.Errorf("calls spans dead%s and is no check of health", at)
	}
	if r.Message == "" && r.Measured == nil {
		return fmt.Errorf("says nothing%s: neither a message nor a measured value", at)
	}
	return nil
}

// origin is the place of a panic in a stack: the first line below panic itself.
func origin(stack []byte) string {
	lines := strings.Split(string(stack), "\n")
	for i, l := range lines {
		if !strings.HasPrefix(l, "panic(") {
			continue
		}
		for _, l := range lines[i+2:] {
			if file, _, ok := strings.Cut(strings.TrimSpace(l), " +0x"); ok && strings.HasPrefix(l, "\t") && !strings.Contains(file, "/runtime/") {
				if i := strings.LastIndexByte(file, '/'); i >= 0 {
					file = file[i+1:]
				}
				return file
			}
		}
	}
	return "an unknown place"
}
