package kernel

import (
	"fmt"
	"math"
	"slices"
	"sort"
)

// slack forgives rounding in sums of times: 1 part in 10^9.
const slack = 1e-9

// grid is the rows everything is evaluated on: the log's own, split where a value stops
// standing in the middle of one, and where an exact log needs a time in between.
type grid struct {
	n       int
	starts  []float64 // of rows; nil where even tells them
	even    *Even
	end     float64
	columns map[string]*view

	asSampled bool // spells last as sampled
}

// view is a column on a grid.
type view struct {
	*Column
	rows   []int32 // grid rows of its own samples; nil: every row
	lapses []span  // rows where nothing stands, although no sample was taken away
	zones  []zone  // by block of rows
}

// span is rows from <= row < to.
type span struct{ from, to int }

// Check says what is wrong with a log's shape; a Runner refuses to run on one that fails.
func (l *Log) Check() error {
	_, err := l.check()
	return err
}

// check also finds how long the widest row stands.
func (l *Log) check() (widest float64, err error) {
	n := l.Rows()
	if n == 0 {
		return 0, fmt.Errorf("the log has no rows")
	}
	if n > math.MaxInt32/2 {
		return 0, fmt.Errorf("the log has %d rows, more than %d: split it", n, math.MaxInt32/2)
	}
	before := l.Time(n - 1)
	if widest = l.Widest; widest == 0 {
		if widest, err = l.widest(); err != nil {
			return 0, err
		}
	}
	// the end may coincide with the last row, which then stands for no time
	if !(l.End >= before) || !finite(l.Time(0)) || !finite(l.End) {
		return 0, fmt.Errorf("the log cannot run from %v s to %v s, with its last row at %v s", l.Time(0), l.End, before)
	}
	for _, name := range sortedKeys(l.Columns) {
		c := l.Columns[name]
		own := len(c.Values)
		switch {
		case c.Rows == nil && own != n:
			return 0, fmt.Errorf("channel %s has %d samples for %d rows", name, own, n)
		case c.Rows != nil && len(c.Rows) != own:
			return 0, fmt.Errorf("channel %s has %d samples in %d rows", name, own, len(c.Rows))
		case c.Bad != nil && len(c.Bad) != words(own):
			return 0, fmt.Errorf("channel %s has %d words of taken-away samples, not %d", name, len(c.Bad), words(own))
		case c.Zones != nil && len(c.Zones) != (own+ZoneSamples-1)/ZoneSamples:
			return 0, fmt.Errorf("channel %s has %d zones for %d samples", name, len(c.Zones), own)
		case !(c.Within >= 0) || math.IsInf(c.Within, 1):
			return 0, fmt.Errorf("channel %s cannot read within %v", name, c.Within)
		case !(c.Hold > 0) || !(c.Period >= 0) || math.IsInf(c.Period, 1):
			return 0, fmt.Errorf("channel %s has period %v s and hold %v s", name, c.Period, c.Hold)
		}
		for k, r := range c.Rows {
			if int(r) >= n || r < 0 || k > 0 && r <= c.Rows[k-1] {
				return 0, fmt.Errorf("channel %s: sample %d lies in row %d, out of order", name, k+1, r+1)
			}
		}
	}
	return max(widest, l.End-before), nil
}

// widest is how long the widest row but the last stands.
func (l *Log) widest() (widest float64, err error) {
	times := l.AllTimes()
	before := times[0]
	for i, t := range times[1:] {
		dt := t - before
		if !(dt > 0) {
			return 0, fmt.Errorf("row %d of the log: times must increase, %v s comes after %v s", i+2, t, before)
		}
		if dt > widest {
			widest = dt
		}
		before = t
	}
	return widest, nil
}

func words(n int) int { return (n + 63) / 64 }

func sortedKeys[T any](m map[string]T) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}

// newGrid lays a log's rows out, split at the extra times that lie within it. widest is the longest any row stands.
func newGrid(l *Log, widest float64, extra []float64) *grid {
	g := &grid{n: l.Rows(), starts: l.Times, end: l.End, columns: make(map[string]*view, len(l.Columns))}
	if l.Times == nil {
		g.even = l.Even
	}
	cuts := slices.Clone(extra)
	for _, name := range sortedKeys(l.Columns) {
		cuts = append(cuts, g.expiries(l.Columns[name], widest)...)
	}
	moved := g.split(cuts)
	for name, c := range l.Columns {
		v := &view{Column: c, rows: c.Rows, zones: make([]zone, (g.n+blockRows-1)/blockRows)}
		switch {
		case moved == nil:
		case c.Rows == nil:
			v.rows = moved
		default:
			v.rows = make([]int32, len(c.Values))
			for k := range v.rows {
				v.rows[k] = moved[c.row(k)]
			}
		}
		v.lapses = v.findLapses(g)
		g.columns[name] = v
	}
	return g
}

func (c *Column) row(k int) int {
	if c.Rows == nil {
		return k
	}
	return int(c.Rows[k])
}

func (c *Column) bad(k int) bool { return c.Bad != nil && c.Bad[k>>6]>>(k&63)&1 != 0 }

// longHold is the time after which an own sample no longer stands.
func (c *Column) longHold() float64 { return c.Hold * (1 + slack) }

// expiries are the times at which a column's samples stop standing in a row that is wider than the
// column's period: the log itself has a gap there. In a narrower row they stand to its end.
func (g *grid) expiries(c *Column, widest float64) []float64 {
	if math.IsInf(c.Hold, 1) || widest <= c.longHold() && (c.Rows == nil || len(c.Rows) == g.n) {
		return nil
	}
	var out []float64
	for k := range c.Values {
		next := g.n
		if k+1 < len(c.Values) {
			next = c.row(k + 1)
		}
		t := g.start(c.row(k))
		if g.time(next)-t <= c.longHold() {
			continue
		}
		if i := g.row(t + c.Hold); g.time(i+1)-g.start(i) > c.Period*(1+slack) {
			out = append(out, t+c.Hold)
		}
	}
	return out
}

// split cuts rows at the given times. moved is where each old row went; nil if none did.
func (g *grid) split(cuts []float64) (moved []int32) {
	slices.Sort(cuts)
	fresh := cuts[:0:0]
	i := 0
	for _, t := range cuts {
		for i < g.n && g.time(i+1) <= t {
			i++
		}
		if i == g.n || t <= g.start(0) {
			continue
		}
		near := slack * max(1, math.Abs(t)) // a cut this near a row's start is that row's start
		if t-g.start(i) <= near || g.time(i+1)-t <= near || len(fresh) > 0 && t-fresh[len(fresh)-1] <= near {
			continue
		}
		fresh = append(fresh, t)
	}
	if len(fresh) == 0 {
		return nil
	}
	out := make([]float64, 0, g.n+len(fresh))
	moved = make([]int32, g.n)
	for i, t := range g.list() {
		for len(fresh) > 0 && fresh[0] < t {
			out = append(out, fresh[0])
			fresh = fresh[1:]
		}
		moved[i] = int32(len(out))
		out = append(out, t)
	}
	g.starts, g.even = append(out, fresh...), nil
	g.n = len(g.starts)
	return moved
}

// findLapses are the rows before a column's first sample, unless that comes within a
// sampling period of the log's start, and those where a sample has stood for longer than it may.
func (v *view) findLapses(g *grid) []span {
	n := g.n
	if len(v.Values) == 0 {
		return []span{{0, n}}
	}
	var out []span
	if first := v.at(0); first > 0 && g.start(first)-g.start(0) > v.Period*(1+slack) {
		out = append(out, span{0, first})
	}
	if math.IsInf(v.Hold, 1) || v.rows == nil {
		// on a grid without cuts no row is wider than the hold
		return out
	}
	hold, starts := v.Hold*(1-slack), g.list()
	for k := range v.Values {
		from, to := v.at(k), n
		if k+1 < len(v.Values) {
			to = v.at(k + 1)
		}
		if to < n && starts[to]-starts[from] <= v.longHold() {
			continue
		}
		gone := from + 1 + sort.SearchFloat64s(starts[from+1:to], starts[from]+hold)
		if gone < to {
			out = append(out, span{gone, to})
		}
	}
	return out
}

// time is when a row starts; row n is the end.
func (g *grid) time(i int) float64 {
	if i == g.n {
		return g.end
	}
	return g.start(i)
}

// start is when a row starts.
func (g *grid) start(i int) float64 {
	if g.even != nil {
		return g.even.time(i)
	}
	return g.starts[i]
}

// list is when each row starts.
func (g *grid) list() []float64 {
	if g.even != nil {
		return g.even.times()
	}
	return g.starts
}

// at is the grid row of own sample k.
func (v *view) at(k int) int {
	if v.rows == nil {
		return k
	}
	return int(v.rows[k])
}

// standing is the own sample that stands in a row, or -1 before the first.
func (v *view) standing(row int) int {
	if v.rows == nil {
		return row
	}
	return sort.Search(len(v.rows), func(k int) bool { return int(v.rows[k]) > row }) - 1
}

// row is the grid row in which a time lies; times outside the log lie in its first or last.
func (g *grid) row(t float64) int {
	i := sort.Search(g.n, func(i int) bool { return g.start(i) > t }) - 1
	return max(i, 0)
}

// lapsesFrom are the lapses that end after a row.
func (v *view) lapsesFrom(row int) []span {
	i := sort.Search(len(v.lapses), func(i int) bool { return v.lapses[i].to > row })
	return v.lapses[i:]
}

// own marks the rows from <= row < from+n in which the column has an own sample.
func (v *view) own(m []uint64, from, n int) {
	if v.rows == nil {
		setBits(m, 0, n)
		return
	}
	for k := sort.Search(len(v.rows), func(k int) bool { return int(v.rows[k]) >= from }); k < len(v.rows) && int(v.rows[k]) < from+n; k++ {
		i := int(v.rows[k]) - from
		m[i>>6] |= 1 << (i & 63)
	}
}

// own are the rows in which a node has an own sample: any of its channels has, or, where
// there are none or it changes in between, every row.
func (g *grid) own(n *node) []uint64 {
	m := make([]uint64, words(g.n))
	g.ownRows(n, m, 0, g.n)
	return m
}

// ownRows marks those of the rows from <= row < from+count.
func (g *grid) ownRows(n *node, m []uint64, from, count int) {
	if len(n.channels) == 0 || n.restless {
		setBits(m, 0, count)
		return
	}
	for _, name := range n.channels {
		if v := g.columns[name]; v != nil {
			v.own(m, from, count)
		}
	}
}
