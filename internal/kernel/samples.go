package kernel

import "context"

// Samples are the values of a number, readings at their face, at every row of the log where it is known, in
// order. Whole is false where some rows are missing: what lies there nobody knows.
func (r *Runner) Samples(ctx context.Context, n Node) (values []float64, whole bool, err error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	nodes, _ := r.graph.snapshot()
	g, err := r.gridFor(nodes, n)
	if err != nil {
		return nil, false, err
	}
	whole = true
	p := newFacePlan(g, nodes, n)
	for row, last := g.row(g.time(0)), g.row(g.time(g.n)); row <= last; row++ {
		if p.n == 0 || row >= p.from+p.n {
			if err := ctx.Err(); err != nil {
				return nil, false, err
			}
			p.seek(row)
		}
		low, high := p.slots[n].bounds(nodes[n].kind, row-p.from)
		if low != high {
			whole = false
			continue
		}
		if k := len(values); k == 0 || values[k-1] != low {
			values = append(values, low)
		}
	}
	return values, whole, nil
}
