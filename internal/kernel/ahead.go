package kernel

import (
	"context"
	"sync"
	"sync/atomic"
)

// ahead works out truths over the whole log before they are folded, its rows dealt out to workers: for
// when there are too few aggregates to deal out. It gives nil where that cannot be done.
func ahead(ctx context.Context, g *grid, nodes []node, wanted []Node, workers int) map[Node]*truths {
	if workers < 2 {
		return nil
	}
	for _, id := range wanted {
		if nodes[id].kind != Truths {
			return nil
		}
	}
	plans := make([]*plan, workers)
	for k := range plans {
		if plans[k] = newPlan(g, nodes, wanted...); plans[k].stateful { // blocks must come in order
			return nil
		}
	}
	whole := make(map[Node]*truths, len(wanted))
	for _, id := range wanted {
		whole[id] = &truths{make([]uint64, words(g.n)), make([]uint64, words(g.n))}
	}
	const atOnce = 32 * blockRows
	var next atomic.Int64
	var group sync.WaitGroup
	panics := make([]any, workers)
	for k, p := range plans {
		group.Go(func() {
			defer func() { panics[k] = recover() }()
			for ctx.Err() == nil {
				start := int(next.Add(atOnce)) - atOnce
				if start >= g.n {
					return
				}
				for from := start; from < min(start+atOnce, g.n); from += blockRows {
					p.load(from)
					for id, t := range whole {
						copy(t.yes[from/64:], p.slots[id].yes)
						copy(t.no[from/64:], p.slots[id].no)
					}
				}
			}
		})
	}
	group.Wait()
	for _, p := range panics {
		if p != nil {
			panic(p) // where the caller can catch it
		}
	}
	return whole
}

// recall puts truths that were worked out ahead into the slots of the block that starts at a row.
func (p *plan) recall(from int, whole map[Node]*truths) {
	p.place(from)
	for id, t := range whole {
		at := from / 64
		p.slots[id].yes, p.slots[id].no = t.yes[at:at+words(p.n)], t.no[at:at+words(p.n)]
	}
}
