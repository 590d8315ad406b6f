package kernel

import (
	"context"
	"sync"
	"sync/atomic"
)

// ahead works out truths over the whole log, its rows dealt out to workers, and folds them in order as far as they
// are there: for when there are too few aggregates to deal out. fold takes the rows of a part, and says whether it
// wants more. It gives false, and folds nothing, where that cannot be done.
func ahead(ctx context.Context, g *grid, nodes []node, wanted []Node, workers int, fold func(part *truthsAhead) bool) bool {
	if workers < 2 {
		return false
	}
	for _, id := range wanted {
		if nodes[id].kind != Truths {
			return false
		}
	}
	plans := make([]*plan, workers)
	for k := range plans {
		if plans[k] = newPlan(g, nodes, wanted...); plans[k].stateful { // blocks must come in order
			return false
		}
	}
	const atOnce = 32 * blockRows
	var next atomic.Int64
	line := &inOrder{there: make([]*truthsAhead, (g.n+atOnce-1)/atOnce)}
	var group sync.WaitGroup
	panics := make([]any, workers)
	for k, p := range plans {
		group.Go(func() {
			defer func() { panics[k] = recover() }()
			for ctx.Err() == nil && !line.enough.Load() {
				i := int(next.Add(1)) - 1
				if i >= len(line.there) {
					return
				}
				part := line.spare(wanted, words(min(atOnce, g.n)))
				part.from, part.to = i*atOnce, min((i+1)*atOnce, g.n)
				for from := part.from; from < part.to; from += blockRows {
					p.load(from)
					for id, t := range part.truths {
						copy(t.yes[(from-part.from)/64:], p.slots[id].yes)
						copy(t.no[(from-part.from)/64:], p.slots[id].no)
					}
				}
				line.put(i, part, fold)
			}
		})
	}
	group.Wait()
	for _, p := range panics {
		if p != nil {
			panic(p) // where the caller can catch it
		}
	}
	return true
}

// truthsAhead are truths of some rows.
type truthsAhead struct {
	from, to int
	truths   map[Node]*truths
}

// inOrder folds parts in their order, one at a time, in whatever order they come.
type inOrder struct {
	enough atomic.Bool // the fold wants no more

	mu    sync.Mutex
	there []*truthsAhead
	next  int // to fold; where it is there, somebody is at it
	used  []*truthsAhead
}

// spare is room for a part.
func (l *inOrder) spare(wanted []Node, words int) *truthsAhead {
	l.mu.Lock()
	defer l.mu.Unlock()
	if n := len(l.used); n > 0 {
		part := l.used[n-1]
		l.used = l.used[:n-1]
		return part
	}
	part := &truthsAhead{truths: make(map[Node]*truths, len(wanted))}
	for _, id := range wanted {
		part.truths[id] = &truths{make([]uint64, words), make([]uint64, words)}
	}
	return part
}

// put says that a part is there. Whoever brings the next one folds all that have come by then, and what comes
// meanwhile.
func (l *inOrder) put(i int, part *truthsAhead, fold func(*truthsAhead) bool) {
	for part = l.first(i, part); part != nil; part = l.following(part) {
		if !l.enough.Load() && !fold(part) {
			l.enough.Store(true)
		}
	}
}

// first takes in a part and gives it back where it is the one to fold now, else nil.
func (l *inOrder) first(i int, part *truthsAhead) *truthsAhead {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.there[i] = part
	if i != l.next {
		return nil
	}
	return part
}

// following is the part after one that is folded, nil where it has not come.
func (l *inOrder) following(part *truthsAhead) *truthsAhead {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.used = append(l.used, part)
	l.next++
	if l.next == len(l.there) {
		return nil
	}
	return l.there[l.next]
}

// recall puts truths that were worked out ahead into the slots of the block that starts at a row.
func (p *plan) recall(from int, part *truthsAhead) {
	p.place(from)
	for id, t := range part.truths {
		at := (from - part.from) / 64
		p.slots[id].yes, p.slots[id].no = t.yes[at:at+words(p.n)], t.no[at:at+words(p.n)]
	}
}
