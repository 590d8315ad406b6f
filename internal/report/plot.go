package report

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"github.com/paintmark/paintmark/internal/check"
)

// PlotColumns is how many spans a plot is drawn with.
const PlotColumns = width - plotLeft

const (
	plotLeft   = 12 // columns before the drawing: the number and a bar
	plotHeight = 12
)

// plot is a series as a terminal can show it. Plain characters only: it has to read the
// same on every console, in a mail and on paper.
type plot struct{ *check.Series }

// Plot draws a series of PlotColumns spans: the series as the span it covers in each column, the limit as a line,
// the worst sample, and what was not seen.
func Plot(w io.Writer, s *check.Series) error {
	p := &page{}
	p.plot(plot{s})
	return p.write(w)
}

func (p *page) plot(pl plot) {
	p.line(withUnit(pl.Name+",", pl.Unit) + fmt.Sprintf(", %s to %s s", trimmed(pl.From, 2), trimmed(pl.To, 2)))
	low, high, ok := pl.extent()
	if !ok || pl.To <= pl.From {
		p.line("Nothing to draw: no sample was seen.")
		p.unseen(pl.Unseen)
		return
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
	for c, s := range pl.Spans {
		if s.Seen {
			cells.span(c, row(s.High), row(s.Low))
		}
	}
	if pl.Worst != nil {
		cells[row(pl.Worst.Value)][pl.column(pl.Worst.Time)] = 'X'
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
}

func (pl plot) column(t float64) int {
	return min(PlotColumns-1, max(0, int((t-pl.From)/(pl.To-pl.From)*PlotColumns)))
}

// extent is the span of values, limits and the worst sample, never empty.
func (pl plot) extent() (low, high float64, ok bool) {
	low, high = math.Inf(1), math.Inf(-1)
	take := func(v float64) { low, high = min(low, v), max(high, v) }
	for _, s := range pl.Spans {
		if s.Seen {
			take(s.Low)
			take(s.High)
			ok = true
		}
	}
	if !ok {
		return 0, 0, false
	}
	for _, l := range pl.Limits {
		take(l.Value)
		if l.Kind == "a to b" {
			take(l.Upper)
		}
	}
	if pl.Worst != nil {
		take(pl.Worst.Value)
	}
	if low == high {
		step := max(1, math.Abs(low)*0.1)
		low, high = low-step, high+step
	}
	return low, high, true
}

type grid [][]rune

func newGrid() grid {
	g := make(grid, plotHeight)
	for r := range g {
		g[r] = slices.Repeat([]rune{' '}, PlotColumns)
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
func (p *page) axis(pl plot) {
	p.line(strings.Repeat(" ", plotLeft-2) + "+" + strings.Repeat("-", PlotColumns+1))
	if pl.Counted {
		p.marks(pl, "    counts", '^', func(s check.Span) bool { return s.Counts })
	}
	if slices.ContainsFunc(pl.Spans, func(s check.Span) bool { return s.Missing }) {
		p.marks(pl, "    unseen", '?', func(s check.Span) bool { return s.Missing })
	}
	step := niceStep((pl.To - pl.From) / 6)
	d := max(0, int(-math.Floor(math.Log10(step)+1e-9)))
	var ticks columns
	ticks.at(0, "         s")
	for k := math.Ceil(pl.From / step); k*step <= pl.To; k++ {
		label := fixed(k*step, d)
		if col := min(plotLeft+pl.column(k*step), width-len(label)); col > len(ticks.b) { // else there is no room for it
			ticks.at(col, label)
		}
	}
	p.line(ticks.String())
}

func (p *page) marks(pl plot, name string, mark rune, of func(check.Span) bool) {
	line := []rune(pad(name, plotLeft))
	for _, s := range pl.Spans {
		if of(s) {
			line = append(line, mark)
		} else {
			line = append(line, ' ')
		}
	}
	p.line(string(line))
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
func (p *page) legend(pl plot, d int) {
	var parts []string
	if pl.Worst != nil {
		parts = append(parts, "X at "+seconds(pl.Worst.At)+": "+withUnit(fixed(pl.Worst.Value, d), pl.Unit))
	}
	for _, l := range pl.Limits {
		words := "= limit " + limitWords(l, d)
		if l.Outcome != "" {
			words += " (" + string(l.Outcome) + ")"
		}
		parts = append(parts, words)
	}
	if pl.Counted {
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
