package kernel

import (
	"context"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// naive evaluates whole nodes row by row and folds them in plain loops: no blocks, no
// bitmaps, no shortcuts. The kernels must agree with it on long logs.
type naive struct {
	g     *grid
	nodes []node
	done  map[Node]*ranges
	face  *naive // the same log with readings at their face
}

func newNaive(g *grid, nodes []node) *naive {
	exact := *g
	exact.columns = map[string]*view{}
	for name, v := range g.columns {
		own, column := *v.Column, &view{rows: v.rows, lapses: v.lapses}
		own.Within, column.Column = 0, &own
		exact.columns[name] = column
	}
	face := &naive{g: &exact, nodes: nodes, done: map[Node]*ranges{}}
	face.face = face
	return &naive{g: g, nodes: nodes, done: map[Node]*ranges{}, face: face}
}

// ranges bound every row; a truth is 0, 1 or from 0 to 1.
type ranges struct{ low, high []float64 }

func (r *ranges) yes(i int) bool     { return r.low[i] == 1 }
func (r *ranges) no(i int) bool      { return r.high[i] == 0 }
func (r *ranges) unknown(i int) bool { return r.low[i] != r.high[i] }

func (v *naive) of(id Node) *ranges {
	if r := v.done[id]; r != nil {
		return r
	}
	n := &v.nodes[id]
	r := &ranges{low: make([]float64, v.g.n), high: make([]float64, v.g.n)}
	var a, b, c *ranges
	if n.a != NoNode {
		a = v.of(n.a)
	}
	if n.b != NoNode {
		b = v.of(n.b)
	}
	if n.c != NoNode {
		c = v.of(n.c)
	}
	if n.memory {
		k := v.nodes[n.a].kind
		s := remember(v.g, n, &v.nodes[n.a], a.series(k), v.face.of(n.a).series(k))
		for i := range r.low {
			if n.kind == Truths {
				r.low[i], r.high[i] = truthOf(isSet(s.yes, i)), truthOf(!isSet(s.no, i))
			} else {
				r.low[i], r.high[i] = s.numbers.at(i)
			}
		}
		v.done[id] = r
		return r
	}
	col := v.g.columns[n.name]
	own, k := make([]bool, v.g.n), -1
	if n.form == channelForm && col != nil {
		for j := range col.Values {
			own[col.at(j)] = true
		}
	}
	for i := range r.low {
		low, high := minusInf, plusInf
		switch n.form {
		case channelForm:
			if own[i] {
				k++
			}
			gone := col == nil || len(col.Values) == 0
			if !gone {
				for _, l := range col.lapses {
					gone = gone || l.from <= i && i < l.to
				}
			}
			if !gone && !col.bad(max(k, 0)) {
				x := col.Line.SI(col.Values[max(k, 0)])
				low, high = x-col.Within, x+col.Within
			}
		case rangeForm:
			low, high = n.low, n.high
		case truthForm:
			low, high = n.low, n.low
		case unsureForm:
			low, high = 0, 1
		case negForm, absForm:
			low, high = bounds1(n.form, a.low[i], a.high[i])
		case curveForm:
			low, high = curveBounds(n.curve, a.low[i], a.high[i])
		case lessForm, equalForm:
			yes, no := compare2(n.form, a.low[i], a.high[i], b.low[i], b.high[i])
			low, high = truthOf(yes), truthOf(!no)
		case andForm:
			low, high = min(a.low[i], b.low[i]), min(a.high[i], b.high[i])
		case orForm:
			low, high = max(a.low[i], b.low[i]), max(a.high[i], b.high[i])
		case notForm:
			low, high = 1-a.high[i], 1-a.low[i]
		case condForm:
			switch {
			case c.yes(i):
				low, high = a.low[i], a.high[i]
			case c.no(i):
				low, high = b.low[i], b.high[i]
			default:
				low, high = min(a.low[i], b.low[i]), max(a.high[i], b.high[i])
			}
		default:
			low, high = bounds2(n.form, a.low[i], a.high[i], b.low[i], b.high[i])
		}
		r.low[i], r.high[i] = low, high
	}
	v.done[id] = r
	return r
}

// times are all row starts, and the end.
func (g *grid) times() []float64 { return append(slices.Clone(g.starts), g.end) }

func (r *ranges) series(k Kind) *series {
	s := &series{}
	if k == Number {
		s.low, s.high = r.low, r.high
		return s
	}
	s.yes, s.no = make([]uint64, words(len(r.low))), make([]uint64, words(len(r.low)))
	for i := range r.low {
		if r.yes(i) {
			setBit(s.yes, i)
		}
		if r.no(i) {
			setBit(s.no, i)
		}
	}
	return s
}

func (v *naive) fold(a aggregate) Answer {
	x, times, n := v.of(a.x), v.g.times(), v.g.n
	surely := func(int) bool { return true }
	perhaps := surely
	if a.y != NoNode {
		y := v.of(a.y)
		surely, perhaps = y.yes, func(i int) bool { return !y.no(i) }
	}
	ans := Answer{At: nowhere, Within: v.g.longest(channelsOf(v.nodes, a))}
	sureRows, maybeRows := 0, 0
	for i := range n {
		if surely(i) {
			sureRows++
		} else if perhaps(i) {
			maybeRows++
		}
	}
	if a.y != NoNode && a.fold != Response {
		ans.Empty, ans.MaybeEmpty = sureRows+maybeRows == 0, sureRows == 0 && maybeRows > 0
	}
	at := func(i int) {
		if math.IsNaN(ans.At) {
			ans.At = times[i]
		}
	}
	switch a.fold {
	case Always:
		ans.Low, ans.High = 1, 1
		for i := range n {
			switch {
			case surely(i) && x.no(i):
				ans.Low, ans.High = 0, 0
				at(i)
			case perhaps(i) && !x.yes(i):
				ans.Low = 0
			}
		}
	case Ever:
		for i := range n {
			ans.Low, ans.High = max(ans.Low, x.low[i]), max(ans.High, x.high[i])
			if x.yes(i) {
				at(i)
			}
		}
	case Total, Longest:
		spell, longest, start := [2]float64{}, [2]float64{}, [2]int{}
		began := [2]float64{nowhere, nowhere} // of the first spell, or the longest
		for i := range n {
			for k, holds := range [2]bool{x.yes(i), !x.no(i)} {
				if !holds {
					spell[k] = 0
					continue
				}
				if spell[k] == 0 {
					start[k] = i
				}
				spell[k] += times[i+1] - times[i]
				switch {
				case a.fold == Longest && spell[k] > longest[k]*(1+1e-12):
					longest[k], began[k] = spell[k], times[start[k]]
				case a.fold == Total && math.IsNaN(began[k]):
					began[k] = times[i]
				}
			}
		}
		ans.Low, ans.High, ans.At = v.resolved(a.fold, x, ans.Within), v.mostly(a.fold, x, ans.Within), began[0]
		if math.IsNaN(ans.At) {
			ans.At = began[1]
		}
	case Count:
		least, most := [2]float64{0, math.Inf(1)}, [2]float64{0, math.Inf(-1)} // if the row before was false, true
		unknown := false
		free := v.g.free(&v.nodes[a.x])
		for i := range n {
			if free != nil && i > 0 && x.unknown(i) && x.unknown(i-1) && !isSet(free, i) {
				continue
			}
			l, m := least, most
			least, most = [2]float64{plusInf, plusInf}, [2]float64{minusInf, minusInf}
			if !x.no(i) {
				least[1], most[1] = min(l[1], l[0]+1), max(m[1], m[0]+1)
			}
			if !x.yes(i) {
				least[0], most[0] = min(l[0], l[1]), max(m[0], m[1])
			}
			unknown = unknown || x.unknown(i)
			if x.yes(i) {
				at(i)
			}
		}
		ans.Low, ans.High = min(least[0], least[1]), max(most[0], most[1])
		if unknown && v.g.anyExact(v.nodes[a.x].channels) {
			ans.High = plusInf
		}
	case Min, Max:
		sign := 1.0
		if a.fold == Max {
			sign = -1
		}
		low, high, atLow, atHigh := plusInf, plusInf, nowhere, nowhere
		for i := range n {
			l, h := min(sign*x.low[i], sign*x.high[i]), max(sign*x.low[i], sign*x.high[i])
			if perhaps(i) && l < low {
				low, atLow = l, times[i]
			}
			if surely(i) && h < high {
				high, atHigh = h, times[i]
			}
		}
		ans.Low, ans.High = min(sign*low, sign*high), max(sign*low, sign*high)
		if ans.At = atLow; math.IsInf(low, 0) {
			ans.At = atHigh
		}
	case Mean:
		ans.Low = lowestMean(times, x.low, surely, perhaps)
		minus := make([]float64, n)
		for i := range n {
			minus[i] = -x.high[i]
		}
		ans.High = -lowestMean(times, minus, surely, perhaps)
	case First, Last:
		ans.Low, ans.High = plusInf, minusInf
		for k := range n {
			i := k
			if a.fold == Last {
				i = n - 1 - k
			}
			if perhaps(i) {
				ans.Low, ans.High = min(ans.Low, x.low[i]), max(ans.High, x.high[i])
				if ans.At = times[i]; a.fold == Last && k > 0 {
					ans.At = nowhere
				}
			}
			if surely(i) {
				break
			}
		}
		if a.fold == Last { // the last row that may count
			for i := range n {
				if perhaps(i) {
					ans.At = times[i]
				}
			}
		}
	case Quantile:
		v.quantile(a, x, surely, perhaps, &ans)
	case Integral:
		v.integral(a, x, surely, perhaps, &ans)
	case Response:
		v.response(a, x, v.of(a.y), &ans)
	}
	if ans.Empty {
		return Answer{Empty: true, At: nowhere, Within: ans.Within}
	}
	return ans
}

// resolved is the least that the surely true rows come to, if each spell ends one period early.
func (v *naive) resolved(f Fold, x *ranges, period float64) (out float64) {
	for i := 0; i < v.g.n; i++ {
		if !x.yes(i) {
			continue
		}
		from := v.g.time(i)
		for i < v.g.n && x.yes(i) {
			i++
		}
		if d := max(0, v.g.time(i)-from-period); f == Total {
			out += d
		} else {
			out = max(out, d)
		}
	}
	return out
}

// mostly is the most that the rows that may be true come to, if each spell begins one period early.
func (v *naive) mostly(f Fold, x *ranges, period float64) (out float64) {
	free := v.g.time(0) // not counted yet from here on
	for i := 0; i < v.g.n; i++ {
		if x.no(i) {
			continue
		}
		from := max(v.g.time(0), v.g.time(i)-period)
		for i < v.g.n && !x.no(i) {
			i++
		}
		if f == Total {
			out += v.g.time(i) - max(from, free)
		} else {
			out = max(out, v.g.time(i)-from)
		}
		free = v.g.time(i)
	}
	return out
}

func lowestMean(times, x []float64, surely, perhaps func(int) bool) float64 {
	sum, seconds, mean := 0.0, 0.0, plusInf
	var others []piece
	for i, v := range x {
		dt := times[i+1] - times[i]
		if surely(i) {
			if v == minusInf {
				return minusInf
			}
			sum, seconds = sum+v*dt, seconds+dt
			if mean = v; seconds > 0 {
				mean = sum / seconds
			}
		} else if perhaps(i) {
			others = append(others, piece{v, dt})
		}
	}
	slices.SortFunc(others, func(a, b piece) int { return int(math.Copysign(1, a.x-b.x)) })
	for _, p := range others {
		if p.x < mean {
			sum, seconds = sum+p.x*p.dt, seconds+p.dt
			if mean = p.x; seconds > 0 && p.x != minusInf {
				mean = sum / seconds
			}
			if p.x == minusInf {
				return minusInf
			}
		}
	}
	return mean
}

func (v *naive) quantile(a aggregate, x *ranges, surely, perhaps func(int) bool, ans *Answer) {
	own, lapsed := v.g.own(&v.nodes[a.x]), v.g.lapsed(v.nodes[a.x].channels)
	period := v.g.shortest(v.nodes[a.x].channels)
	var low, high, maybeLow, maybeHigh []float64
	gone, endless := -1, false
	for i := 0; i <= v.g.n; i++ {
		missing := i < v.g.n && !isSet(own, i) && v.face.of(a.x).unknown(i) && perhaps(i) && lapsed != nil && isSet(lapsed, i)
		if missing && gone < 0 {
			gone = i
		}
		if !missing && gone >= 0 {
			if period == 0 {
				endless = true
			} else {
				for range max(1, int((v.g.time(i)-v.g.time(gone))/period*(1+slack))) {
					maybeLow, maybeHigh = append(maybeLow, minusInf), append(maybeHigh, minusInf)
				}
			}
			gone = -1
		}
		if i == v.g.n || !isSet(own, i) {
			continue
		}
		if surely(i) {
			low, high = append(low, x.low[i]), append(high, -x.high[i])
		} else if perhaps(i) {
			maybeLow, maybeHigh = append(maybeLow, x.low[i]), append(maybeHigh, -x.high[i])
		}
	}
	ans.Empty = len(low)+len(maybeLow) == 0 && !endless
	ans.MaybeEmpty = len(low) == 0 && !ans.Empty
	if endless {
		ans.Low, ans.High = minusInf, plusInf
		return
	}
	if len(maybeLow) > 100 { // too slow for this way; short logs show that it is right
		ans.Low = nowhere
		return
	}
	q := math.Float64frombits(a.q)
	lowest := func(sure, maybe []float64, q float64) float64 {
		slices.Sort(maybe)
		out := plusInf
		for k := 0; k <= len(maybe); k++ {
			all := slices.Sorted(slices.Values(append(slices.Clone(sure), maybe[:k]...)))
			if len(all) == 0 {
				continue
			}
			h := float64(len(all)-1) * q
			j := int(h)
			y := all[j]
			if h > float64(j) && !math.IsInf(y, 0) && all[j+1] != y {
				y += (h - float64(j)) * (all[j+1] - y)
			}
			out = min(out, y)
		}
		return out
	}
	ans.Low, ans.High = lowest(low, maybeLow, q), -lowest(high, maybeHigh, 1-q)
}

func (v *naive) integral(a aggregate, x *ranges, surely, perhaps func(int) bool, ans *Answer) {
	own := v.g.own(&v.nodes[a.x])
	steps := v.g.anyExact(v.nodes[a.x].channels)
	times := v.g.times()
	ans.Empty = true
	ans.MaybeEmpty = true
	for from := 0; from < v.g.n; {
		to := nextSet(own, from+1, v.g.n)
		seen := func(i int) bool { return !v.face.of(a.x).unknown(i) && finite(x.high[i]-x.low[i]) }
		straight := isSet(own, from) && to < v.g.n && !steps && seen(to)
		for i := from; i < to; i++ {
			straight = straight && seen(i) && x.low[i] == x.low[from] && x.high[i] == x.high[from]
		}
		for i := from; i < to; i++ {
			if !perhaps(i) {
				continue
			}
			dt := times[i+1] - times[i]
			low, high := product(x.low[i], dt), product(x.high[i], dt)
			if straight {
				share := ((times[i]+times[i+1])/2 - times[from]) / (times[to] - times[from])
				low += (x.low[to] - x.low[from]) * share * dt
				high += (x.high[to] - x.high[from]) * share * dt
			}
			ans.Empty = false
			if surely(i) {
				ans.MaybeEmpty = false
			} else {
				low, high = min(0, low), max(0, high)
			}
			ans.Low, ans.High = ans.Low+low, ans.High+high
		}
		from = to
	}
	ans.MaybeEmpty = ans.MaybeEmpty && !ans.Empty
}

func (v *naive) response(a aggregate, x, y *ranges, ans *Answer) {
	trigger, reaction := v.g.longest(v.nodes[a.x].channels), v.g.longest(v.nodes[a.y].channels)
	ans.Within = max(trigger, reaction)
	times, n := v.g.times(), v.g.n
	sure, possible := -1.0, 0.0
	free := v.g.free(&v.nodes[a.x])
	certain, any, unknown := false, false, false
	ans.High = -1
	for i := range n {
		unknown = unknown || x.unknown(i)
		if x.no(i) || i > 0 && (x.yes(i-1) || free != nil && x.unknown(i) && x.unknown(i-1) && !isSet(free, i)) {
			continue
		}
		any = true
		low, high := times[n]-times[i], plusInf
		for j := i; j < n; j++ {
			if !y.no(j) && j >= i && low == times[n]-times[i] {
				low = max(0, times[j]-times[i]-reaction)
				if j == i {
					low = 0
				}
				possible = 1
			}
			if y.yes(j) {
				high = times[j] - times[i] + trigger
				break
			}
		}
		if x.yes(i) && (i == 0 || x.no(i-1)) {
			certain = true
			sure = max(sure, low)
		}
		if high > ans.High {
			ans.High, ans.At = high, times[i]
		}
	}
	_ = possible
	ans.Empty = !any
	ans.Low = max(0, sure)
	if unknown { // the least over fillings is not worked out here
		ans.Low = nowhere
	} else {
		ans.MaybeEmpty = any && !certain
	}
}

// drawLong makes a longer log: several words, sometimes several blocks.
func drawLong(t *rapid.T) *Log {
	n := rapid.SampledFrom([]int{1, 63, 64, 65, 130, 200, 257, 2047, 2048, 2049, 4500}).Draw(t, "rows")
	seed := rapid.Uint64().Draw(t, "seed")
	next := func(n int) int { // SplitMix64
		seed += 0x9e3779b97f4a7c15
		z := seed
		z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
		z = (z ^ z>>27) * 0x94d049bb133111eb
		return int((z ^ z>>31) % uint64(n))
	}
	l := &Log{Columns: map[string]*Column{}}
	uniform, at := next(2) == 0, 0.0
	for range n {
		l.Times = append(l.Times, at)
		at += 0.25
		if !uniform {
			at += float64(next(3)) / 4
		}
	}
	l.End = at
	for _, name := range []string{"a", "b", "p", "q"} {
		every, period := 1, 0.25
		if next(2) == 0 {
			every = 1 + next(12)
			period = 0.25 * float64(every)
		}
		c := &Column{Period: period, Hold: period * float64(2+next(4))}
		if !uniform {
			c.Hold *= 3
		}
		if next(8) == 0 {
			c.Period, c.Hold = 0, plusInf
		}
		if next(3) == 0 && (name == "a" || name == "b") {
			c.Line = []Line{{0.5, 1}, {1.0 / 3, 273.15}}[next(2)]
		}
		if next(4) == 0 && (name == "a" || name == "b") {
			c.Within, c.Said = float64(1+next(4))/4, "reads within some"
		}
		badness, blankness, step := 0, 0, 1+next(40)
		if next(2) == 0 {
			badness = 1 + next(30)
		}
		if next(3) == 0 {
			blankness = 2 + next(40)
		}
		v := 0
		var bad []bool
		run := 0 // missing samples come in runs
		for i := 0; i < n; i++ {
			if i%every != 0 {
				continue
			}
			if blankness > 0 && next(blankness) == 0 {
				i += every * next(10)
				continue
			}
			if next(step) == 0 {
				if v = next(13) - 6; name == "p" || name == "q" {
					v = next(2)
				}
			}
			if badness > 0 && next(badness*20) == 0 {
				run = 1 + next(6)
			}
			c.Rows = append(c.Rows, int32(i))
			bad = append(bad, run > 0)
			if run > 0 {
				c.Values = append(c.Values, float64(next(99)-50)) // any number
				run--
			} else {
				c.Values = append(c.Values, float64(v))
			}
		}
		if c.Rows == nil {
			c.Rows = []int32{}
		}
		if slices.Contains(bad, true) {
			c.Bad = make([]uint64, words(len(bad)))
			for k, b := range bad {
				if b {
					setBit(c.Bad, k)
				}
			}
		}
		if len(c.Rows) == n {
			c.Rows = nil
		}
		l.Columns[name] = c
	}
	return l
}

// drawGraph grows a graph at random, with what authors write and what they should not.
func drawGraph(t *rapid.T, g *Graph, size int) (numbers, truths []Node) {
	numbers = []Node{g.Channel("a"), g.Channel("b"), g.Const(2)}
	truths = []Node{g.IsTrue(g.Channel("p")), g.IsTrue(g.Channel("q"))}
	for range size {
		x, y := rapid.SampledFrom(numbers).Draw(t, "x"), rapid.SampledFrom(numbers).Draw(t, "y")
		p, q := rapid.SampledFrom(truths).Draw(t, "p"), rapid.SampledFrom(truths).Draw(t, "q")
		d := float64(rapid.IntRange(0, 40).Draw(t, "d")) / 8
		c := float64(rapid.IntRange(-8, 8).Draw(t, "c"))
		switch rapid.IntRange(0, 18).Draw(t, "form") {
		case 0, 1, 2:
			numbers = append(numbers, g.Op(Add+Op(rapid.IntRange(0, 5).Draw(t, "op")), x, y))
		case 3, 4, 5:
			truths = append(truths, g.Op(Less+Op(rapid.IntRange(0, 5).Draw(t, "op")), x, y))
		case 6, 7:
			truths = append(truths, g.Op(Less+Op(rapid.IntRange(0, 5).Draw(t, "op")), x, g.Const(c)))
		case 8:
			truths = append(truths, g.Op(And, p, q), g.Op(Or, p, g.Not(q)))
		case 9:
			numbers = append(numbers, g.Cond(p, x, y))
			truths = append(truths, g.Cond(p, q, g.Not(p)))
		case 10:
			numbers = append(numbers, g.Neg(x), g.Abs(y))
		case 11:
			numbers = append(numbers, g.CurveAt([]Point{{-3, 1}, {0, -2}, {4, 6}}, x))
		case 12:
			numbers = append(numbers, g.Slope(x))
		case 13:
			numbers = append(numbers, g.Delay(x, d))
			truths = append(truths, g.Delay(p, d))
		case 14:
			numbers = append(numbers, g.Smooth(x, d))
		case 15:
			truths = append(truths, g.Held(p, d))
		case 16:
			numbers = append(numbers, g.Since(p))
		case 17:
			numbers = append(numbers, g.Const(c), g.Range(c, c+3), g.Range(c, plusInf), g.Channel("absent"))
		case 18:
			truths = append(truths, g.Truth(c > 0), g.Unknown(Truths))
		}
	}
	return numbers, truths
}

// The kernels agree with plain loops on long logs, whatever the expression.
func TestKernelsAgreeWithLoops(t *testing.T) { rapid.Check(t, agree) }

// FuzzKernels is the same, for a fuzzer to search.
func FuzzKernels(f *testing.F) { f.Fuzz(rapid.MakeFuzz(agree)) }

func agree(t *rapid.T) {
	l := drawLong(t)
	if err := l.Check(); err != nil {
		t.Fatal(err)
	}
	g := NewGraph()
	numbers, truths := drawGraph(t, g, rapid.IntRange(0, 12).Draw(t, "size"))
	var asked []Agg
	for range rapid.IntRange(1, 4).Draw(t, "aggregates") {
		f := Fold(rapid.IntRange(0, int(Response)).Draw(t, "fold"))
		x, y := numbers[len(numbers)-1-rapid.IntRange(0, min(3, len(numbers)-1)).Draw(t, "x")], NoNode
		if f <= Count || f == Response {
			x = truths[len(truths)-1-rapid.IntRange(0, min(3, len(truths)-1)).Draw(t, "x")]
		}
		if f == Response || (f == Always || f > Count) && rapid.Bool().Draw(t, "filtered") {
			y = rapid.SampledFrom(truths).Draw(t, "y")
		}
		asked = append(asked, g.Aggregate(f, float64(rapid.IntRange(0, 8).Draw(t, "q"))/8, x, y))
	}
	over := *l
	if even := EvenTimes(l.Times); even != nil && rapid.Bool().Draw(t, "even") {
		over.Times, over.Even = nil, even
	}
	r := NewRunner(g, &over, Options{})
	r.Want(asked...)
	nodes, aggs := g.snapshot()
	for _, a := range asked {
		got, err := r.Answer(context.Background(), a)
		if err != nil {
			t.Fatal(err)
		}
		cuts, err := cutsFor(l, nodes, aggs[a].operands()...)
		if err != nil {
			t.Fatal(err)
		}
		v := newNaive(newGrid(l, r.widest, cuts), nodes)
		if v.g.n > 30_000 {
			continue // plain loops within loops would take minutes
		}
		want := v.fold(aggs[a])
		if aggs[a].fold == Quantile && math.IsNaN(want.Low) {
			want.Low, want.High = got.Low, got.High
		}
		if aggs[a].fold == Response && math.IsNaN(want.Low) {
			want.Low, want.MaybeEmpty = got.Low, got.MaybeEmpty
		}
		// rounding may tip the balance between equal spells and equal responses
		at := same(got.At, want.At) || aggs[a].fold == Longest || aggs[a].fold == Response
		if !near(got.Low, want.Low) || !near(got.High, want.High) || got.Empty != want.Empty || got.MaybeEmpty != want.MaybeEmpty ||
			!at || got.Within != want.Within {
			t.Fatalf("%s over %d rows:\ngot  %+v\nwant %+v", g.Key(a), len(l.Times), got, want)
		}
		if !got.Empty && !(got.Low <= got.High) {
			t.Fatalf("%s: bounds the wrong way round: %+v", g.Key(a), got)
		}
		resolved := aggs[a].fold == Response || aggs[a].fold == Total || aggs[a].fold == Longest
		if got.Low < got.High && len(got.Missing)+len(got.Vague) == 0 && !resolved && len(g.Channels(a)) > 0 && sound(nodes, aggs[a]) {
			t.Fatalf("%s: nothing is said to be missing: %+v", g.Key(a), got)
		}
	}
}

// sound: no operand is a scalar that nobody knows, so what is open is a channel's fault.
func sound(nodes []node, a aggregate) bool {
	for id, in := range reach(nodes, a.operands()...) {
		n := &nodes[id]
		if in && (n.form == unsureForm || n.form == rangeForm && n.low != n.high || n.form == sinceForm) {
			return false
		}
	}
	return true
}
