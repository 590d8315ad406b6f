package kernel

import (
	"math"
	"sync/atomic"
)

// zone bounds the own samples that stand in a block; worked out when first needed, and by
// whichever worker needs it: all find the same.
type zone struct {
	least, most atomic.Uint64 // bits of doubles
	known       atomic.Bool
}

// zoneOf bounds the own samples first <= k < last, those that stand in a block. Working it out costs as
// much as some compares, so it is not done for a few.
func (v *view) zoneOf(block, first, last, compares int) (least, most float64) {
	if v.Zones != nil {
		least, most = plusInf, minusInf
		for _, z := range v.Zones[first/ZoneSamples : (last-1)/ZoneSamples+1] {
			least, most = min(least, z.Least), max(most, z.Most)
		}
		return least, most
	}
	z := &v.zones[block]
	if z.known.Load() {
		return math.Float64frombits(z.least.Load()), math.Float64frombits(z.most.Load())
	}
	if compares < 3 {
		return minusInf, plusInf
	}
	least, most = extremes(v.Values[first:last])
	least, most = v.Line.SI(least), v.Line.SI(most)
	z.least.Store(math.Float64bits(least))
	z.most.Store(math.Float64bits(most))
	z.known.Store(true)
	return least, most
}

// limit compares a channel with a number, on its own samples: a block whose least and
// greatest lie on one side is decided without looking at them, and a slower channel's outcome is spread over
// the rows where its samples stand.
func (p *plan) limit(st *step, s *slot) {
	v := st.view
	yes, no := s.spaceTruths(p.n)
	first, last := v.inBlock(p.from, p.n)
	values := v.Values[first:last]
	least, most := v.zoneOf(p.from/blockRows, first, last, p.limits[v])
	outcome, decided := false, false
	switch {
	case st.form == equalForm:
		decided = st.limit < least || st.limit > most
	case st.swapped: // limit < channel
		outcome = st.limit < least
		decided = outcome || st.limit >= most
	default:
		outcome = most < st.limit
		decided = outcome || least >= st.limit
	}
	switch {
	case decided:
		fillTruth(yes, no, outcome, p.n)
	case last-first != p.n:
		p.spread(st, yes, first, values)
	case st.form == equalForm:
		equalConst(yes, v.values(first, last, s), st.limit)
	case st.swapped:
		moreConst(yes, values, st.logged)
	default:
		lessConst(yes, values, st.logged)
	}
	known := p.standing(v, s)
	if !decided || known != nil {
		p.divide(yes, no, known)
	}
}

// spread compares own samples and marks the rows in which those that pass stand.
func (p *plan) spread(st *step, yes []uint64, first int, values []float64) {
	clear(yes)
	rows := st.view.rows
	from := -1 // where the run of passing samples at hand began
	for k, x := range values {
		pass := st.form == equalForm && st.view.Line.SI(x) == st.limit
		if st.form == lessForm {
			if pass = x < st.logged; st.swapped {
				pass = x > st.logged
			}
		}
		if pass == (from >= 0) {
			continue
		}
		row := 0
		if k > 0 {
			row = int(rows[first+k]) - p.from
		}
		if pass {
			from = row
		} else {
			setBits(yes, from, row)
			from = -1
		}
	}
	if from >= 0 {
		setBits(yes, from, p.n)
	}
}
