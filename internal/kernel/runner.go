package kernel

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"slices"
	"sync"
)

// Runner computes the aggregates of a graph over one log. What has been announced is
// computed together, in one pass over the log, when the first of it is asked for. Safe for
// concurrent use. An answer depends on the log and the aggregate alone, not on what
// else was asked.
type Runner struct {
	graph  *Graph
	log    *Log
	budget float64
	wrong  error   // the log's shape
	widest float64 // row, s
	exact  bool    // some channel's times are exact
	asRead bool

	mu      sync.Mutex
	grid    *grid // without extra cuts
	pending []Agg // sorted
	done    map[Agg]Answer
}

// Options say how much a Runner may do. Time is limited by the context it is asked under.
type Options struct {
	Budget float64 // nodes times rows in one pass; 0: 10^11, minutes of work
	// AsRead takes readings at their face, and spells to last as sampled: for sums over many runs, whose
	// bounds are to say what was not seen.
	AsRead bool
}

const defaultBudget = 1e11

// NewRunner is ready to compute over a log.
func NewRunner(g *Graph, log *Log, opts Options) *Runner {
	r := &Runner{graph: g, log: log, budget: opts.Budget, asRead: opts.AsRead, done: map[Agg]Answer{}}
	if r.budget == 0 {
		r.budget = defaultBudget
	}
	if r.widest, r.wrong = log.check(); r.wrong == nil {
		if opts.AsRead {
			r.log = log.asRead()
		}
		r.grid = r.newGrid(nil)
		for _, c := range log.Columns {
			r.exact = r.exact || c.Period == 0
		}
	}
	return r
}

// asRead is the log with readings at their face.
func (l *Log) asRead() *Log {
	out := *l
	out.Columns = make(map[string]*Column, len(l.Columns))
	for name, c := range l.Columns {
		own := *c
		own.Within = 0
		out.Columns[name] = &own
	}
	return &out
}

func (r *Runner) newGrid(cuts []float64) *grid {
	g := newGrid(r.log, r.widest, cuts)
	g.asSampled = r.asRead
	return g
}

// Want announces aggregates that will be asked for.
func (r *Runner) Want(aggs ...Agg) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.want(aggs...)
}

func (r *Runner) want(aggs ...Agg) {
	for _, a := range aggs {
		if _, ok := r.done[a]; ok {
			continue
		}
		if i, found := slices.BinarySearch(r.pending, a); !found {
			r.pending = slices.Insert(r.pending, i, a)
		}
	}
}

// Answer is an aggregate's answer. It fails where the log's shape is wrong, the budget
// does not suffice or the context ends; what was pending stays so.
func (r *Runner) Answer(ctx context.Context, a Agg) (Answer, error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.wrong != nil {
		return Answer{}, r.wrong
	}
	if ans, ok := r.done[a]; ok {
		return ans, nil
	}
	r.want(a)
	if err := r.compute(ctx, a); err != nil {
		return Answer{}, err
	}
	return r.done[a], nil
}

// compute answers one aggregate: with all others that are pending, or alone where it needs a grid of its own.
func (r *Runner) compute(ctx context.Context, asked Agg) error {
	nodes, aggs := r.graph.snapshot()
	cuts, err := r.cuts(nodes, aggs[asked].operands()...)
	if err != nil {
		return err
	}
	if len(cuts) > 0 {
		return r.pass(ctx, r.newGrid(cuts), nodes, aggs, asked)
	}
	shared := []Agg{}
	for _, a := range r.pending {
		cuts, err := r.cuts(nodes, aggs[a].operands()...)
		if err == nil && len(cuts) == 0 {
			shared = append(shared, a)
		}
	}
	return r.pass(ctx, r.grid, nodes, aggs, shared...)
}

// cuts are the times at which the log's rows must be split for some nodes.
func (r *Runner) cuts(nodes []node, wanted ...Node) ([]float64, error) {
	if !r.exact {
		return nil, nil
	}
	return cutsFor(r.log, nodes, wanted...)
}

func (a aggregate) operands() []Node {
	if a.y == NoNode {
		return []Node{a.x}
	}
	return []Node{a.x, a.y}
}

// pass computes aggregates in one pass over a grid.
func (r *Runner) pass(ctx context.Context, g *grid, nodes []node, aggs []aggregate, asked ...Agg) error {
	var wanted []Node
	for _, a := range asked {
		wanted = append(wanted, aggs[a].operands()...)
	}
	size := 0
	for _, in := range reach(nodes, wanted...) {
		if in {
			size++
		}
	}
	cost := float64(size) * float64(g.n)
	if cost > r.budget {
		return fmt.Errorf("%d log expressions over %d rows are %.3g steps, more than the %.3g allowed: use fewer rules at once or a shorter log",
			size, g.n, cost, r.budget)
	}
	shares, workers := [][]Agg{asked}, 1
	if cost > worthSharing {
		workers = runtime.GOMAXPROCS(0)
		shares = share(nodes, aggs, asked, workers)
	}
	answers, errs := make([][]Answer, len(shares)), make([]error, len(shares))
	panics := make([]any, len(shares))
	var wg sync.WaitGroup
	for k, part := range shares {
		wg.Go(func() {
			defer func() { panics[k] = recover() }()
			answers[k], errs[k] = sweep(ctx, g, nodes, aggs, part, workers/len(shares))
		})
	}
	wg.Wait()
	for _, p := range panics {
		if p != nil {
			panic(p) // where the caller can catch it
		}
	}
	if err := errors.Join(errs...); err != nil {
		return fmt.Errorf("log expressions were not finished in time: %w", ctx.Err())
	}
	for k, part := range shares {
		for i, a := range part {
			r.done[a] = answers[k][i]
			if j, found := slices.BinarySearch(r.pending, a); found {
				r.pending = slices.Delete(r.pending, j, j+1)
			}
		}
	}
	return nil
}

// worthSharing is how many nodes times rows take longer than a second worker costs.
const worthSharing = 1e6

// share deals aggregates out to workers. Those that were made together lie together, for
// they share most; what shares are left with in common each works out for itself.
func share(nodes []node, aggs []aggregate, asked []Agg, workers int) [][]Agg {
	cost := func(a Agg) int {
		n := 0
		for _, in := range reach(nodes, aggs[a].operands()...) {
			if in {
				n++
			}
		}
		return n
	}
	costs, all := make([]int, len(asked)), 0
	for i, a := range asked {
		costs[i] = cost(a)
		all += costs[i]
	}
	shares := make([][]Agg, 1, workers)
	sum := 0
	for i, a := range asked {
		if k := len(shares); k < workers && sum*workers >= all*k {
			shares = append(shares, nil)
		}
		last := len(shares) - 1
		shares[last] = append(shares[last], a)
		sum += costs[i]
	}
	return shares
}

// sweep folds aggregates over all blocks of a grid, with so many workers.
func sweep(ctx context.Context, g *grid, nodes []node, aggs []aggregate, asked []Agg, workers int) ([]Answer, error) {
	var wanted []Node
	for _, a := range asked {
		wanted = append(wanted, aggs[a].operands()...)
	}
	p := newPlan(g, nodes, wanted...)
	folds := make([]*folding, len(asked))
	for i, a := range asked {
		folds[i] = newFolding(p, aggs[a])
	}
	fold := func() (busy bool) {
		for _, f := range folds {
			busy = f.block(p) || busy
		}
		return busy
	}
	done := ahead(ctx, g, nodes, wanted, workers, func(part *truthsAhead) (busy bool) {
		for from := part.from; from < part.to; from += blockRows {
			p.recall(from, part)
			if busy = fold(); !busy {
				break
			}
		}
		return busy
	})
	for from := 0; !done && from < g.n; from += blockRows {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		p.load(from)
		done = !fold()
	}
	answers := make([]Answer, len(asked))
	for i, f := range folds {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		answers[i] = f.finish(p)
	}
	return answers, nil
}

// reach marks the nodes beneath the wanted ones.
func reach(nodes []node, wanted ...Node) []bool {
	in := make([]bool, len(nodes))
	for _, id := range wanted {
		in[id] = true
	}
	for id := len(nodes) - 1; id >= 0; id-- {
		if in[id] {
			for _, x := range []Node{nodes[id].a, nodes[id].b, nodes[id].c} {
				if x != NoNode {
					in[x] = true
				}
			}
		}
	}
	return in
}

// folding is one aggregate in the course of a pass.
type folding struct {
	aggregate
	folder
	in      input
	face    *plan // of x, for a fold that must tell what was missing from what may be off
	leans   [2]leaning
	stopped bool
}

func newFolding(p *plan, a aggregate) *folding {
	f := &folding{aggregate: a, folder: newFolder(p.grid, a, p.nodes)}
	f.leans[0].n, f.leans[1].n = p.grid.n, p.grid.n
	f.in = input{open: [2]*leaning{&f.leans[0], &f.leans[1]}, x: p.slots[a.x]}
	if a.y != NoNode {
		f.in.y = p.slots[a.y]
	}
	if (a.fold == Integral || a.fold == Quantile || a.fold == Damage) && p.grid.vagueUnder(&p.nodes[a.x]) {
		f.face = newFacePlan(p.grid, p.nodes, a.x)
		f.in.face = f.face.slots[a.x]
	}
	return f
}

// block folds the block at hand and says whether it wants more.
func (f *folding) block(p *plan) bool {
	if f.stopped {
		return false
	}
	f.in.from, f.in.n, f.in.plan, f.in.last = p.from, p.n, p, p.from+p.n == p.grid.n
	if f.face != nil {
		f.face.load(p.from)
	}
	f.folder.block(&f.in)
	f.stopped = f.done()
	return !f.stopped
}

func (f *folding) finish(p *plan) Answer {
	a := f.answer()
	if r, ok := f.folder.(*responseFold); ok && r.unknown {
		whole := func(id Node) *series { return newPlan(p.grid, p.nodes, id).whole(id) }
		a = respond(p.grid, whole(f.x), whole(f.y), r.triggerPeriod, r.reactionPeriod, p.grid.free(&p.nodes[f.x]), &f.leans)
	}
	if a.Within == 0 {
		a.Within = p.grid.longest(channelsOf(p.nodes, f.aggregate))
	}
	if a.Empty {
		return Answer{Empty: true, At: nowhere, Within: a.Within}
	}
	blame := newBlame(p)
	blame.add(f.x, f.leans[0].rows)
	if f.y != NoNode {
		blame.add(f.y, f.leans[1].rows)
	}
	a.Missing = blame.missing()
	a.Vague = blame.vague()
	return a
}

// Sample bounds a node in the row that stands at a time, readings at their face: a number, or a truth as 0 and 1.
// known is false where the bounds are apart or the log cannot be run on.
func (r *Runner) Sample(n Node, t float64) (low, high float64, known bool) {
	r.mu.Lock()
	defer r.mu.Unlock()
	nodes, _ := r.graph.snapshot()
	g, err := r.gridFor(nodes, n)
	if err != nil {
		return minusInf, plusInf, false
	}
	row := g.row(t)
	p := newFacePlan(g, nodes, n)
	p.seek(row)
	low, high = p.slots[n].bounds(nodes[n].kind, row%blockRows)
	return low, high, low == high
}

func (r *Runner) gridFor(nodes []node, n Node) (*grid, error) {
	if r.wrong != nil {
		return nil, r.wrong
	}
	cuts, err := r.cuts(nodes, n)
	if err != nil || len(cuts) == 0 {
		return r.grid, err
	}
	return r.newGrid(cuts), nil
}

// bounds of one row, a truth as 0 and 1.
func (s *slot) bounds(k Kind, i int) (low, high float64) {
	if k == Number {
		return s.numbers.at(i)
	}
	return truthOf(isSet(s.yes, i)), truthOf(!isSet(s.no, i))
}

// Bucket is part of a log, for a plot: the least and greatest of a node's exact values in it.
type Bucket struct {
	From, To  float64 // s
	Low, High float64 // NaN where Seen is false
	Seen      bool    // some row in it is known exactly
	Missing   bool    // some row in it is not
}

// Values is a node, readings at their face, from one time to another in at most that many buckets of equal duration.
func (r *Runner) Values(n Node, from, to float64, buckets int) ([]Bucket, error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	nodes, _ := r.graph.snapshot()
	g, err := r.gridFor(nodes, n)
	if err != nil {
		return nil, err
	}
	from, to = max(from, g.time(0)), min(to, g.time(g.n))
	if !(from < to) || buckets < 1 {
		return nil, nil
	}
	width := (to - from) / float64(buckets)
	out := make([]Bucket, buckets)
	for i := range out {
		out[i] = Bucket{From: from + float64(i)*width, To: from + float64(i+1)*width, Low: nowhere, High: nowhere}
	}
	out[buckets-1].To = to
	p := newFacePlan(g, nodes, n)
	for row, last := g.row(from), g.row(to); row <= last; row++ {
		if p.n == 0 || row >= p.from+p.n {
			p.seek(row)
		}
		low, high := p.slots[n].bounds(nodes[n].kind, row-p.from)
		first := min(max(0, int((g.time(row)-from)/width)), buckets-1)
		for i := first; i < buckets && (i == first || out[i].From < g.time(row+1)); i++ {
			b := &out[i]
			switch {
			case low != high:
				b.Missing = true
			case !b.Seen:
				b.Low, b.High, b.Seen = low, high, true
			default:
				b.Low, b.High = min(b.Low, low), max(b.High, high)
			}
		}
	}
	return out, nil
}
