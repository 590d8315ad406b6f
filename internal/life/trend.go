package life

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
	"github.com/paintmark/paintmark/internal/trade"
	"github.com/paintmark/paintmark/internal/units"
)

// Trend is how a value of the run sheets goes over the runs, by the median of the slopes
// between all pairs of runs, which a few wild runs do not move.
type Trend struct {
	Name, Unit string
	// Item is what a person calls the measure of a rule; "" for a value of meters.yaml.
	Item   string
	Runs   []int
	Values []float64 // the middle of each run's bounds
	// Partly counts the runs whose value was bounded on one side only: they draw no line.
	Partly int
	// Slope is the change in a run; NaN where there are fewer than three runs.
	Slope  float64
	Limit  float64 // the one it crosses first, else the one nearest to it
	Below  bool    // the limit is one from below
	Means  string  // what crossing it is: warn or fail; "" for a limit of meters.yaml
	Newest Amount  // with its bounds; not numbers where no run has it
	// RunsLeft is how many runs it takes from the newest to cross the limit at this rate:
	// 0 where it is crossed, infinite where it goes the other way.
	RunsLeft float64
	Decimals int

	foreseen bool
}

// Watch is a measure of a rule that run sheets post, with the limits that it has now.
type Watch struct {
	Name  string // as the sheets post it
	Item  string // what a person calls it
	Unit  string // of the limits
	Edges []Edge
	// Foreseen: it is made of life, whose forecast knows the plan and is the better one.
	Foreseen bool
}

// Edge is one side of a limit.
type Edge struct {
	Value float64
	Below bool   // it must not fall below it
	Means string // what crossing it is: warn or fail
}

const (
	fewestRuns = 3
	// mostRuns bounds the pairs of runs; what was further back says nothing of the next run.
	mostRuns = 100
)

// Heading says that it comes nearer to its limit with every run, or is past it, and that
// nothing else tells of that: what is past the limit of its own rule that rule tells, and of a
// share of life there is the forecast.
func (t *Trend) Heading() bool {
	return t.RunsLeft < farOff && (t.Item == "" || !t.Past() && !t.foreseen)
}

// Past says that the newest value is beyond its limit.
func (t *Trend) Past() bool { return t.RunsLeft == 0 }

// Posted lists what the run sheets post of the rules' measures, sorted.
func (s *Sheet) Posted() []string {
	var out []string
	for _, r := range s.Runs {
		if m := r.Record.Body.Fields["measures"]; m != nil && !m.Unknown && len(r.Only) == 0 {
			out = append(out, m.Keys...)
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// Follow adds the trends of measures to the sheet and to the document.
func (s *Sheet) Follow(watches []Watch) source.Faults {
	var faults source.Faults
	for _, w := range watches {
		t := Trend{Name: w.Name, Item: w.Item, Unit: w.Unit, foreseen: w.Foreseen}
		t.gather(s.Runs, "measures", -1, &faults)
		t.draw(w.Edges)
		t.Decimals = units.Decimals(max(math.Abs(t.Limit), math.Abs(t.Newest.High)))
		if len(t.Runs)+t.Partly > 0 {
			s.Trends = append(s.Trends, t)
		}
	}
	if len(watches) > 0 {
		s.setTrends()
	}
	return faults
}

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
		t := Trend{Name: name, Unit: q.Unit, Decimals: decimalsOf(limit.Text)}
		after := -1
		if of := text(v.Fields["of"]); of != "" {
			if r := state.At[of]; r != nil {
				after = r.Run
			}
		}
		t.gather(b.runs, "values", after, &b.faults)
		t.draw([]Edge{{Value: q.Value, Below: below}})
		sheet.Trends = append(sheet.Trends, t)
	}
}

// gather collects the values of the runs after one.
func (t *Trend) gather(runs []*Run, list string, after int, faults *source.Faults) {
	t.Newest = counted(math.NaN())
	for _, r := range runs {
		if r.No <= after || len(r.Only) > 0 {
			continue
		}
		v, ok := t.value(field(r.Record.Body.Fields[list], t.Name), faults)
		switch {
		case !ok:
			continue
		case math.IsInf(v.Low, 0) || math.IsInf(v.High, 0):
			t.Partly++
			continue
		}
		t.Newest = v
		t.Runs, t.Values = append(t.Runs, r.No), append(t.Values, v.Low+(v.High-v.Low)/2)
	}
	if n := len(t.Runs) - mostRuns; n > 0 {
		t.Runs, t.Values = t.Runs[n:], t.Values[n:]
	}
}

// draw draws the line through the runs and finds the limit that it crosses first. Of limits
// that the newest value is past already, another that it may still cross is the one to know.
func (t *Trend) draw(edges []Edge) {
	t.Slope, t.RunsLeft, t.Limit = math.NaN(), math.Inf(1), math.NaN()
	if len(edges) == 0 {
		return
	}
	n := len(t.Runs)
	var start float64
	if n >= fewestRuns {
		x := make([]float64, n)
		for i, no := range t.Runs {
			x[i] = float64(no)
		}
		t.Slope, start = trade.TheilSen(x, t.Values)
		start += t.Slope * x[n-1]
	}
	left := func(e Edge) float64 {
		switch {
		case n == 0:
			return math.Inf(1)
		case e.passedBy(t.Values[n-1]):
			return 0
		case n < fewestRuns || t.Slope == 0 || t.Slope > 0 == e.Below:
			return math.Inf(1)
		}
		return max(math.SmallestNonzeroFloat64, (e.Value-start)/t.Slope)
	}
	gap := func(e Edge) float64 {
		if n == 0 {
			return 0
		}
		return math.Abs(e.Value - t.Values[n-1])
	}
	best := edges[0]
	for _, e := range edges[1:] {
		a, b := left(e), left(best)
		switch past := b == 0; {
		case past && a > 0, a > 0 && a < b, a == b && gap(e) < gap(best):
			best = e
		}
	}
	t.Limit, t.Below, t.Means, t.RunsLeft = best.Value, best.Below, best.Means, left(best)
}

func (e Edge) passedBy(v float64) bool {
	if e.Below {
		return v < e.Value
	}
	return v > e.Value
}

// value reads a value of a run sheet in the trend's unit: a quantity, or its bounds as
// `5.36 s..5.42 s`, of which one side may be open.
func (t *Trend) value(v *schema.Value, faults *source.Faults) (Amount, bool) {
	if v == nil || v.Unknown {
		return Amount{}, false
	}
	low, high, between := strings.Cut(v.Text, "..")
	if !between {
		n, ok := t.read(v, low, faults)
		return counted(n), ok
	}
	out, okLow, okHigh := Amount{Low: math.Inf(-1), High: math.Inf(1)}, true, true
	if low != "" {
		out.Low, okLow = t.read(v, low, faults)
	}
	if high != "" {
		out.High, okHigh = t.read(v, high, faults)
	}
	return out, okLow && okHigh
}

func (t *Trend) read(v *schema.Value, written string, faults *source.Faults) (float64, bool) {
	q, err := units.Parse(written)
	switch {
	case err != nil:
	case q.Unit == t.Unit:
		if t.Item == "" { // as finely as people wrote it
			t.Decimals = max(t.Decimals, decimalsOf(written))
		}
		return q.Value, true
	case t.Unit == "" || q.Unit == "":
		err = &units.Error{What: fmt.Sprintf("%s is %s on this run and %s in its limit", t.Name, written, orNumber(t.Unit)), Remedy: "write both in one unit"}
	default:
		var u units.Unit
		if u, err = units.Lookup(t.Unit); err == nil {
			if q, err = units.Check(q, u.Type); err == nil {
				return u.Of(q.SI), true
			}
		}
	}
	refuse(faults, v.Pos, err)
	return 0, false
}

func orNumber(unit string) string {
	if unit == "" {
		return "a bare number"
	}
	return unit
}
