package kernel

import "math"

// Nodes that look at other rows, computed over a whole log at once: TestMemoryByDefinition checks
// the kernels against definitions on short logs, this is for long ones.

// remember computes the series of a node with memory from that of its operand.
func remember(g *grid, n, operand *node, x, face *series) *series {
	switch n.form {
	case slopeForm:
		return wholeSlope(g, x, face, g.own(operand))
	case delayForm:
		return wholeDelay(g, x, n.low)
	case smoothForm:
		return wholeSmooth(g, x, n.low)
	case heldForm:
		return wholeHeld(g, x, n.low)
	default: // sinceForm
		return wholeSince(g, x)
	}
}

// wholeSlope takes what was seen from x with readings at their face, and bounds from x.
func wholeSlope(g *grid, x, face *series, own []uint64) *series {
	out := &series{numbers: numbers{low: make([]float64, g.n), high: make([]float64, g.n)}}
	for i := range out.low {
		out.low[i], out.high[i] = minusInf, plusInf
	}
	seen := func(i int) bool {
		low, high := face.numbers.at(i)
		return low == high
	}
	rate := func(i, j int) (low, high float64, ok bool) { // from sample i to sample j, if x was seen all the while
		if i < 0 || j >= g.n {
			return 0, 0, false
		}
		alow, ahigh := x.numbers.at(i)
		blow, bhigh := x.numbers.at(j)
		dt := g.time(j) - g.time(i)
		low, high = (blow-ahigh)/dt+0, (bhigh-alow)/dt+0
		return low, high, seen(i) && seen(j) && seen(j-1) && finite(low) && finite(high)
	}
	before := -1
	for i := nextSet(own, 0, g.n); i < g.n; {
		next := nextSet(own, i+1, g.n)
		low, high, ok := rate(before, i)
		if !ok {
			low, high, ok = rate(i, next)
		}
		if ok {
			for j := i; j < next; j++ {
				if seen(j) {
					out.low[j], out.high[j] = low, high
				}
			}
		}
		before, i = i, next
	}
	return out
}

func wholeDelay(g *grid, x *series, d float64) *series {
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

func wholeSmooth(g *grid, x *series, d float64) *series {
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
		out.low[i], out.high[i] = settle(low.mean(fl, cut, length, minusInf), high.mean(fh, cut, length, plusInf))
	}
	return out
}

func wholeHeld(g *grid, p *series, d float64) *series {
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

func wholeSince(g *grid, p *series) *series {
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
	return out
}
