package report

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"github.com/paintmark/paintmark/internal/check"
)

// Plot is one series over a log, as a terminal can show it. Plain characters only:
// it has to read the same on every console, in a mail and on paper.
type Plot struct {
	Name     string // what is drawn, "hyd_pressure"
	Unit     string
	From, To float64 // s
	Times    []float64
	Values   []float64 // in Unit, one per time; a sample that was taken away is left out
	// Counts says for each value whether the rule counted it; nil: all of them.
	Counts []bool
	Limits []check.Limit
	Worst  *check.At // where the answer stands
	Unseen []check.Unseen
}

const (
	plotLeft   = 12 // columns before the drawing: the number and a bar
	plotWidth  = width - plotLeft
	plotHeight = 12
)

// Draw draws a plot: the series as the span it covers in each column, the limit as a line,
// the worst sample, and what was not seen.
func (pl *Plot) Draw(w io.Writer) error {
	p := &page{}
	p.line(withUnit(pl.Name+",", pl.Unit) + fmt.Sprintf(", %s to %s s", trimmed(pl.From, 2), trimmed(pl.To, 2)))
	low, high, ok := pl.extent()
	if !ok || pl.To <= pl.From {
		p.line("Nothing to draw: no sample was seen.")
		p.unseen(pl.Unseen)
		return p.write(w)
	}
	cells := newGrid()
	row := func(v float64) int {
		return min(plotHeight-1, max(0, int(math.Round((high-v)/(high-low)*float64(plotHeight-1)))))
	}
	for _, l := range pl.Limits {
		cells.level(row(l.Value))
		if l.Kind == "a to b" {
			cells.level(row(l.Upper))
		}
	}
	for c, s := range pl.columns() {
		if s.seen {
			cells.span(c, row(s.high), row(s.low))
		}
	}
	if pl.Worst != nil {
		if v, ok := pl.valueAt(pl.Worst.Time); ok {
			cells[row(v)][pl.column(pl.Worst.Time)] = 'X'
		}
	}
	d := decimals((high-low)/plotHeight, low, high)
	for r := range cells {
		label := ""
		if r%3 == 0 || r == plotHeight-1 {
			label = fixed(high-(high-low)*float64(r)/float64(plotHeight-1), d)
		}
		p.line(fmt.Sprintf("%*s | %s", plotLeft-3, label, string(cells[r])))
	}
	p.axis(pl)
	p.legend(pl, d)
	p.unseen(pl.Unseen)
	return p.write(w)
}

type span struct {
	low, high float64
	seen      bool
	counts    bool
}

// columns folds the samples into one span per column. A value stands until the next sample,
// so a column without a sample of its own shows the one before.
func (pl *Plot) columns() []span {
	out := make([]span, plotWidth)
	last := -1
	for i, t := range pl.Times {
		c := pl.column(t)
		if last >= 0 && c > last+1 && !pl.unseenBetween(pl.Times[i-1], t) {
			for k := last + 1; k < c; k++ {
				out[k] = span{low: pl.Values[i-1], high: pl.Values[i-1], seen: true, counts: out[last].counts}
			}
		}
		last = c
		s := &out[c]
		v := pl.Values[i]
		if !s.seen {
			s.low, s.high, s.seen = v, v, true
		}
		s.low, s.high = min(s.low, v), max(s.high, v)
		s.counts = s.counts || pl.Counts == nil || pl.Counts[i]
	}
	return out
}

func (pl *Plot) unseenBetween(from, to float64) bool {
	return slices.ContainsFunc(pl.Unseen, func(u check.Unseen) bool { return u.From < to && u.To > from })
}

func (pl *Plot) column(t float64) int {
	return min(plotWidth-1, max(0, int((t-pl.From)/(pl.To-pl.From)*plotWidth)))
}

// extent is the span of values and limits, never empty.
func (pl *Plot) extent() (low, high float64, ok bool) {
	if len(pl.Values) == 0 {
		return 0, 0, false
	}
	low, high = slices.Min(pl.Values), slices.Max(pl.Values)
	for _, l := range pl.Limits {
		low, high = min(low, l.Value), max(high, l.Value)
		if l.Kind == "a to b" {
			low, high = min(low, l.Upper), max(high, l.Upper)
		}
	}
	if low == high {
		step := max(1, math.Abs(low)*0.1)
		low, high = low-step, high+step
	}
	return low, high, true
}

// valueAt is the sample that stands at t.
func (pl *Plot) valueAt(t float64) (float64, bool) {
	i, exact := slices.BinarySearch(pl.Times, t)
	if !exact {
		i--
	}
	if i < 0 || i >= len(pl.Values) {
		return 0, false
	}
	return pl.Values[i], true
}

type grid [][]rune

func newGrid() grid {
	g := make(grid, plotHeight)
	for r := range g {
		g[r] = slices.Repeat([]rune{' '}, plotWidth)
	}
	return g
}

func (g grid) level(r int) {
	for c := range g[r] {
		g[r][c] = '='
	}
}

func (g grid) span(c, top, bottom int) {
	if top == bottom {
		g[top][c] = '-'
		return
	}
	for r := top; r <= bottom; r++ {
		g[r][c] = '|'
	}
}

// axis prints the foot: which columns counted, which were not seen, and the seconds.
func (p *page) axis(pl *Plot) {
	p.line(strings.Repeat(" ", plotLeft-2) + "+" + strings.Repeat("-", plotWidth+1))
	if pl.Counts != nil {
		marks := slices.Repeat([]rune{' '}, plotWidth)
		for c, s := range pl.columns() {
			if s.counts {
				marks[c] = '^'
			}
		}
		p.line(pad("    counts", plotLeft) + string(marks))
	}
	if len(pl.Unseen) > 0 {
		marks := slices.Repeat([]rune{' '}, plotWidth)
		for _, u := range pl.Unseen {
			if u.To <= pl.From || u.From >= pl.To {
				continue
			}
			for c := pl.column(u.From); c <= pl.column(u.To); c++ {
				marks[c] = '?'
			}
		}
		p.line(pad("    unseen", plotLeft) + string(marks))
	}
	step := niceStep((pl.To - pl.From) / 6)
	d := max(0, int(-math.Floor(math.Log10(step)+1e-9)))
	var ticks columns
	ticks.at(0, "         s")
	for k := math.Ceil(pl.From / step); k*step <= pl.To; k++ {
		label := fixed(k*step, d)
		ticks.at(min(plotLeft+pl.column(k*step), width-len(label)), label)
	}
	p.line(ticks.String())
}

// niceStep is 1, 2 or 5 times a power of ten, at least x.
func niceStep(x float64) float64 {
	power := math.Pow(10, math.Floor(math.Log10(x)))
	for _, k := range []float64{1, 2, 5} {
		if k*power >= x {
			return k * power
		}
	}
	return 10 * power
}

// legend says in words what the drawing shows.
func (p *page) legend(pl *Plot, d int) {
	var parts []string
	if pl.Worst != nil {
		worst := "X at " + seconds(*pl.Worst)
		if v, ok := pl.valueAt(pl.Worst.Time); ok {
			worst += ": " + withUnit(fixed(v, d), pl.Unit)
		}
		parts = append(parts, worst)
	}
	for _, l := range pl.Limits {
		words := "= limit " + limitWords(l, d)
		if l.Outcome != "" {
			words += " (" + string(l.Outcome) + ")"
		}
		parts = append(parts, words)
	}
	if pl.Counts != nil {
		parts = append(parts, "^ where the rule counts")
	}
	for _, words := range parts {
		p.text(plotLeft, words)
	}
}

func (p *page) unseen(spans []check.Unseen) {
	for _, u := range spans {
		words := fmt.Sprintf("? %s unseen %s to %s s", u.Channel, trimmed(u.From, 2), trimmed(u.To, 2))
		if u.Why != "" {
			words += ": " + u.Why
		}
		p.hanging(plotLeft, plotLeft+2, words)
	}
}
