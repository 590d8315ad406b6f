package pack

import (
	"context"
	"math"
	"slices"
	"strings"

	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/expr"
)

// Edges is one item of a measuring rule with the limits it has on the evidence.
type Edges struct {
	Name  string // as check.Result.Name gives it
	Edges []Edge
}

// Edge is one side of a limit, in the rule's unit; of a limit that is itself only known
// between, the end that is crossed first.
type Edge struct {
	Value   float64
	Below   bool
	Outcome check.Outcome
}

// Edges gives the limits of every item of a rule with a measure. A rule about trends has
// none, so that no trend is followed of a trend. It asks no log.
func (r *Rule) Edges(ctx context.Context, ev *Evidence) []Edges {
	if r.measure == nil || slices.ContainsFunc(r.paths, aboutTrends) {
		return nil
	}
	items, stopped := r.items(ctx, ev)
	if stopped != nil {
		return nil
	}
	var out []Edges
	for _, it := range items {
		j := newJudgement(r, ev, it.position)
		res := j.result()
		own := Edges{Name: res.Name()}
		for _, b := range []struct {
			*bound
			means check.Outcome
		}{{r.warn, check.Warn}, {r.fail, check.Fail}} {
			if b.bound == nil {
				continue
			}
			e, _, ok := j.edges(ctx, expr.Inputs{Roots: it.roots}, b.bound)
			if !ok {
				continue
			}
			if e.lo != nil && !math.IsInf(e.lo.high, 0) {
				own.Edges = append(own.Edges, Edge{r.scale.point(e.lo.high), true, b.means})
			}
			if e.hi != nil && !math.IsInf(e.hi.low, 0) {
				own.Edges = append(own.Edges, Edge{r.scale.point(e.hi.low), false, b.means})
			}
		}
		if len(own.Edges) > 0 {
			out = append(out, own)
		}
	}
	return out
}

func aboutTrends(path string) bool {
	return path == "life" || strings.HasPrefix(path+".", "life.trends.") || strings.HasPrefix(path+".", "life.heading.")
}
