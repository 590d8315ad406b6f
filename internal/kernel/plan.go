package kernel

// plan evaluates a set of nodes over a grid, block by block.
type plan struct {
	grid     *grid
	nodes    []node
	slots    []*slot       // by node; nil where not in the plan
	steps    []step        // operands first
	limits   map[*view]int // how often a channel is compared with a number
	stateful bool          // some node looks at other rows
	face     bool          // readings are taken at their face
	from     int           // first row of the block at hand
	n        int           // rows in it
	ending   []float64     // the times of the last block
}

// step computes one node of the block at hand.
type step struct {
	*node
	out     *slot
	x, y, p *slot  // operands: a, b, and the condition
	memory  memory // of a node that looks at other rows
	view    *view  // of a channel, or of the channel that is compared with limit
	limit   float64
	logged  float64 // limit in the unit of the log, as firstFrom or lastTo finds it
	swapped bool    // limit < channel
}

// series is a node over the whole log: those whose rows depend on one another are kept so.
type series struct {
	numbers
	truths
}

// newPlan orders what the wanted nodes need.
func newPlan(g *grid, nodes []node, wanted ...Node) *plan {
	return (&plan{grid: g, nodes: nodes}).with(wanted...)
}

// newFacePlan is the same with readings taken at their face: what of a node was seen at all.
func newFacePlan(g *grid, nodes []node, wanted ...Node) *plan {
	return (&plan{grid: g, nodes: nodes, face: true}).with(wanted...)
}

func (p *plan) with(wanted ...Node) *plan {
	p.slots, p.limits = make([]*slot, len(p.nodes)), map[*view]int{}
	for _, id := range wanted {
		p.include(id)
	}
	return p
}

func (p *plan) include(id Node) *slot {
	if id == NoNode {
		return nil
	}
	if s := p.slots[id]; s != nil {
		return s
	}
	n := &p.nodes[id]
	st := step{node: n, out: newSlot(p.grid)}
	if n.memory {
		p.stateful = true
		st.memory = newMemory(p, n)
	}
	switch {
	case n.form == slopeForm: // it reads its operand itself
	case n.form == channelForm:
		st.view = p.grid.columns[n.name]
	case st.limits(p):
	default:
		st.x, st.y, st.p = p.include(n.a), p.include(n.b), p.include(n.c)
	}
	p.slots[id] = st.out
	p.fixed(n, st.out)
	p.steps = append(p.steps, st)
	return st.out
}

// limits says whether a step compares a logged channel with a number, which is done on the
// channel's own samples.
func (st *step) limits(p *plan) bool {
	if st.form != lessForm && st.form != equalForm {
		return false
	}
	a, b := &p.nodes[st.a], &p.nodes[st.b]
	if b.form == channelForm {
		a, b, st.swapped = b, a, true
	}
	if a.form != channelForm || b.form != rangeForm || b.low != b.high {
		return false
	}
	v := p.grid.columns[a.name]
	if v == nil || len(v.Values) == 0 || p.vague(v) {
		return false
	}
	st.view, st.limit, st.logged = v, b.low, b.low
	if v.Line.Scale != 0 && st.swapped {
		st.logged = v.Line.lastTo(st.limit)
	} else if v.Line.Scale != 0 {
		st.logged = v.Line.firstFrom(st.limit)
	}
	p.limits[v]++
	return true
}

// fixed fills what is the same in every block.
func (p *plan) fixed(n *node, s *slot) {
	switch n.form {
	case rangeForm:
		for i := range s.spaceLow(s.rows) {
			s.bufLow[i] = n.low
		}
		if n.low != n.high {
			for i := range s.spaceHigh(s.rows) {
				s.bufHigh[i] = n.high
			}
		}
	case truthForm, unsureForm:
		s.spaceTruths(s.rows)
	}
}

// seek evaluates the block that a row lies in, and before it, where that matters, those that come before.
func (p *plan) seek(row int) {
	from := row / blockRows * blockRows
	for next := p.from + p.n; p.stateful && next < from; next += blockRows {
		p.load(next)
	}
	p.load(from)
}

// load evaluates the block that starts at a row, a multiple of blockRows. Of a stateful plan, blocks come in order.
func (p *plan) load(from int) {
	p.place(from)
	for i := range p.steps {
		p.eval(&p.steps[i])
	}
}

// place sets the block at hand.
func (p *plan) place(from int) {
	p.from, p.n = from, min(blockRows, p.grid.n-from)
}

// times are when the rows of the block at hand start, and when the last ends.
func (p *plan) times() []float64 {
	starts := p.grid.list()
	if p.from+p.n < p.grid.n {
		return starts[p.from : p.from+p.n+1]
	}
	p.ending = append(append(p.ending[:0], starts[p.from:]...), p.grid.end)
	return p.ending
}

func (p *plan) eval(st *step) {
	s := st.out
	if st.memory != nil {
		st.memory.block(p, st.x, s)
		return
	}
	switch st.form {
	case channelForm:
		p.channel(st.view, s)
	case rangeForm:
		if s.low = s.bufLow[:p.n]; s.bufHigh != nil {
			s.high = s.bufHigh[:p.n]
		}
	case truthForm, unsureForm:
		yes, no := s.spaceTruths(p.n)
		if st.form == truthForm {
			fillTruth(yes, no, st.low == 1, p.n)
		}
	case addForm, subForm, mulForm, divForm, leastForm, greatestForm:
		p.arithmetic(st.form, s, &st.x.numbers, &st.y.numbers)
	case negForm, absForm:
		p.unary(st, s)
	case curveForm:
		p.curve(st, s)
	case lessForm, equalForm:
		if st.view != nil {
			p.limit(st, s)
		} else {
			p.compare(st.form, s, &st.x.numbers, &st.y.numbers)
		}
	case andForm, orForm:
		a, b := st.x.truths, st.y.truths
		yes, no := s.spaceTruths(p.n)
		if st.form == orForm {
			a.yes, a.no, b.yes, b.no, yes, no = a.no, a.yes, b.no, b.yes, no, yes
		}
		ayes, byes, ano, bno, no := a.yes[:len(yes)], b.yes[:len(yes)], a.no[:len(yes)], b.no[:len(yes)], no[:len(yes)]
		for w := range yes {
			yes[w], no[w] = ayes[w]&byes[w], ano[w]|bno[w]
		}
	case notForm:
		s.yes, s.no = st.x.no, st.x.yes
	case condForm:
		p.cond(st, s)
	}
}

// fillTruth makes a block true, or false.
func fillTruth(yes, no []uint64, holds bool, n int) {
	if !holds {
		yes, no = no, yes
	}
	for w := range yes {
		yes[w], no[w] = rowsOf(n, w), 0
	}
}
