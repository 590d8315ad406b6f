package kernel

import (
	"fmt"
	"math"
	"slices"
)

// remember computes the series of a node with memory from that of its operand.
func remember(g *grid, n, operand *node, x *series) *series {
	switch n.form {
	case slopeForm:
		return slopes(g, x, g.own(operand))
	case delayForm:
		return delayed(g, x, n.low)
	case smoothForm:
		return smoothed(g, x, n.low)
	case heldForm:
		return heldFor(g, x, n.low)
	default: // sinceForm
		return sinceLast(g, x)
	}
}

// own are the rows in which a node has an own sample: any of its channels has, or, where
// there are none or it changes in between, every row.
func (g *grid) own(n *node) []uint64 {
	m := make([]uint64, words(g.n))
	if len(n.channels) == 0 || n.restless {
		setBits(m, 0, g.n)
		return m
	}
	for _, name := range n.channels {
		if v := g.columns[name]; v != nil {
			v.own(m, 0, g.n)
		}
	}
	return m
}

func isSet(m []uint64, i int) bool { return m[i>>6]>>(i&63)&1 != 0 }

func setBit(m []uint64, i int) { m[i>>6] |= 1 << (i & 63) }

// nextSet is the first set bit from i on; n if there is none.
func nextSet(m []uint64, i, n int) int {
	for ; i < n; i = (i | 63) + 1 {
		if x := m[i>>6] >> (i & 63); x != 0 {
			return min(i+trailing(x), n)
		}
	}
	return n
}

func slopes(g *grid, x *series, own []uint64) *series {
	out := &series{numbers: numbers{low: make([]float64, g.n), known: make([]uint64, words(g.n))}}
	number := func(i int) (float64, bool) {
		low, high := x.numbers.at(i)
		return low, low == high
	}
	rate := func(i, j int) (float64, bool) { // from sample i to sample j, if x stood all the while
		if i < 0 || j >= g.n {
			return 0, false
		}
		a, ok := number(i)
		b, okb := number(j)
		_, stood := number(j - 1)
		r := (b-a)/(g.time(j)-g.time(i)) + 0
		return r, ok && okb && stood && finite(r)
	}
	before := -1
	for i := nextSet(own, 0, g.n); i < g.n; {
		next := nextSet(own, i+1, g.n)
		r, ok := rate(before, i)
		if !ok {
			r, ok = rate(i, next)
		}
		if ok {
			for j := i; j < next; j++ {
				if _, stands := number(j); stands {
					out.low[j] = r
					setBit(out.known, j)
				}
			}
		}
		before, i = i, next
	}
	return out
}

func delayed(g *grid, x *series, d float64) *series {
	out := &series{}
	if x.yes != nil {
		out.yes, out.no = make([]uint64, words(g.n)), make([]uint64, words(g.n))
	} else {
		out.low, out.known = make([]float64, g.n), make([]uint64, words(g.n))
		if x.high != nil {
			out.high, out.known = make([]float64, g.n), nil
		}
	}
	j := -1
	for i := range g.n {
		then := g.time(i) - d + slack*max(1, math.Abs(g.time(i)))
		for j+1 < g.n && g.time(j+1) <= then {
			j++
		}
		switch {
		case x.yes != nil && j >= 0:
			if isSet(x.yes, j) {
				setBit(out.yes, i)
			} else if isSet(x.no, j) {
				setBit(out.no, i)
			}
		case x.yes != nil:
		case out.high != nil && j >= 0:
			out.low[i], out.high[i] = x.low[j], x.high[j]
		case out.high != nil:
			out.low[i], out.high[i] = minusInf, plusInf
		case j >= 0 && (x.known == nil || isSet(x.known, j)):
			out.low[i] = x.low[j]
			setBit(out.known, i)
		}
	}
	return out
}

// window is a running sum of value times seconds over the rows of a trailing window.
type window struct {
	sum      total
	infinite int // rows without a bound
}

func (w *window) add(x, dt float64) {
	if math.IsInf(x, 0) {
		w.infinite++
	} else {
		w.sum.add(x * dt)
	}
}

func (w *window) drop(x, dt float64) {
	if math.IsInf(x, 0) {
		w.infinite--
	} else {
		w.sum.add(-x * dt)
	}
}

func smoothed(g *grid, x *series, d float64) *series {
	out := &series{numbers: numbers{low: make([]float64, g.n), high: make([]float64, g.n)}}
	var low, high window
	first := 0  // oldest row that reaches into the window
	steady := 0 // since this row x has had the same bounds
	for i := range g.n {
		l, h := x.numbers.at(i)
		if i == 0 {
			out.low[0], out.high[0] = l, h
			continue
		}
		pl, ph := x.numbers.at(i - 1)
		dt := g.time(i) - g.time(i-1)
		low.add(pl, dt)
		high.add(ph, dt)
		if i > 1 {
			if bl, bh := x.numbers.at(i - 2); bl != pl || bh != ph {
				steady = i - 1
			}
		}
		begin := max(g.time(i)-d, g.time(0))
		for g.time(first+1) <= begin {
			ol, oh := x.numbers.at(first)
			odt := g.time(first+1) - g.time(first)
			low.drop(ol, odt)
			high.drop(oh, odt)
			first++
		}
		if steady <= first { // exactly, without rounding
			out.low[i], out.high[i] = pl, ph
			continue
		}
		fl, fh := x.numbers.at(first)
		cut := begin - g.time(first)
		length := g.time(i) - begin
		mean := func(w *window, edge, unbounded float64) float64 {
			if w.infinite > 0 {
				return unbounded
			}
			s := w.sum
			s.add(-edge * cut)
			return s.value()/length + 0
		}
		out.low[i], out.high[i] = settle(mean(&low, fl, minusInf), mean(&high, fh, plusInf))
	}
	out.slim()
	return out
}

func heldFor(g *grid, p *series, d float64) *series {
	out := &series{truths: truths{yes: make([]uint64, words(g.n)), no: make([]uint64, words(g.n))}}
	sure, possible := -1, -1 // first row of the spell at hand
	for i := range g.n {
		t := g.time(i)
		long := func(since int) bool { return since >= 0 && t-g.time(since) >= d-slack*max(1, math.Abs(t)) }
		if isSet(p.yes, i) {
			if sure < 0 {
				sure = i
			}
		} else {
			sure = -1
		}
		if isSet(p.no, i) {
			possible = -1
		} else if possible < 0 {
			possible = i
		}
		if long(sure) {
			setBit(out.yes, i)
		} else if !long(possible) {
			setBit(out.no, i)
		}
	}
	return out
}

func sinceLast(g *grid, p *series) *series {
	out := &series{numbers: numbers{low: make([]float64, g.n), high: make([]float64, g.n)}}
	sure, possible := plusInf, g.time(0) // when p was last true, surely and at the latest
	seen := false
	for i := range g.n {
		t := g.time(i)
		switch {
		case isSet(p.yes, i):
			sure, possible, seen = g.time(i+1), g.time(i+1), true
		case !isSet(p.no, i):
			possible = g.time(i + 1)
			out.high[i] = plusInf
			if seen {
				out.high[i] = t - sure
			}
		default:
			out.low[i], out.high[i] = t-possible, plusInf
			if seen {
				out.high[i] = t - sure
			}
		}
	}
	out.slim()
	return out
}

// finest rows of a ramp in an exact log, s, and the most of them.
const (
	rampStep = 0.01
	rampRows = 20000
	mostCuts = 1 << 18
)

// cutsFor are the times at which nodes with memory change although no channel does, where
// all channels are exact: in a sampled log the rows are the resolution.
func cutsFor(l *Log, nodes []node, wanted ...Node) ([]float64, error) {
	memory, exactLog := false, false
	done := map[Node][]float64{}
	var changes func(id Node) []float64
	changes = func(id Node) []float64 {
		if id == NoNode {
			return nil
		}
		if out, ok := done[id]; ok {
			return out
		}
		n := &nodes[id]
		var out []float64
		if n.form == channelForm {
			if c := l.Columns[n.name]; c != nil && c.Period == 0 {
				exactLog = true
				out = append(out, l.Times[0])
				for k := range c.Values {
					t := l.Times[c.row(k)]
					out = append(out, t)
					if !math.IsInf(c.Hold, 1) {
						out = append(out, t+c.Hold)
					}
				}
			}
		}
		for _, x := range []Node{n.a, n.b, n.c} {
			out = append(out, changes(x)...)
		}
		memory = memory || n.memory
		switch n.form {
		case delayForm, heldForm, smoothForm:
			out = shifted(out, n.low)
		case lessForm, equalForm: // a ramp meets a limit
			for _, x := range [][2]Node{{n.a, n.b}, {n.b, n.a}} {
				if ramp, limit := &nodes[x[0]], &nodes[x[1]]; ramp.form == sinceForm && limit.form == rangeForm {
					out = append(shifted(out, limit.low), shifted(out, limit.high)...)
				}
			}
		}
		if exactLog && (n.form == smoothForm || n.form == sinceForm) {
			step := max(rampStep, (l.End-l.Times[0])/rampRows)
			for i := 1; l.Times[0]+float64(i)*step < l.End; i++ {
				out = append(out, l.Times[0]+float64(i)*step)
			}
		}
		slices.Sort(out)
		out = slices.Compact(out)
		done[id] = out[:min(len(out), mostCuts+1)]
		return done[id]
	}
	var out []float64
	for _, id := range wanted {
		out = append(out, changes(id)...)
	}
	if !memory || !exactLog {
		return nil, nil
	}
	if len(out) > mostCuts {
		return nil, fmt.Errorf("the delays in a log expression make more than %d changes: nest fewer", mostCuts)
	}
	return out, nil
}

func shifted(times []float64, d float64) []float64 {
	if math.IsInf(d, 0) {
		return times
	}
	out := slices.Clone(times)
	for _, t := range times {
		out = append(out, t+d)
	}
	return out
}
