package kernel

import "math"

// input is the block at hand, as a fold sees it.
type input struct {
	from int   // first row
	n    int   // rows
	plan *plan // that is at it
	last bool  // no block follows
	x    *slot // the operand
	y    *slot // the filter, or the reaction; nil where there is none
	face *slot // the operand with readings at their face; nil where that is x
	open [2]*leaning
}

// seen is a word of the rows in which the operand is no matter of missing samples.
func (in *input) seen(w int, valid uint64) uint64 {
	if in.face != nil {
		return in.face.exact(w, valid)
	}
	return in.x.exact(w, valid)
}

// folder folds one aggregate, block by block in order of time.
type folder interface {
	block(in *input)
	done() bool // nothing that follows can change the answer
	answer() Answer
}

// time is when a row of the block starts, or, behind the last, ends.
func (in *input) time(i int) float64 { return in.plan.grid.time(in.from + i) }

// leaning are the rows of an operand that were missing and that the answer leaned on.
type leaning struct {
	rows []uint64 // of the whole grid; nil: none
	n    int
}

func (l *leaning) add(word int, m uint64) {
	if m == 0 {
		return
	}
	if l.rows == nil {
		l.rows = make([]uint64, words(l.n))
	}
	l.rows[word] |= m
}

// nowhere is the time of what has none.
var nowhere = math.NaN()

// filter is word w of the rows that pass the filter and those that may.
func (in *input) filter(w int) (yes, maybe uint64) {
	valid := rowsOf(in.n, w)
	if in.y == nil {
		return valid, 0
	}
	return in.y.yes[w], valid &^ (in.y.yes[w] | in.y.no[w])
}

// newFolder starts an aggregate.
func newFolder(g *grid, a aggregate, nodes []node) folder {
	switch a.fold {
	case Always:
		return &alwaysFold{at: nowhere, filtered: a.y != NoNode}
	case Ever:
		return &everFold{at: nowhere}
	case Total:
		return &totalFold{spellFold: newSpellFold(g, &nodes[a.x]), at: nowhere}
	case Longest:
		return &longestFold{newSpellFold(g, &nodes[a.x])}
	case Count:
		return &countFold{at: nowhere, endless: g.anyExact(nodes[a.x].channels), free: g.free(&nodes[a.x])}
	case Min:
		return newExtremeFold(false)
	case Max:
		return newExtremeFold(true)
	case Mean:
		return &meanFold{}
	case Quantile:
		return &quantileFold{
			q: math.Float64frombits(a.q), own: g.own(&nodes[a.x]), period: g.shortest(nodes[a.x].channels),
			lapsed: g.lapsed(nodes[a.x].channels),
		}
	case Integral:
		return &integralFold{own: g.own(&nodes[a.x]), steps: g.anyExact(nodes[a.x].channels)}
	case Damage:
		return newDamageFold(g, &nodes[a.x], *a.wear)
	case First:
		return &firstFold{low: plusInf, high: minusInf, at: nowhere}
	case Last:
		return &lastFold{at: nowhere}
	default:
		return newResponseFold(g, a, nodes)
	}
}

// anyExact: a channel is not in the log, or the times of its samples are exact.
func (g *grid) anyExact(channels []string) bool {
	for _, name := range channels {
		if v := g.columns[name]; v == nil || v.Period == 0 {
			return true
		}
	}
	return false
}

// lapsed are the rows in which some channel has had no sample for longer than one stands; nil: none.
func (g *grid) lapsed(channels []string) []uint64 {
	var m []uint64
	for _, name := range channels {
		lapses := []span{{0, g.n}}
		if v := g.columns[name]; v != nil {
			lapses = v.lapses
		}
		for _, l := range lapses {
			if m == nil {
				m = make([]uint64, words(g.n))
			}
			setBits(m, l.from, l.to)
		}
	}
	return m
}

// free are the rows in which an unknown truth may change: a sample of one of its channels came there,
// or was due while none came; nil: every row.
func (g *grid) free(n *node) []uint64 {
	every := len(n.channels) == 0 || n.restless
	for _, name := range n.channels {
		v := g.columns[name]
		every = every || v != nil && v.Rows == nil // a sample was due in every row
	}
	if every {
		return nil
	}
	m := g.own(n)
	for _, name := range n.channels {
		v := g.columns[name]
		if v == nil || v.Period == 0 {
			continue // nothing says when samples were due
		}
		for _, l := range v.lapses {
			due := g.start(l.from)
			for i := l.from; i < l.to; i++ {
				if t := g.start(i) + slack*max(1, math.Abs(g.start(i))); t >= due {
					setBit(m, i)
					due += v.Period * (math.Floor((t-due)/v.Period) + 1)
				}
			}
		}
	}
	return m
}

// shortest is the shortest sampling period of the channels; 0 if one of them has none.
func (g *grid) shortest(channels []string) float64 {
	if g.anyExact(channels) || len(channels) == 0 {
		return 0
	}
	p := plusInf
	for _, name := range channels {
		p = min(p, g.columns[name].Period)
	}
	return p
}

// longest is the longest sampling period of the channels that are logged: how well the time
// of a change of theirs is known.
func (g *grid) longest(channels []string) float64 {
	p := 0.0
	for _, name := range channels {
		if v := g.columns[name]; v != nil {
			p = max(p, v.Period)
		}
	}
	return p
}

func truthOf(b bool) float64 {
	if b {
		return 1
	}
	return 0
}
