package kernel

import (
	"context"
	"fmt"
	"math"
	"testing"
	"time"
)

const benchRows = 1_800_000 // half an hour at 1,000 Hz

// benchLog is a made-up half hour: revs and oil pressure that rise and fall, and slower channels.
func benchLog(channels int) *Log {
	l := &Log{Columns: map[string]*Column{}}
	l.Times = make([]float64, benchRows)
	for i := range l.Times {
		l.Times[i] = float64(i) / 1000
	}
	l.End = float64(benchRows) / 1000
	for k := range channels {
		c := &Column{Period: 0.001, Hold: 0.003, Values: make([]float64, benchRows)}
		period := 3000 + 500*float64(k)
		seed := uint64(k + 1)
		for i := range c.Values {
			seed = seed*6364136223846793005 + 1442695040888963407
			noise := float64(seed>>40) / (1 << 24)
			c.Values[i] = 5 + 3*math.Sin(2*math.Pi*float64(i)/period) + 0.2*noise
		}
		l.Columns[fmt.Sprintf("c%02d", k)] = c
	}
	slow := &Column{Period: 0.01, Hold: 0.03}
	for i := 0; i < benchRows; i += 10 {
		slow.Rows = append(slow.Rows, int32(i))
		slow.Values = append(slow.Values, l.Columns["c00"].Values[i])
	}
	l.Columns["slow"] = slow
	return l
}

func BenchmarkPredicateByHand(b *testing.B) {
	l := benchLog(2)
	rpm, oil := l.Columns["c00"].Values, l.Columns["c01"].Values
	best(b, 1, func() {
		count, before := 0, false
		for i := range rpm {
			now := rpm[i] < 2.5 || oil[i] > 7.5
			if now && !before {
				count++
			}
			before = now
		}
		if count == 0 {
			b.Fatal("none")
		}
	})
}

// best runs f until the benchmark has enough and reports the quickest turn per row and rule: a
// machine that does other things at the same time makes turns slower, never quicker.
func best(b *testing.B, rules int, f func()) {
	quickest := time.Duration(math.MaxInt64)
	for b.Loop() {
		start := time.Now()
		f()
		quickest = min(quickest, time.Since(start))
	}
	b.ReportMetric(float64(quickest.Nanoseconds())/benchRows/float64(rules), "best-ns/sample")
}

// benchAggregates asks a runner for the same aggregates again and again, with limits that
// differ by a hair, so that nothing is known before.
func benchAggregates(b *testing.B, l *Log, build func(g *Graph, hair float64) []Agg) {
	g, turn := NewGraph(), 0.0
	r := NewRunner(g, l, Options{})
	rules := len(build(g, 0))
	best(b, rules, func() {
		turn++
		aggs := build(g, turn*1e-9)
		r.Want(aggs...)
		for _, a := range aggs {
			if _, err := r.Answer(context.Background(), a); err != nil {
				b.Fatal(err)
			}
		}
	})
}

// BenchmarkNewRunner lays a log out and checks its shape.
func BenchmarkNewRunner(b *testing.B) {
	g, l := NewGraph(), benchLog(2)
	best(b, 1, func() { NewRunner(g, l, Options{}) })
}

func BenchmarkPredicate(b *testing.B) {
	l := benchLog(2)
	benchAggregates(b, l, func(g *Graph, hair float64) []Agg {
		return []Agg{g.Aggregate(Count, 0, g.Op(Or, g.Op(Less, g.Channel("c00"), g.Const(2.5+hair)), g.Op(More, g.Channel("c01"), g.Const(7.5))))}
	})
}

func BenchmarkPredicateSlow(b *testing.B) {
	l := benchLog(2)
	benchAggregates(b, l, func(g *Graph, hair float64) []Agg {
		return []Agg{g.Aggregate(Count, 0, g.Op(Or, g.Op(Less, g.Channel("slow"), g.Const(2.5+hair)), g.Op(More, g.Channel("c01"), g.Const(7.5))))}
	})
}

// BenchmarkFolds is each fold on its own.
func BenchmarkFolds(b *testing.B) {
	l := benchLog(2)
	for f := Always; f <= Response; f++ {
		b.Run(foldNames[f], func(b *testing.B) {
			benchAggregates(b, l, func(g *Graph, hair float64) []Agg {
				x, when := g.Channel("c00"), g.Op(Less, g.Channel("c01"), g.Const(7+hair))
				p := g.Op(Less, x, g.Const(2.5+hair))
				switch {
				case f == Always:
					return []Agg{g.Aggregate(f, 0, g.Op(Less, x, g.Const(99+hair)), when)}
				case f == Ever:
					return []Agg{g.Aggregate(f, 0, g.Op(More, x, g.Const(99+hair)))}
				case f <= Count:
					return []Agg{g.Aggregate(f, 0, p)}
				case f == Response:
					return []Agg{g.Aggregate(f, 0, p, when)}
				}
				return []Agg{g.Aggregate(f, 0.9, x, when)}
			})
		})
	}
}

// BenchmarkMemory is each expression that looks at other rows, on its own.
func BenchmarkMemory(b *testing.B) {
	l := benchLog(2)
	for name, build := range map[string]func(g *Graph, x Node) Node{
		"slope":  func(g *Graph, x Node) Node { return g.Slope(x) },
		"delay":  func(g *Graph, x Node) Node { return g.Delay(x, 0.1) },
		"smooth": func(g *Graph, x Node) Node { return g.Smooth(x, 0.1) },
		"held":   func(g *Graph, x Node) Node { return g.Cond(g.Held(g.Op(Less, x, g.Const(3)), 0.1), x, g.Const(3)) },
		"since":  func(g *Graph, x Node) Node { return g.Since(g.Op(Less, x, g.Const(3))) },
	} {
		b.Run(name, func(b *testing.B) {
			benchAggregates(b, l, func(g *Graph, hair float64) []Agg {
				return []Agg{g.Aggregate(Max, 0, build(g, g.Op(Add, g.Const(hair), g.Channel("c00"))))}
			})
		})
	}
}

// two hundred rules over forty channels, of the kinds a rule book has.
func bookAggregates(g *Graph, hair float64) []Agg {
	var out []Agg
	for i := range 200 {
		x, y := g.Channel(fmt.Sprintf("c%02d", i%40)), g.Channel(fmt.Sprintf("c%02d", (i*7+3)%40))
		limit := g.Const(2.2 + hair + float64(i/40)*0.1)
		when := g.Op(More, y, g.Const(7.5+hair))
		low := g.Op(Less, x, limit)
		switch i % 10 {
		case 0, 1:
			out = append(out, g.Aggregate(Min, 0, x, when))
		case 2:
			out = append(out, g.Aggregate(Max, 0, g.Op(Sub, x, g.Op(Mul, g.Const(0.5+hair), y))))
		case 3:
			out = append(out, g.Aggregate(Count, 0, g.Op(Or, low, when)))
		case 4:
			out = append(out, g.Aggregate(Total, 0, g.Op(And, low, when)))
		case 5:
			out = append(out, g.Aggregate(Longest, 0, low))
		case 6:
			out = append(out, g.Aggregate(Mean, 0, x, when))
		case 7:
			out = append(out, g.Aggregate(Integral, 0, x, g.Op(Less, x, g.Const(99+hair))))
		case 8:
			out = append(out, g.Aggregate(Response, 0, low, when))
		case 9:
			out = append(out, g.Aggregate(Always, 0, g.Op(Or, low, g.Op(Less, y, g.Const(99+hair)))))
		}
	}
	return out
}

func BenchmarkBook(b *testing.B) {
	l := benchLog(40)
	benchAggregates(b, l, bookAggregates)
}

// BenchmarkBookWithGaps: a channel in eight is not logged, the others have gaps.
func BenchmarkBookWithGaps(b *testing.B) {
	l := benchLog(40)
	seed := uint64(7)
	for k := range 40 {
		name := fmt.Sprintf("c%02d", k)
		if k%8 == 5 {
			delete(l.Columns, name)
			continue
		}
		c := l.Columns[name]
		c.Bad = make([]uint64, words(benchRows))
		for from := 0; from < benchRows; {
			seed = seed*6364136223846793005 + 1442695040888963407
			to := min(from+int(seed>>60)*20, benchRows)
			setBits(c.Bad, from, to)
			from = to + int(seed>>40)%200_000
		}
	}
	benchAggregates(b, l, bookAggregates)
}

// BenchmarkBookWithPause: the logger paused in the middle, so that the rows are split there.
func BenchmarkBookWithPause(b *testing.B) {
	l := benchLog(40)
	for i := benchRows / 2; i < benchRows; i++ {
		l.Times[i] += 10
	}
	l.End += 10
	benchAggregates(b, l, bookAggregates)
}

// BenchmarkBookByHand computes the same results in loops a programmer would write.
func BenchmarkBookByHand(b *testing.B) {
	l := benchLog(40)
	sink := 0.0
	best(b, 200, func() {
		for i := range 200 {
			x, y := l.Columns[fmt.Sprintf("c%02d", i%40)].Values, l.Columns[fmt.Sprintf("c%02d", (i*7+3)%40)].Values
			sink += bookByHand(i, l.Times, l.End, x, y, 2.2+float64(i/40)*0.1)
		}
	})
	if sink == 0 {
		b.Fatal("nothing")
	}
}

func bookByHand(i int, times []float64, end float64, x, y []float64, limit float64) float64 {
	y = y[:len(x)]
	times = times[:len(x)]
	switch i % 10 {
	case 0, 1:
		least := math.Inf(1)
		for k, v := range x {
			if y[k] > 7.5 && v < least {
				least = v
			}
		}
		return least
	case 2:
		most := math.Inf(-1)
		for k, v := range x {
			if d := v - 0.5*y[k]; d > most {
				most = d
			}
		}
		return most
	case 3:
		count, before := 0, false
		for k, v := range x {
			now := v < limit || y[k] > 7.5
			if now && !before {
				count++
			}
			before = now
		}
		return float64(count)
	case 4:
		sum := 0.0
		for k, v := range x {
			if v < limit && y[k] > 7.5 {
				next := end
				if k+1 < len(times) {
					next = times[k+1]
				}
				sum += next - times[k]
			}
		}
		return sum
	case 5:
		long, start, in := 0.0, 0.0, false
		for k, v := range x {
			now := v < limit
			if now && !in {
				start = times[k]
			} else if in && !now && times[k]-start > long {
				long = times[k] - start
			}
			in = now
		}
		if in && end-start > long {
			long = end - start
		}
		return long
	case 6:
		sum, seconds := 0.0, 0.0
		for k, v := range x {
			if y[k] > 7.5 {
				next := end
				if k+1 < len(times) {
					next = times[k+1]
				}
				sum += v * (next - times[k])
				seconds += next - times[k]
			}
		}
		return sum / seconds
	case 7:
		sum := 0.0
		for k := 1; k < len(x); k++ {
			sum += (x[k] + x[k-1]) / 2 * (times[k] - times[k-1])
		}
		return sum + x[len(x)-1]*(end-times[len(x)-1])
	case 8:
		long, trigger, waiting, before := 0.0, 0.0, false, false
		for k, v := range x {
			now := v < limit
			if now && !before && !waiting {
				trigger, waiting = times[k], true
			}
			before = now
			if waiting && y[k] > 7.5 {
				if times[k]-trigger > long {
					long = times[k] - trigger
				}
				waiting = false
			}
		}
		return long
	}
	for k, v := range x {
		if v >= limit && y[k] >= 99 {
			return 0
		}
	}
	return 1
}
