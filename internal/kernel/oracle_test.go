package kernel

import (
	"context"
	"fmt"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// The oracle defines everything again, slowly and from the words of the doc comments: it fills the
// missing rows of a short log in every way, evaluates the expression on each filled log as
// a plain function of the row, folds by definition, and takes the least and the greatest.

// world is a log with nothing missing.
type world struct {
	times  []float64 // n+1, the last is the end
	values map[string][]float64
	own    map[string][]bool
}

func (w *world) n() int { return len(w.times) - 1 }

// cell is a row of a channel that is missing, or that was read and may be off; together with the
// one before, if the same sample is missing in both, or stands in both.
type cell struct {
	channel      string
	row          int
	together     bool
	read, within float64 // within is 0 where it is missing
}

// lay finds rows, values and missing cells of a log.
func lay(l *Log) (*world, []cell) {
	times := slices.Clone(l.Times)
	times = append(times, l.End)
	names := sortedKeys(l.Columns)
	stamp := func(c *Column, k int) float64 {
		if c.Rows == nil {
			return l.Times[k]
		}
		return l.Times[c.Rows[k]]
	}
	for _, name := range names {
		c := l.Columns[name]
		for k := range c.Values {
			next := l.End
			if k+1 < len(c.Values) {
				next = stamp(c, k+1)
			}
			gone := stamp(c, k) + c.Hold
			if gone >= next || slices.Contains(times, gone) {
				continue
			}
			for i, t := range l.Times { // only a row wider than the period is split
				end := l.End
				if i+1 < len(l.Times) {
					end = l.Times[i+1]
				}
				if t < gone && gone < end && end-t > c.Period {
					times = append(times, gone)
				}
			}
		}
	}
	slices.Sort(times)
	if l.End == l.Times[len(l.Times)-1] { // the last row stands for no time
		times = slices.Compact(times)
		times = append(times, l.End)
	}
	w := &world{times: times, values: map[string][]float64{}, own: map[string][]bool{}}
	var missing []cell
	for _, name := range names {
		c := l.Columns[name]
		values, own := make([]float64, w.n()), make([]bool, w.n())
		stood := -1 // the sample read in the row before
		for i := range values {
			t := times[i]
			k := -1
			for j := range c.Values {
				if stamp(c, j) <= t {
					k = j
				}
			}
			own[i] = k >= 0 && stamp(c, k) == t
			switch {
			case k < 0 && len(c.Values) > 0 && stamp(c, 0)-times[0] <= c.Period:
				k = 0
			case k < 0 || t-stamp(c, k) >= c.Hold:
				begun := times[0] // when samples began to be overdue
				if k >= 0 {
					begun = times[slices.IndexFunc(times, func(t float64) bool { return t >= stamp(c, k)+c.Hold })]
				}
				due := func(t float64) float64 { return math.Floor((t - begun) / c.Period) }
				missing = append(missing, cell{channel: name, row: i, together: i > 0 && times[i-1] >= begun && due(t) == due(times[i-1])})
				stood = -1
				continue
			}
			if c.Bad != nil && c.Bad[k/64]>>(k%64)&1 != 0 {
				missing = append(missing, cell{channel: name, row: i, together: i > 0 && !own[i] && len(missing) > 0 && missing[len(missing)-1].row == i-1})
				stood = -1
				continue
			}
			values[i] = c.Values[k]
			if c.Within > 0 {
				missing = append(missing, cell{name, i, k == stood, values[i], c.Within})
			}
			stood = k
		}
		w.values[name], w.own[name] = values, own
	}
	return w, missing
}

// fillings calls do with every way to fill the cells.
func fillings(w *world, missing []cell, options map[string][]float64, do func()) {
	if len(missing) == 0 {
		do()
		return
	}
	c, n := missing[0], 1
	for n < len(missing) && missing[n].together {
		n++
	}
	choice := options[c.channel]
	if c.within > 0 {
		choice = []float64{c.read - c.within, c.read, c.read + c.within}
	}
	for _, v := range choice {
		for _, same := range missing[:n] {
			w.values[c.channel][same.row] = v
		}
		fillings(w, missing[n:], options, do)
	}
}

// sampled is an expression twice: as a node, and as a function of a row of a filled log.
type sampled struct {
	text     string
	node     Node
	number   func(w *world, i int) float64
	truth    func(w *world, i int) bool
	channels []string
	everyRow bool // its own samples are in every row
}

func (e sampled) ownRow(w *world, i int) bool {
	if e.everyRow || len(e.channels) == 0 {
		return true
	}
	for _, name := range e.channels {
		if w.own[name][i] {
			return true
		}
	}
	return false
}

// author writes random expressions that use each channel at most once.
type author struct {
	t       *rapid.T
	g       *Graph
	numbers []string
	truths  []string
	memory  bool // with expressions that look at other rows
	loose   bool // with expressions whose bounds may be wider than need be
}

// simplified takes what is left of an expression: true || p does not look at p.
func (a *author) simplified(e sampled) sampled {
	n := a.g.node(e.node)
	e.channels, e.everyRow = n.channels, n.restless
	return e
}

func (a *author) pick(label string, n int) int { return rapid.IntRange(0, n-1).Draw(a.t, label) }

func with(text string, node Node, of ...sampled) sampled {
	e := sampled{text: text, node: node}
	for _, x := range of {
		e.channels = append(e.channels, x.channels...)
		e.everyRow = e.everyRow || x.everyRow
	}
	return e
}

func (a *author) number(depth int) sampled {
	g := a.g
	kind := a.pick("number", 10)
	if depth == 0 {
		kind %= 2
	}
	switch {
	case kind <= 3 && depth == 0 || kind == 0:
		if len(a.numbers) > 0 && kind == 0 {
			name := a.numbers[0]
			a.numbers = a.numbers[1:]
			e := with(name, g.Channel(name))
			e.channels = []string{name}
			e.number = func(w *world, i int) float64 { return w.values[name][i] }
			return e
		}
		v := float64(a.pick("const", 13) - 6)
		e := with(fmt.Sprint(v), g.Const(v))
		e.number = func(*world, int) float64 { return v }
		return e
	case kind <= 5:
		ops := []Op{Add, Sub, Mul, Least, Greatest}
		op := ops[a.pick("op", len(ops))]
		x, y := a.number(depth-1), a.number(depth-1)
		e := with(fmt.Sprintf("op%d(%s, %s)", op, x.text, y.text), g.Op(op, x.node, y.node), x, y)
		e.number = func(w *world, i int) float64 {
			p, q := x.number(w, i), y.number(w, i)
			switch op {
			case Add:
				return p + q
			case Sub:
				return p - q
			case Mul:
				return p * q
			case Least:
				return math.Min(p, q)
			}
			return math.Max(p, q)
		}
		return e
	case kind == 6:
		x := a.number(depth - 1)
		if a.pick("sign", 2) == 0 {
			e := with("-"+x.text, g.Neg(x.node), x)
			e.number = func(w *world, i int) float64 { return -x.number(w, i) }
			return e
		}
		e := with("abs "+x.text, g.Abs(x.node), x)
		e.number = func(w *world, i int) float64 { return math.Abs(x.number(w, i)) }
		return e
	case kind == 7 && a.loose:
		return a.either(depth)
	case kind == 8 && a.memory:
		x := a.number(depth - 1)
		d := float64(1+a.pick("d", 8)) / 4
		e := with(fmt.Sprintf("smooth(%s, %v)", x.text, d), g.Smooth(x.node, d), x)
		e.everyRow = true
		e.number = func(w *world, i int) float64 { return meanBefore(w, i, d, x.number) }
		return e
	}
	x := a.number(depth - 1)
	points := []Point{{-8, 3}, {-4, -4}, {0, 0}, {2, 5}, {10, 2}} // every value in between is exact
	inside := g.Op(Least, g.Op(Greatest, x.node, g.Const(-8)), g.Const(10))
	e := with("curve("+x.text+")", g.CurveAt(points, inside), x)
	e.number = func(w *world, i int) float64 {
		v := math.Max(-8, math.Min(10, x.number(w, i)))
		for k := 1; ; k++ {
			if p, q := points[k-1], points[k]; v <= q.X {
				return p.Y + (q.Y-p.Y)*(v-p.X)/(q.X-p.X)
			}
		}
	}
	return e
}

func (a *author) either(depth int) sampled {
	p, x, y := a.truth(depth-1), a.number(depth-1), a.number(depth-1)
	e := with(fmt.Sprintf("(%s ? %s : %s)", p.text, x.text, y.text), a.g.Cond(p.node, x.node, y.node), p, x, y)
	e.number = func(w *world, i int) float64 {
		if p.truth(w, i) {
			return x.number(w, i)
		}
		return y.number(w, i)
	}
	return e
}

// meanBefore is the mean over the part of [t-d, t] that is in the log.
func meanBefore(w *world, i int, d float64, x func(*world, int) float64) float64 {
	begin := math.Max(w.times[i]-d, w.times[0])
	if i == 0 {
		return x(w, 0)
	}
	sum := 0.0
	for j := range i {
		if from := math.Max(begin, w.times[j]); from < w.times[j+1] {
			sum += x(w, j) * (w.times[j+1] - from)
		}
	}
	return sum / (w.times[i] - begin)
}

func (a *author) truth(depth int) sampled {
	g := a.g
	kind := a.pick("truth", 9)
	if depth == 0 {
		kind = 0
	}
	switch {
	case kind <= 1:
		if len(a.truths) > 0 {
			name := a.truths[0]
			a.truths = a.truths[1:]
			e := with(name, g.IsTrue(g.Channel(name)))
			e.channels = []string{name}
			e.truth = func(w *world, i int) bool { return w.values[name][i] != 0 }
			return e
		}
		b := a.pick("literal", 2) == 1
		e := with(fmt.Sprint(b), g.Truth(b))
		e.truth = func(*world, int) bool { return b }
		return e
	case kind <= 3:
		op := Less + Op(a.pick("compare", 6))
		x, y := a.number(depth-1), a.number(depth-1)
		e := with(fmt.Sprintf("compare%d(%s, %s)", op, x.text, y.text), g.Op(op, x.node, y.node), x, y)
		e.truth = func(w *world, i int) bool {
			p, q := x.number(w, i), y.number(w, i)
			return map[Op]bool{Less: p < q, LessEq: p <= q, More: p > q, MoreEq: p >= q, Equal: p == q, NotEqual: p != q}[op]
		}
		return e
	case kind == 4:
		x := a.truth(depth - 1)
		e := with("!"+x.text, g.Not(x.node), x)
		e.truth = func(w *world, i int) bool { return !x.truth(w, i) }
		return e
	case kind == 5:
		p, x, y := a.truth(depth-1), a.truth(depth-1), a.truth(depth-1)
		e := with(fmt.Sprintf("(%s ? %s : %s)", p.text, x.text, y.text), g.Cond(p.node, x.node, y.node), p, x, y)
		e.truth = func(w *world, i int) bool {
			if p.truth(w, i) {
				return x.truth(w, i)
			}
			return y.truth(w, i)
		}
		return e
	case kind == 6 && a.memory:
		x := a.truth(depth - 1)
		d := float64(1+a.pick("d", 8)) / 4
		e := with(fmt.Sprintf("held(%s, %v)", x.text, d), g.Held(x.node, d), x)
		e.everyRow = true
		e.truth = func(w *world, i int) bool {
			for j := i; j >= 0 && x.truth(w, j); j-- {
				if w.times[j] <= w.times[i]-d {
					return true
				}
			}
			return false
		}
		return e
	}
	x, y := a.truth(depth-1), a.truth(depth-1)
	if kind == 7 {
		e := with(fmt.Sprintf("(%s && %s)", x.text, y.text), g.Op(And, x.node, y.node), x, y)
		e.truth = func(w *world, i int) bool { return x.truth(w, i) && y.truth(w, i) }
		return e
	}
	e := with(fmt.Sprintf("(%s || %s)", x.text, y.text), g.Op(Or, x.node, y.node), x, y)
	e.truth = func(w *world, i int) bool { return x.truth(w, i) || y.truth(w, i) }
	return e
}

// foldWorld folds a filled log by definition. ok is false where there is nothing to fold.
func foldWorld(f Fold, q float64, w *world, x, y *sampled, trigger, reaction float64) (low, high float64, ok bool) {
	under := func(i int) bool { return y == nil || y.truth(w, i) }
	dt := func(i int) float64 { return w.times[i+1] - w.times[i] }
	one := func(v float64) (float64, float64, bool) { return v, v, true }
	var rows []int
	for i := range w.n() {
		if f == Response || under(i) {
			rows = append(rows, i)
		}
	}
	switch f {
	case Ever, Count:
		ever, count := 0.0, 0.0
		for i := range w.n() {
			if x.truth(w, i) && (i == 0 || !x.truth(w, i-1)) {
				ever, count = 1, count+1
			}
		}
		return one(map[Fold]float64{Ever: ever, Count: count}[f])
	case Total, Longest:
		// any spell may have ended a period before the row after it, and begun one before its first row
		least, most, shortest, longest, covered := 0.0, 0.0, 0.0, 0.0, w.times[0]
		for i := 0; i < w.n(); i++ {
			if !x.truth(w, i) {
				continue
			}
			from := w.times[i]
			for i < w.n() && x.truth(w, i) {
				i++
			}
			to := w.times[i]
			least += math.Max(0, to-from-trigger)
			shortest = math.Max(shortest, to-from-trigger)
			began := math.Max(w.times[0], from-trigger)
			longest = math.Max(longest, to-began)
			most += to - math.Max(began, covered)
			covered = to
		}
		if f == Total {
			return least, most, true
		}
		return shortest, longest, true
	case Response:
		longest := -1.0
		for i := range w.n() {
			if !x.truth(w, i) || i > 0 && x.truth(w, i-1) {
				continue
			}
			l, h := w.times[w.n()]-w.times[i], math.Inf(1)
			for j := i; j < w.n(); j++ {
				if y.truth(w, j) {
					found := w.times[j] - w.times[i]
					l, h = math.Max(0, found-reaction), found+trigger
					break
				}
			}
			low, high, longest = math.Max(low, l), math.Max(high, h), 0
		}
		return low, high, longest >= 0
	}
	if len(rows) == 0 {
		return 0, 0, false
	}
	switch f {
	case Always:
		for _, i := range rows {
			if !x.truth(w, i) {
				return one(0)
			}
		}
		return one(1)
	case Min, Max, Mean:
		least, most, sum, seconds := math.Inf(1), math.Inf(-1), 0.0, 0.0
		for _, i := range rows {
			v := x.number(w, i)
			least, most = math.Min(least, v), math.Max(most, v)
			sum, seconds = sum+v*dt(i), seconds+dt(i)
		}
		mean := sum / seconds
		if seconds == 0 { // only the last row, which stands for no time
			mean = least
		}
		return one(map[Fold]float64{Min: least, Max: most, Mean: mean}[f])
	case First:
		return one(x.number(w, rows[0]))
	case Last:
		return one(x.number(w, rows[len(rows)-1]))
	case Quantile:
		var v []float64
		for _, i := range rows {
			if x.ownRow(w, i) {
				v = append(v, x.number(w, i))
			}
		}
		if len(v) == 0 {
			return 0, 0, false
		}
		slices.Sort(v)
		h := float64(len(v)-1) * q
		j := int(h)
		if j+1 == len(v) {
			return one(v[j])
		}
		return one(v[j] + (h-float64(j))*(v[j+1]-v[j]))
	case Damage:
		var v []float64
		for _, i := range rows {
			if x.ownRow(w, i) {
				v = append(v, x.number(w, i))
			}
		}
		low, high := travel.Count(v, 0)
		return low, high, true
	}
	panic("no such fold")
}

var foldsUnderFilter = []Fold{Always, Min, Max, Mean, Quantile, First, Last}

// drawLog makes a short log. gone: which channels may have missing samples.
func drawLog(t *rapid.T, gone map[string]bool, lapses bool) *Log {
	n := rapid.IntRange(1, 6).Draw(t, "rows")
	l := &Log{Columns: map[string]*Column{}}
	at := float64(rapid.IntRange(-4, 4).Draw(t, "start")) / 4
	for range n {
		l.Times = append(l.Times, at)
		at += float64(rapid.IntRange(1, 6).Draw(t, "dt")) / 4
	}
	l.End = at
	if rapid.IntRange(0, 4).Draw(t, "momentary") == 0 {
		l.End = l.Times[n-1]
	}
	vague := lapses && n <= 4 && rapid.Bool().Draw(t, "vague")
	left := 5 // missing samples in all, or there are too many fillings
	for _, name := range []string{"a", "b", "p", "q"} {
		c := &Column{Period: float64(rapid.IntRange(1, 4).Draw(t, "period")) / 4, Hold: 100}
		if vague && (name == "a" || name == "b") {
			c.Within = float64(rapid.IntRange(0, 6).Draw(t, "within")) / 2
		}
		if lapses && gone[name] {
			c.Hold = c.Period * float64(rapid.IntRange(1, 4).Draw(t, "hold"))
		}
		dense := rapid.Bool().Draw(t, "dense")
		for i := range n {
			if !dense {
				// without lapses every channel begins in the first row
				if (i > 0 || lapses && gone[name]) && rapid.IntRange(0, 2).Draw(t, "blank") == 0 {
					continue
				}
				c.Rows = append(c.Rows, int32(i))
			}
			v := float64(rapid.IntRange(-6, 6).Draw(t, "value"))
			if name == "p" || name == "q" {
				v = float64(rapid.IntRange(0, 1).Draw(t, "yes"))
			}
			if gone[name] && left > 0 && rapid.IntRange(0, 3).Draw(t, "bad") == 0 {
				if c.Bad == nil {
					c.Bad = []uint64{0}
				}
				c.Bad[0] |= 1 << len(c.Values)
				v *= 7 // any number
				left--
			}
			c.Values = append(c.Values, v)
		}
		if !dense && c.Rows == nil {
			c.Rows = []int32{}
			if c.Bad != nil {
				c.Bad = []uint64{}
			}
		}
		l.Columns[name] = c
	}
	return l
}

var fillingsOf = map[string][]float64{"a": {-6, 0, 6}, "b": {-6, 0, 6}, "p": {0, 1}, "q": {0, 1}}

// hull is the least and the greatest over all fillings.
type hull struct {
	low, high float64
	any, none bool // some filling had something to fold; some had nothing
}

func (h *hull) add(low, high float64, ok bool) {
	if !ok {
		h.none = true
		return
	}
	if !h.any {
		h.low, h.high, h.any = low, high, true
	}
	h.low, h.high = math.Min(h.low, low), math.Max(h.high, high)
}

func near(a, b float64) bool {
	return a == b || math.Abs(a-b) <= 1e-9*math.Max(1, math.Max(math.Abs(a), math.Abs(b)))
}

func countFillings(missing []cell) int {
	n := 1
	for _, c := range missing {
		if c.together {
			continue
		}
		n *= len(fillingsOf[c.channel]) // as many as where a reading may be off
		if n > 1<<13 {
			break
		}
	}
	return n
}

// travel wears by as much as the numbers go up and down in all.
var travel = Wear{Text: "travel", Count: func(samples []float64, off float64) (low, high float64) {
	for i := 1; i < len(samples); i++ {
		d := math.Abs(samples[i] - samples[i-1])
		low, high = low+max(0, d-2*off), high+d+2*off
	}
	return low, high
}}

// Whatever the missing samples were, every answer lies within the bounds.
func TestBoundsHoldForEveryFilling(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := drawLog(t, map[string]bool{"a": true, "b": true, "p": true, "q": true}, true)
		g := NewGraph()
		au := &author{t: t, g: g, numbers: []string{"a", "b"}, truths: []string{"p", "q"}, memory: true, loose: true}
		f := Fold(rapid.IntRange(0, int(Damage)).Draw(t, "fold"))
		if f == Integral {
			f = Mean
		}
		checkFold(t, g, l, au, f, false)
	})
}

// Where each channel is used once, the bounds are the least and the greatest, no wider.
func TestBoundsAreTight(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := drawLog(t, map[string]bool{"p": true, "q": true}, false)
		g := NewGraph()
		au := &author{t: t, g: g, numbers: []string{"a", "b"}, truths: []string{"p", "q"}}
		f := Fold(rapid.IntRange(0, int(Response)).Draw(t, "fold"))
		if f == Integral {
			f = Mean
		}
		checkFold(t, g, l, au, f, true)
	})
}

func checkFold(t *rapid.T, g *Graph, l *Log, au *author, f Fold, tight bool) {
	if err := l.Check(); err != nil {
		t.Fatal(err)
	}
	var x sampled
	var y *sampled
	if slices.Contains([]Fold{Min, Max, Mean, Quantile, First, Last, Damage}, f) {
		x = au.number(2)
		if rapid.IntRange(0, 3).Draw(t, "either") == 0 {
			x = au.either(2)
		}
	} else {
		x = au.truth(3)
	}
	if f == Response || slices.Contains(foldsUnderFilter, f) && rapid.Bool().Draw(t, "filtered") {
		e := au.truth(2)
		y = &e
	}
	x = au.simplified(x)
	if y != nil {
		e := au.simplified(*y)
		y = &e
	}
	w, missing := lay(l)
	used := func(c cell) bool {
		return slices.Contains(x.channels, c.channel) || y != nil && slices.Contains(y.channels, c.channel)
	}
	missing = slices.DeleteFunc(missing, func(c cell) bool { return !used(c) })
	if f != Count && f != Response { // in other folds, any row may be missing or not by itself
		for i := range missing {
			missing[i].together = missing[i].together && missing[i].within > 0
		}
	}
	if countFillings(missing) > 1<<13 {
		t.Skip("too many fillings")
	}
	longest := func(e *sampled) float64 {
		p := 0.0
		if e != nil {
			for _, name := range e.channels {
				p = math.Max(p, l.Columns[name].Period)
			}
		}
		return p
	}
	q := float64(rapid.IntRange(0, 8).Draw(t, "quantile")) / 8
	var want hull
	fillings(w, missing, fillingsOf, func() {
		want.add(foldWorld(f, q, w, &x, y, longest(&x), longest(y)))
	})
	operands := []Node{x.node}
	text := x.text
	if y != nil {
		operands = append(operands, y.node)
		text += " , " + y.text
	}
	var agg Agg
	if f == Damage {
		agg = g.Damage(travel, x.node)
	} else {
		agg = g.Aggregate(f, q, operands...)
	}
	got, err := NewRunner(g, l, Options{}).Answer(context.Background(), agg)
	if err != nil {
		t.Fatal(err)
	}
	say := func(what string) {
		t.Fatalf("%s: %s(%s; q %v): got %+v, oracle %+v\nrows %v missing %v", what, foldNames[f], text, q, got, want, w.times, missing)
	}
	if got.Empty != !want.any && (tight || got.Empty) {
		say("empty")
	}
	if got.Empty || !want.any {
		return
	}
	if f == Quantile && !tight { // missing own samples may change how many there are: bounds are wider
		want.none = got.MaybeEmpty
	}
	if want.none && !got.MaybeEmpty || tight && f != Response && got.MaybeEmpty != want.none {
		say("maybe empty")
	}
	below, above := got.Low <= want.low || near(got.Low, want.low), got.High >= want.high || near(got.High, want.high)
	if !below || !above {
		say("not within the bounds")
	}
	together := slices.ContainsFunc(missing, func(c cell) bool { return c.together })
	if !tight || together && len(x.channels) > 1 { // of several channels, a sample of any frees the row
		return
	}
	low, high := want.low, want.high
	switch {
	case !want.none:
	case f == Min:
		high = math.Inf(1) // as documented: nothing bounds it if the filter is never true
	case f == Max:
		low = math.Inf(-1)
	case f == Response:
		low = 0
	case f == Always: // an empty implication is true
		high = 1
	}
	if !near(got.Low, low) || !near(got.High, high) {
		say("not tight")
	}
}
