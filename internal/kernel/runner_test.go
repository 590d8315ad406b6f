package kernel

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// What is missing is named with its channel, its span and the log's own reason.
func TestMissingIsNamed(t *testing.T) {
	nan := math.NaN()
	var times []float64
	for i := range 10 {
		times = append(times, float64(i))
	}
	l, err := FromRows(times, 1, 2, map[string][]float64{
		"oil":  {5, 5, 5, 5, 5, 5, 5, 4, 4, 4},
		"temp": {nan, nan, 90, 91, nan, nan, nan, 95, 95, 95}, // lapses from 5 s to 7 s
		"rpm":  {10, 10, 10, 10, 10, 10, 10, 10, 10, 10},
	})
	if err != nil {
		t.Fatal(err)
	}
	l.Columns["oil"].Bad = []uint64{1<<3 | 1<<4}
	l.Columns["oil"].Gaps = []Gap{{From: 3, To: 4.5, Why: "reads its fault value"}}
	g := NewGraph()
	oil, temp, rpm := g.Channel("oil"), g.Channel("temp"), g.Channel("rpm")
	hot := g.Op(More, temp, g.Const(80))
	oilGap := "oil 3-4.5 reads its fault value; oil 4.5-5 taken away"
	tempGap := "temp 0-2 no sample yet; temp 5-7 no sample for longer than one stands"
	for _, c := range []struct {
		name string
		agg  Agg
		want string
	}{
		{"all of it", g.Aggregate(Min, 0, oil), oilGap},
		{"with the filter", g.Aggregate(Min, 0, oil, hot), oilGap + "; " + tempGap},
		{"a true filter elsewhere", g.Aggregate(Min, 0, rpm, g.Op(Or, hot, g.Op(More, rpm, g.Const(1)))), ""},
		{"decided anyhow", g.Aggregate(Always, 0, g.Op(More, oil, g.Const(4.5))), ""},
		{"not logged", g.Aggregate(Ever, 0, g.Op(More, g.Channel("gear"), g.Const(1))), "gear 0-10 not logged"},
		{"beyond a curve", g.Aggregate(Max, 0, g.CurveAt([]Point{{0, 0}, {9, 9}}, rpm)), "rpm 0-10 beyond the curve"},
		{"divided by zero", g.Aggregate(Max, 0, g.Op(Div, rpm, g.Op(Sub, rpm, g.Const(10)))), "rpm 0-10 divided by zero, or too large a number"},
		{"delayed", g.Aggregate(Max, 0, g.Delay(oil, 2), g.Op(More, temp, g.Const(94))), oilGap + "; " + tempGap},
		{"delayed into the gap", g.Aggregate(Max, 0, g.Delay(oil, 4), g.Op(MoreEq, temp, g.Const(95))), oilGap + "; " + tempGap},
		{"before the log", g.Aggregate(Max, 0, g.Delay(rpm, 2)), "rpm 0-2 before the log begins"},
		{"last", g.Aggregate(Last, 0, temp), ""},
		{"first", g.Aggregate(First, 0, temp), "temp 0-1 no sample yet"},
	} {
		var got []string
		for _, m := range answer(t, g, l, c.agg).Missing {
			got = append(got, fmt.Sprintf("%s %v-%v %s", m.Channel, m.From, m.To, m.Why))
		}
		if s := strings.Join(got, "; "); s != c.want {
			t.Errorf("%s: got %q, want %q", c.name, s, c.want)
		}
	}
}

func TestRunnerRefuses(t *testing.T) {
	g := NewGraph()
	a := g.Aggregate(Max, 0, g.Op(Add, g.Channel("x"), g.Const(1)))
	good := rowsLog(t, map[string][]float64{"x": {1, 2, 3}})
	over, cancel := context.WithCancel(context.Background())
	cancel()
	for _, c := range []struct {
		name string
		log  *Log
		opts Options
		ctx  context.Context
		want string
	}{
		{"budget", good, Options{Budget: 5}, context.Background(), "use fewer rules at once or a shorter log"},
		{"deadline", good, Options{}, over, "not finished in time"},
		{"no rows", &Log{}, Options{}, context.Background(), "no rows"},
		{"times", &Log{Times: []float64{0, 0}, End: 1}, Options{}, context.Background(), "times must increase"},
		{"samples", &Log{Times: []float64{0}, End: 1, Columns: map[string]*Column{"x": {Hold: 1}}}, Options{}, context.Background(), "channel x has 0 samples for 1 rows"},
		{"hold", &Log{Times: []float64{0}, End: 1, Columns: map[string]*Column{"x": {Values: []float64{1}}}}, Options{}, context.Background(), "hold 0"},
		{"rows", &Log{Times: []float64{0}, End: 1, Columns: map[string]*Column{"x": {Values: []float64{1}, Rows: []int32{1}, Hold: 1}}}, Options{}, context.Background(), "out of order"},
	} {
		_, err := NewRunner(g, c.log, c.opts).Answer(c.ctx, a)
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", c.name, err, c.want)
		}
		if c.ctx == over && !errors.Is(err, context.Canceled) {
			t.Errorf("%s: %v does not say it was cancelled", c.name, err)
		}
	}
	r := NewRunner(g, good, Options{})
	if _, err := r.Answer(over, a); err == nil {
		t.Error("an ended context is no obstacle")
	}
	if ans, err := r.Answer(context.Background(), a); err != nil || ans.High != 4 {
		t.Errorf("after an ended context: %+v, %v", ans, err)
	}
}

func TestValuesForAPlot(t *testing.T) {
	nan := math.NaN()
	l, err := FromRows([]float64{0, 1, 2, 3, 4, 5, 6, 7}, 1, 1, map[string][]float64{"x": {1, 5, 2, nan, 3, 3, 9, 0}})
	if err != nil {
		t.Fatal(err)
	}
	g := NewGraph()
	r := NewRunner(g, l, Options{})
	got, err := r.Values(g.Channel("x"), -10, 10, 4)
	if err != nil {
		t.Fatal(err)
	}
	want := []Bucket{{0, 2, 1, 5, true, false}, {2, 4, 2, 2, true, true}, {4, 6, 3, 3, true, false}, {6, 8, 0, 9, true, false}}
	if fmt.Sprint(got) != fmt.Sprint(want) {
		t.Errorf("got %v, want %v", got, want)
	}
	// more buckets than rows: a value shows in every bucket it stands in
	fine, err := r.Values(g.Op(More, g.Channel("x"), g.Const(2)), 0, 2, 8)
	if err != nil || len(fine) != 8 || fine[3].High != 0 || fine[4].Low != 1 {
		t.Errorf("got %v, %v", fine, err)
	}
	if none, err := r.Values(g.Channel("x"), 9, 12, 4); err != nil || none != nil {
		t.Errorf("outside the log: %v, %v", none, err)
	}
}

// What else is asked for must not change an answer by a bit.
func TestAnswersDoNotDependOnCompany(t *testing.T) {
	l := rowsLog(t, map[string][]float64{"x": mavro, "y": lew[:50]})
	g := NewGraph()
	x, y := g.Channel("x"), g.Channel("y")
	var aggs []Agg
	for _, f := range []Fold{Min, Max, Mean, Integral, Quantile, First, Last} {
		aggs = append(aggs, g.Aggregate(f, 0.3, g.Op(Mul, x, y)), g.Aggregate(f, 0.3, g.Smooth(x, 3.3), g.Op(Less, y, g.Const(0))))
	}
	together := NewRunner(g, l, Options{})
	together.Want(aggs...)
	for _, a := range aggs {
		alone := answer(t, g, l, a)
		ans, err := together.Answer(context.Background(), a)
		if err != nil || fmt.Sprint(ans) != fmt.Sprint(alone) {
			t.Errorf("%s: %+v together, %+v alone, %v", g.Key(a), ans, alone, err)
		}
	}
}

// Where very much is missing, lists stay short and bounds sound.
func TestMuchMissing(t *testing.T) {
	const n = 300_000
	l := &Log{Times: make([]float64, n), End: n, Columns: map[string]*Column{}}
	x := &Column{Period: 1, Hold: 3, Values: make([]float64, n)}
	flag := &Column{Period: 1, Hold: 3, Values: make([]float64, n), Bad: make([]uint64, words(n))}
	for i := range n {
		l.Times[i] = float64(i)
		x.Values[i] = float64((i*7919)%1000) + 1
		if i%3 > 0 {
			setBit(flag.Bad, i)
		} else if i%2 == 0 {
			flag.Values[i] = 1
		}
	}
	l.Columns["x"], l.Columns["flag"] = x, flag
	g := NewGraph()
	when := g.IsTrue(g.Channel("flag"))
	mean := answer(t, g, l, g.Aggregate(Mean, 0, g.Channel("x"), when))
	want := answer(t, g, l, g.Aggregate(Mean, 0, g.Channel("x"), g.Op(Less, g.Channel("x"), g.Const(500))))
	if !(mean.Low > 0 && mean.Low < want.Low*1.5 && mean.High > mean.Low && mean.High < 1000) {
		t.Errorf("mean %v..%v", mean.Low, mean.High)
	}
	if len(mean.Missing) != mostSpans || mean.Missing[0].From != 1 || mean.Missing[mostSpans-1].To != n {
		t.Errorf("%d spans: %v", len(mean.Missing), mean.Missing)
	}
}

// A sample deep inside the log of an expression that remembers what came before.
func TestSampleRemembers(t *testing.T) {
	values := make([]float64, 3*blockRows)
	for i := range values {
		values[i] = float64(i)
	}
	l := rowsLog(t, map[string][]float64{"x": values})
	g := NewGraph()
	x := g.Channel("x")
	r := NewRunner(g, l, Options{})
	at := float64(2*blockRows + 5)
	for _, c := range []struct {
		node Node
		want float64
	}{
		{g.Delay(x, 3000), at - 3000},
		{g.Smooth(x, 10), at - 5.5},
		{g.Slope(g.Smooth(x, 10)), 1},
		{g.Since(g.Op(Less, x, g.Const(10))), at - 10},
		{g.Held(g.Op(More, x, g.Const(9)), at-10), 1},
		{g.Held(g.Op(More, x, g.Const(9)), at-9), 0},
	} {
		low, high, known := r.Sample(c.node, at)
		if !near(low, c.want) || !known {
			t.Errorf("%s: %v..%v, want %v", g.key(c.node), low, high, c.want)
		}
	}
	plot, err := r.Values(g.Delay(x, 3000), at, at+4, 4)
	if err != nil || len(plot) != 4 || plot[2].Low != at-2998 {
		t.Errorf("%v, %v", plot, err)
	}
}

// Workers that share a pass find what one finds alone.
func TestWorkersAgree(t *testing.T) {
	const n = 30_000
	columns := map[string][]float64{}
	for _, name := range []string{"a", "b", "c"} {
		values := make([]float64, n)
		for i := range values {
			values[i] = math.Sin(float64(i)/float64(200*len(columns)+300)) * 10
		}
		columns[name] = values
	}
	columns["c"][n/2] = math.NaN()
	l := rowsLog(t, columns)
	l.Columns["b"].Bad = make([]uint64, words(n))
	setBits(l.Columns["b"].Bad, 5000, 5100)
	g := NewGraph()
	var aggs []Agg
	for i := range 60 {
		x, y := g.Channel([]string{"a", "b", "c"}[i%3]), g.Channel([]string{"b", "c", "a"}[i%3])
		p, q := g.Op(Less, x, g.Const(float64(i%7))), g.Op(More, g.Op(Add, x, y), g.Const(float64(i%5)))
		aggs = append(aggs, g.Aggregate(Count, 0, g.Op(Or, p, q)), g.Aggregate(Min, 0, g.Smooth(x, 5), q), g.Aggregate(Response, 0, p, q))
	}
	nodes, all := g.snapshot()
	if len(share(nodes, all, aggs, 2)) != 2 {
		t.Fatal("the work is not shared")
	}
	together := NewRunner(g, l, Options{})
	together.Want(aggs...)
	for i, a := range aggs {
		ans, err := together.Answer(context.Background(), a)
		if err != nil {
			t.Fatal(err)
		}
		if i%10 == 0 {
			if alone := answer(t, g, l, a); fmt.Sprint(ans) != fmt.Sprint(alone) {
				t.Errorf("%s: %+v together, %+v alone", g.Key(a), ans, alone)
			}
		}
	}
}

// A log's rows dealt out to workers give what one worker finds.
func TestRowsDealtOut(t *testing.T) {
	const n = 40*blockRows + 77
	a, b := make([]float64, n), make([]float64, n)
	for i := range n {
		a[i], b[i] = math.Sin(float64(i)/700)*10, math.Sin(float64(i)/90_000)*10
	}
	a[n/3] = math.NaN()
	l := rowsLog(t, map[string][]float64{"a": a, "b": b})
	l.Columns["b"].Bad = make([]uint64, words(n))
	setBits(l.Columns["b"].Bad, 5000, 5100)
	g := NewGraph()
	p := g.Op(Or, g.Op(Less, g.Channel("a"), g.Const(3)), g.Op(More, g.Channel("b"), g.Const(2)))
	q := g.Op(More, g.Op(Add, g.Channel("a"), g.Channel("b")), g.Const(1))
	for _, agg := range []Agg{
		g.Aggregate(Total, 0, g.Not(p)), g.Aggregate(Longest, 0, p), g.Aggregate(Count, 0, q), g.Aggregate(Ever, 0, g.Not(g.Op(Or, p, q))),
		g.Aggregate(Always, 0, p, q), g.Aggregate(Response, 0, p, q), g.Aggregate(Min, 0, g.Channel("a"), q), g.Aggregate(Total, 0, g.Held(p, 100)),
	} {
		nodes, aggs := g.snapshot()
		grid := NewRunner(g, l, Options{}).grid
		var found [2]string
		for k, workers := range []int{1, 3} {
			answers, err := sweep(context.Background(), grid, nodes, aggs, []Agg{agg}, workers)
			if err != nil {
				t.Fatal(err)
			}
			found[k] = fmt.Sprintf("%+v", answers)
		}
		if found[0] != found[1] {
			t.Errorf("%s: %s by one, %s by three", g.Key(agg), found[0], found[1])
		}
	}
}

// Zones, wider than need be or not, change no answer.
func TestZonesChangeNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 3*blockRows).Draw(t, "rows")
		step := rapid.SampledFrom([]int{1, 3, 700}).Draw(t, "step")
		level := rapid.SliceOfN(rapid.IntRange(-3, 3), 8, 8).Draw(t, "levels")
		c := &Column{Period: float64(step), Hold: 3 * float64(step)}
		l := &Log{End: float64(n), Columns: map[string]*Column{"x": c}}
		for i := range n {
			l.Times = append(l.Times, float64(i))
			if i%step == 0 {
				c.Rows = append(c.Rows, int32(i))
				c.Values = append(c.Values, float64(level[i/777%len(level)]))
			}
		}
		if step == 1 {
			c.Rows = nil
		}
		c.Bad = make([]uint64, words(len(c.Values)))
		for _, k := range rapid.SliceOf(rapid.IntRange(0, len(c.Values)-1)).Draw(t, "bad") {
			setBit(c.Bad, k)
		}
		c.Line = rapid.SampledFrom([]Line{{}, {0.5, 1}}).Draw(t, "line")
		zoned := *c
		room := rapid.SampledFrom([]float64{0, 0.5, 5}).Draw(t, "room")
		for from := 0; from < len(c.Values); from += ZoneSamples {
			z := Zone{Least: plusInf, Most: minusInf}
			for k := from; k < min(from+ZoneSamples, len(c.Values)); k++ {
				if !c.bad(k) {
					z.Least, z.Most = min(z.Least, c.Line.SI(c.Values[k])-room), max(z.Most, c.Line.SI(c.Values[k])+room)
				}
			}
			zoned.Zones = append(zoned.Zones, z)
		}
		g := NewGraph()
		limit := g.Const(float64(rapid.IntRange(-3, 3).Draw(t, "limit")))
		op := rapid.SampledFrom([]Op{Less, LessEq, More, MoreEq, Equal, NotEqual}).Draw(t, "op")
		agg := g.Aggregate(rapid.SampledFrom([]Fold{Total, Count, Always, Longest}).Draw(t, "fold"), 0, g.Op(op, g.Channel("x"), limit))
		with := *l
		with.Columns = map[string]*Column{"x": &zoned}
		var found [2]string
		for k, log := range []*Log{l, &with} {
			a, err := NewRunner(g, log, Options{}).Answer(context.Background(), agg)
			if err != nil {
				t.Fatal(err)
			}
			found[k] = fmt.Sprintf("%+v", a)
		}
		if found[0] != found[1] {
			t.Fatalf("%s without zones, %s with", found[0], found[1])
		}
	})
}
