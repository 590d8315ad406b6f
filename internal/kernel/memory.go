package kernel

// A memory is what a node that looks at other rows carries from block to block. Blocks must
// come in order, from the first.
type memory interface {
	block(p *plan, x, out *slot)
}

func newMemory(p *plan, n *node) memory {
	switch n.form {
	case slopeForm:
		return newSlope(p, n.a)
	case delayForm:
		if n.kind == Truths {
			return &delayedTruth{d: n.low, then: -1}
		}
		return &delayed{d: n.low, then: -1}
	case smoothForm:
		return &smooth{d: n.low}
	case heldForm:
		return &held{d: n.low}
	default: // sinceForm
		return &since{sure: minusInf, possible: p.grid.start(0)}
	}
}

// history is the rows of a number that a memory still needs.
type history struct {
	from      int // first row kept
	low, high []float64
	bounded   bool // high differs from low somewhere; else high is not kept
}

func (h *history) add(x *numbers, n int) {
	if !h.bounded && x.high == nil && x.known == nil {
		h.low = append(h.low, x.low...)
		return
	}
	if !h.bounded {
		h.bounded = true
		h.high = append(h.high[:0], h.low...)
	}
	for i := range n {
		low, high := x.at(i)
		h.low, h.high = append(h.low, low), append(h.high, high)
	}
}

// forget drops the rows before one, now and then.
func (h *history) forget(row int) {
	drop := row - h.from
	if drop < blockRows {
		return
	}
	h.low = h.low[:copy(h.low, h.low[drop:])]
	if h.bounded {
		h.high = h.high[:copy(h.high, h.high[drop:])]
	}
	h.from = row
}

func (h *history) at(row int) (low, high float64) {
	low = h.low[row-h.from]
	if h.bounded {
		return low, h.high[row-h.from]
	}
	return low, low
}
