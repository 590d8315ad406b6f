package kernel

import (
	"fmt"
	"math"
	"slices"
)

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
				out = append(out, l.Time(0))
				for k := range c.Values {
					t := l.Time(c.row(k))
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
			step := max(rampStep, (l.End-l.Time(0))/rampRows)
			for i := 1; l.Time(0)+float64(i)*step < l.End; i++ {
				out = append(out, l.Time(0)+float64(i)*step)
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
