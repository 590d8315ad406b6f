package kernel

import (
	"slices"
	"strings"
)

// blame traces rows in which nodes are unknown back to the channels that were missing there.
type blame struct {
	plan  *plan
	open  map[Node][]uint64              // whole-log rows of nodes still to trace
	found map[string]map[string][]uint64 // channel, why: rows; why is empty where the sample is missing
}

const (
	notLogged  = "not logged"
	notYet     = "no sample yet"
	tooOld     = "no sample for longer than one stands"
	takenAway  = "taken away"
	noNumber   = "divided by zero, or too large a number"
	offCurve   = "beyond the curve"
	beforeTime = "before the log begins"
	noSlope    = "no two samples in a row to take a slope of"
)

func newBlame(p *plan) *blame {
	return &blame{plan: p, open: map[Node][]uint64{}, found: map[string]map[string][]uint64{}}
}

// add takes rows in which a node is unknown; nil: none.
func (b *blame) add(id Node, rows []uint64) {
	if rows == nil {
		return
	}
	all := b.rows(id)
	for w, m := range rows {
		all[w] |= m
	}
}

func (b *blame) rows(id Node) []uint64 {
	if b.open[id] == nil {
		b.open[id] = make([]uint64, words(b.plan.grid.n))
	}
	return b.open[id]
}

func (b *blame) note(channel, why string) []uint64 {
	if b.found[channel] == nil {
		b.found[channel] = map[string][]uint64{}
	}
	if b.found[channel][why] == nil {
		b.found[channel][why] = make([]uint64, words(b.plan.grid.n))
	}
	return b.found[channel][why]
}

// trace walks down from the last node to the first: operands come before the nodes that use them.
func (b *blame) trace() {
	nodes := b.plan.nodes
	for id := Node(len(nodes) - 1); id >= 0; id-- {
		rows := b.open[id]
		if rows == nil {
			continue
		}
		n := &nodes[id]
		switch {
		case n.form == channelForm:
			all := b.note(n.name, "")
			for w, m := range rows {
				all[w] |= m
			}
		case n.memory:
			b.traceBack(n, rows)
		default:
			var below []Node
			for _, x := range []Node{n.a, n.b, n.c} {
				if x != NoNode {
					below = append(below, x)
				}
			}
			if len(below) > 0 {
				b.traceDown(n, rows, below)
			}
		}
		b.open[id] = nil
	}
}

// traceDown passes rows on to those operands that are unknown in them.
func (b *blame) traceDown(n *node, rows []uint64, below []Node) {
	p := newPlan(b.plan.grid, b.plan.nodes, below...)
	for from := 0; from < p.grid.n; from += blockRows {
		at := from / 64
		any := uint64(0)
		for _, m := range rows[at:min(at+blockWords, len(rows))] {
			any |= m
		}
		if any == 0 {
			continue
		}
		p.seek(from)
		for w := range words(p.n) {
			m := rows[at+w]
			if m == 0 {
				continue
			}
			passed := uint64(0)
			for _, x := range below {
				if open := m & p.slots[x].unknown(p.nodes[x].kind, w, rowsOf(p.n, w)); open != 0 {
					b.rows(x)[at+w] |= open
					passed |= open
				}
			}
			if own := m &^ passed; own != 0 { // it came about here
				why := noNumber
				if n.form == curveForm {
					why = offCurve
				}
				for _, name := range n.channels {
					b.note(name, why)[at+w] |= own
				}
			}
		}
	}
}

// unknown is a word of the rows in which a node is not known exactly.
func (s *slot) unknown(k Kind, w int, valid uint64) uint64 {
	if k == Truths {
		return valid &^ (s.yes[w] | s.no[w])
	}
	return valid &^ s.numbers.exact(w, valid)
}

// traceBack passes rows on to the earlier rows that a node with memory looks at.
func (b *blame) traceBack(n *node, rows []uint64) {
	g := b.plan.grid
	look := make([]uint64, words(g.n)) // rows of the operand that were looked at
	why := ""
	switch n.form {
	case delayForm, smoothForm, heldForm:
		spansOf(rows, g.n, func(from, to int) {
			first, last := g.row(g.time(from)-n.low), to
			if n.form == delayForm {
				last = g.row(g.time(to-1)-n.low) + 1
			}
			setBits(look, first, last)
		})
		if n.form == delayForm {
			why = beforeTime
		}
	case sinceForm: // back to the last row in which p was surely true
		spansOf(rows, g.n, func(_, to int) { setBits(look, 0, to) })
	case slopeForm:
		own := g.own(&b.plan.nodes[n.a])
		before, i := 0, 0
		for i < g.n {
			next := nextSet(own, i+1, g.n)
			if nextSet(rows, i, next) < next {
				setBits(look, before, min(next+1, g.n))
			}
			before, i = i, next
		}
		why = noSlope
	}
	p := newPlan(g, b.plan.nodes, n.a)
	passed := false
	for from := 0; from < g.n; from += blockRows {
		p.load(from)
		for w := range words(p.n) {
			if open := look[from/64+w] & p.slots[n.a].unknown(p.nodes[n.a].kind, w, rowsOf(p.n, w)); open != 0 {
				b.rows(n.a)[from/64+w] |= open
				passed = true
			}
		}
	}
	if !passed && why != "" {
		for _, name := range n.channels {
			m := b.note(name, why)
			for w := range rows {
				m[w] |= rows[w]
			}
		}
	}
}

// missing are the spans found, sorted and merged: rows of one gap that were leaned on here and there are one span.
func (b *blame) missing() []Missing {
	b.trace()
	g := b.plan.grid
	byWhy := map[string]map[string][]Missing{}
	put := func(m Missing) {
		if byWhy[m.Channel] == nil {
			byWhy[m.Channel] = map[string][]Missing{}
		}
		byWhy[m.Channel][m.Why] = append(byWhy[m.Channel][m.Why], m)
	}
	for _, name := range sortedKeys(b.found) {
		for _, why := range sortedKeys(b.found[name]) {
			rows := b.found[name][why]
			if why != "" {
				spansOf(rows, g.n, func(from, to int) {
					put(Missing{name, Gap{From: g.time(from), To: g.time(to), Why: why}})
				})
				continue
			}
			spansOf(g.gone(name), g.n, func(from, to int) {
				first := nextSet(rows, from, to)
				if first == to {
					return
				}
				last := to - 1
				for !isSet(rows, last) {
					last--
				}
				for _, m := range g.explain(name, Gap{From: g.time(first), To: g.time(last + 1)}) {
					put(m)
				}
			})
		}
	}
	var out []Missing
	for _, name := range sortedKeys(byWhy) {
		for _, why := range sortedKeys(byWhy[name]) {
			out = append(out, fewer(byWhy[name][why])...)
		}
	}
	slices.SortStableFunc(out, func(a, b Missing) int {
		if c := strings.Compare(a.Channel, b.Channel); c != 0 {
			return c
		}
		switch {
		case a.From < b.From:
			return -1
		case a.From > b.From:
			return 1
		}
		return strings.Compare(a.Why, b.Why)
	})
	return out
}

// vague are the channels found that were read in rows that an answer leaned on, and only within something.
func (b *blame) vague() []Vague {
	var out []Vague
	for _, name := range sortedKeys(b.found) {
		v, rows := b.plan.grid.columns[name], b.found[name][""]
		if v == nil || v.Within == 0 || rows == nil {
			continue
		}
		for w, gone := range b.plan.grid.gone(name) {
			if rows[w]&^gone != 0 {
				out = append(out, Vague{name, v.Said})
				break
			}
		}
	}
	return out
}

// mostSpans of one channel for one reason: more are no help to a reader.
const mostSpans = 16

// fewer joins spans, those nearest to each other first, until there are few enough.
func fewer(spans []Missing) []Missing {
	if len(spans) <= mostSpans {
		return spans
	}
	apart := make([]float64, 0, len(spans)-1)
	for i, m := range spans[1:] {
		apart = append(apart, m.From-spans[i].To)
	}
	slices.Sort(apart)
	limit := apart[len(apart)-(mostSpans-1)] // the widest stay apart
	out := spans[:1]
	for _, m := range spans[1:] {
		if last := &out[len(out)-1]; m.From-last.To < limit || len(out) == mostSpans {
			last.To = m.To
		} else {
			out = append(out, m)
		}
	}
	return out
}

// gone are the rows in which a channel does not stand.
func (g *grid) gone(name string) []uint64 {
	m := make([]uint64, words(g.n))
	v := g.columns[name]
	if v == nil || len(v.Values) == 0 {
		setBits(m, 0, g.n)
		return m
	}
	p, s := &plan{grid: g}, newSlot(g)
	for p.from = 0; p.from < g.n; p.from += blockRows {
		p.n = min(blockRows, g.n-p.from)
		for w, known := range p.standing(v, s) {
			m[p.from/64+w] = rowsOf(p.n, w) &^ known
		}
	}
	return m
}

// explain says why a channel is missing over a span: the log's own gaps where they say, else what is seen.
func (g *grid) explain(name string, whole Gap) []Missing {
	v := g.columns[name]
	if v == nil || len(v.Values) == 0 {
		whole.Why = notLogged
		return []Missing{{name, whole}}
	}
	var out []Missing
	put := func(from, to float64, why string) {
		if from >= to && whole.From < whole.To {
			return
		}
		if k := len(out) - 1; k >= 0 && out[k].Why == why && out[k].To == from {
			out[k].To = to
			return
		}
		out = append(out, Missing{name, Gap{From: from, To: to, Why: why}})
	}
	rest := func(from, to float64) { // what no gap of the log explains
		why := takenAway
		if lapses := v.lapsesFrom(g.row(from)); len(lapses) > 0 && g.time(lapses[0].from) <= from {
			why = tooOld
			if lapses[0].from < v.at(0) {
				why = notYet
			}
		}
		put(from, to, why)
	}
	at := whole.From
	for _, gap := range v.Gaps {
		if gap.To <= at || gap.From >= whole.To {
			continue
		}
		if gap.From > at {
			rest(at, gap.From)
			at = gap.From
		}
		put(at, min(gap.To, whole.To), gap.Why)
		at = min(gap.To, whole.To)
	}
	if at < whole.To || len(out) == 0 {
		rest(at, whole.To)
	}
	return out
}
