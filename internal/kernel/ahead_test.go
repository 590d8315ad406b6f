package kernel

import (
	"context"
	"math"
	"math/rand/v2"
	"reflect"
	"sync"
	"testing"
)

// However many work ahead, and whichever is done first, the answer is that of one after the other.
func TestAheadFoldsInOrder(t *testing.T) {
	const rows = 9*32*blockRows + 777
	l := &Log{Even: &Even{Rows: rows, Step: 1e6}, End: rows / 1000.0, Columns: map[string]*Column{}}
	for k, name := range []string{"a", "b"} {
		c := &Column{Period: 0.001, Hold: 0.003, Values: make([]float64, rows), Bad: make([]uint64, words(rows))}
		for i := range c.Values {
			c.Values[i] = math.Sin(float64(i)/float64(700+90*k)) + math.Sin(float64(i)/13)/10
		}
		setBits(c.Bad, rows/2, rows/2+90*k)
		l.Columns[name] = c
	}
	g := NewGraph()
	p := g.Op(Or, g.Op(Less, g.Channel("a"), g.Const(0.3)), g.Op(More, g.Channel("b"), g.Const(0.7)))
	late := g.Op(Less, g.Channel("a"), g.Const(2)) // known and true, but where a is missing
	aggs := []Agg{
		g.Aggregate(Total, 0, p), g.Aggregate(Count, 0, p), g.Aggregate(Longest, 0, g.Not(p)),
		g.Aggregate(Always, 0, p), g.Aggregate(Always, 0, late), g.Aggregate(Response, 0, p, g.Not(p)),
	}
	nodes, all := g.snapshot()
	r := NewRunner(g, l, Options{})
	for _, a := range aggs {
		want, err := sweep(context.Background(), r.grid, nodes, all, []Agg{a}, 1)
		if err != nil {
			t.Fatal(err)
		}
		for turn := range 8 {
			got, err := sweep(context.Background(), r.grid, nodes, all, []Agg{a}, 2+turn%4)
			if err != nil {
				t.Fatal(err)
			}
			if !reflect.DeepEqual(plainAt(got), plainAt(want)) {
				t.Fatalf("%s with %d workers: %+v, want %+v", g.Key(a), 2+turn%4, got, want)
			}
		}
	}
}

// Parts that come all at once are folded in order, one at a time, and none after the one with which it is enough.
func TestInOrder(t *testing.T) {
	const parts, enough = 200, 150
	line := &inOrder{there: make([]*truthsAhead, parts)}
	var (
		folded []int
		group  sync.WaitGroup
	)
	for _, i := range rand.New(rand.NewPCG(3, 5)).Perm(parts) {
		group.Go(func() {
			line.put(i, &truthsAhead{from: i}, func(part *truthsAhead) bool {
				folded = append(folded, part.from)
				return part.from < enough
			})
		})
	}
	group.Wait()
	for i, from := range folded {
		if from != i {
			t.Fatalf("part %d is folded as number %d", from, i)
		}
	}
	if len(folded) != enough+1 || len(line.used) != parts {
		t.Errorf("%d were folded, and %d are free to use again", len(folded), len(line.used))
	}
}

// plainAt makes the time of answers that have none comparable.
func plainAt(answers []Answer) []Answer {
	for i := range answers {
		if math.IsNaN(answers[i].At) {
			answers[i].At = -1
		}
	}
	return answers
}
