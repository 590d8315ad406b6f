package life

import (
	"fmt"
	"math"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/trade"
	"github.com/paintmark/paintmark/internal/units"
)

// Trend is how a value of the run sheets goes over the runs, by the median of the slopes
// between all pairs of runs, which a few wild runs do not move.
type Trend struct {
	Name, Unit string
	Runs       []int
	Values     []float64
	// Slope is the change in a run; NaN where there are fewer than three runs.
	Slope  float64
	Limit  float64
	Below  bool // the limit is one from below
	Newest float64
	// RunsLeft is how many runs it takes from the newest to cross the limit at this rate:
	// 0 where it is crossed, infinite where it goes the other way.
	RunsLeft float64
	Decimals int
}

const fewestRuns = 3

// trends follows the values that meters.yaml names.
func (b *book) trends(sheet *Sheet, state *car.Fitted) {
	doc := b.folder.Document("meters")
	if doc == nil {
		return
	}
	watch := field(doc, "trends")
	if watch == nil {
		return
	}
	for _, name := range watch.Keys {
		v := watch.Fields[name]
		if v.Unknown {
			continue
		}
		limit, below := v.Fields["above"], false
		if limit == nil {
			limit, below = v.Fields["below"], true
		}
		if limit == nil || limit.Unknown || v.Fields["above"] != nil && v.Fields["below"] != nil {
			b.faults.Add(v.Pos, fmt.Sprintf("the trend of %s has not one limit", name), "write above: or below:")
			continue
		}
		q, err := units.Parse(limit.Text)
		if err != nil {
			refuse(&b.faults, limit.Pos, err)
			continue
		}
		t := Trend{Name: name, Unit: q.Unit, Limit: q.Value, Below: below, Decimals: decimalsOf(limit.Text)}
		after := -1
		if of := text(v.Fields["of"]); of != "" {
			if r := state.At[of]; r != nil {
				after = r.Run
			}
		}
		b.follow(&t, q, after)
		sheet.Trends = append(sheet.Trends, t)
	}
}

// follow gathers the runs after one and draws the line through them.
func (b *book) follow(t *Trend, limit units.Quantity, after int) {
	var x []float64
	for _, r := range b.runs {
		if r.No <= after || len(r.Only) > 0 {
			continue
		}
		v := field(r.Record.Body.Fields["values"], t.Name)
		n, ok := b.valueIn(v, limit, t)
		if !ok {
			continue
		}
		x = append(x, float64(r.No))
		t.Runs, t.Values = append(t.Runs, r.No), append(t.Values, n)
	}
	t.Slope, t.Newest, t.RunsLeft = math.NaN(), math.NaN(), math.Inf(1)
	if len(x) == 0 {
		return
	}
	t.Newest = t.Values[len(x)-1]
	crossed := t.Newest > t.Limit
	if t.Below {
		crossed = t.Newest < t.Limit
	}
	if crossed {
		t.RunsLeft = 0
	}
	if len(x) < fewestRuns {
		return
	}
	slope, start := trade.TheilSen(x, t.Values)
	t.Slope = slope
	if crossed || slope == 0 || slope > 0 == t.Below {
		return
	}
	t.RunsLeft = max(0, (t.Limit-(start+slope*x[len(x)-1]))/slope)
}

// valueIn reads a value of a run sheet in the unit of its limit.
func (b *book) valueIn(v *schema.Value, limit units.Quantity, t *Trend) (float64, bool) {
	if v == nil || v.Unknown {
		return 0, false
	}
	q, err := units.Parse(v.Text)
	switch {
	case err != nil:
	case q.Unit == limit.Unit:
		t.Decimals = max(t.Decimals, decimalsOf(v.Text))
		return q.Value, true
	case limit.Unit == "" || q.Unit == "":
		err = &units.Error{What: fmt.Sprintf("%s is %s on this run and %s in its limit", t.Name, v.Text, limit.Unit), Remedy: "write both in one unit"}
	default:
		var u units.Unit
		if u, err = units.Lookup(limit.Unit); err == nil {
			if q, err = units.Check(q, u.Type); err == nil {
				return u.Of(q.SI), true
			}
		}
	}
	refuse(&b.faults, v.Pos, err)
	return 0, false
}
