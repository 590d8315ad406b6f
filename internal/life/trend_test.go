package life

import (
	"fmt"
	"math"
	"testing"
	"testing/fstest"

	"pgregory.net/rapid"

	"github.com/paintmark/paintmark/internal/car"
)

// sheetOfPosts is the life sheet of a car whose runs, from 1, posted these values of one measure.
func sheetOfPosts(t interface {
	Helper()
	Fatal(...any)
}, posted []string,
) *Sheet {
	t.Helper()
	files := fstest.MapFS{
		"car.yaml":    {Data: []byte("car: {name: A}\n")},
		"people.yaml": {Data: []byte("people: [{initials: AB, name: A, hats: [lead-engineer]}]\n")},
	}
	for i, p := range posted {
		measures := ""
		if p != "" {
			measures = fmt.Sprintf("  measures: {\"a.b FL\": \"%s\"}\n", p)
		}
		files[fmt.Sprintf("runs/20260516T08%02d00Z-AB-run-%06d.yaml", i, i+1)] = &fstest.MapFile{Data: fmt.Appendf(nil, "at: 2026-05-16T08:%02d:00Z\nby: AB\nrun:\n  no: %d\n%s", i, i+1, measures)}
	}
	f, faults := car.OpenFS(files)
	s, more := Of(f, f.AsOf)
	for _, fault := range append(faults, more...) {
		t.Fatal(fault.Error())
	}
	return s
}

func TestMeasuresAreFollowed(t *testing.T) {
	above := func(v float64, means string) Edge { return Edge{Value: v, Means: means} }
	below := func(v float64, means string) Edge { return Edge{Value: v, Below: true, Means: means} }
	for _, c := range []struct {
		name     string
		posted   []string
		edges    []Edge
		slope    float64
		newest   Amount
		limit    float64
		means    string
		runsLeft float64
		partly   int
	}{
		{"a straight line", []string{"1 s", "2 s", "3 s"}, []Edge{above(5, "fail")}, 1, counted(3), 5, "fail", 2, 0},
		{"one wild run of five", []string{"1 s", "2 s", "90 s", "4 s", "5 s"}, []Edge{above(8, "fail")}, 1, counted(5), 8, "fail", 3, 0},
		{"down to the lower of two sides", []string{"9 s", "8 s", "7 s"}, []Edge{below(2, "fail"), above(9.5, "fail")}, -1, counted(7), 2, "fail", 5, 0},
		{"warn comes before fail", []string{"1 s", "2 s", "3 s"}, []Edge{above(4, "warn"), above(8, "fail")}, 1, counted(3), 4, "warn", 1, 0},
		{"past warn, on to fail", []string{"3 s", "4 s", "5 s"}, []Edge{above(4.5, "warn"), above(8, "fail")}, 1, counted(5), 8, "fail", 3, 0},
		{"past both", []string{"7 s", "8 s", "9 s"}, []Edge{above(4.5, "warn"), above(8, "fail")}, 1, counted(9), 8, "fail", 0, 0},
		{"away from it: the nearest limit", []string{"3 s", "2 s", "1 s"}, []Edge{above(8, "fail"), above(4, "warn")}, -1, counted(1), 4, "warn", math.Inf(1), 0},
		{"no change", []string{"3 s", "3 s", "3 s"}, []Edge{above(8, "fail")}, 0, counted(3), 8, "fail", math.Inf(1), 0},
		{"two runs draw no line", []string{"1 s", "2 s"}, []Edge{above(5, "fail")}, math.NaN(), counted(2), 5, "fail", math.Inf(1), 0},
		{"a run without it leaves its place in the line", []string{"1 s", "", "3 s", "4 s"}, []Edge{above(6, "fail")}, 1, counted(4), 6, "fail", 2, 0},
		{"bounds: their middle draws the line", []string{"0.9 s..1.1 s", "1.9 s..2.1 s", "2.9 s..3.1 s"}, []Edge{above(5, "fail")}, 1, Amount{Low: 2.9, High: 3.1}, 5, "fail", 2, 0},
		{"one end open: no value to draw by", []string{"1 s", "2 s", "3 s", "2.5 s.."}, []Edge{above(5, "fail")}, 1, counted(3), 5, "fail", 2, 1},
		{"posted in another unit", []string{"1000 ms", "2 s", "3000 ms"}, []Edge{above(5, "fail")}, 1, counted(3), 5, "fail", 2, 0},
		{"unknown is no value", []string{"1 s", "2 s", "3 s", "unknown"}, []Edge{above(5, "fail")}, 1, counted(3), 5, "fail", 2, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := sheetOfPosts(t, c.posted)
			if faults := s.Follow([]Watch{{Name: "a.b FL", Item: "It", Unit: "s", Edges: c.edges}}); len(faults) > 0 {
				t.Fatal(faults)
			}
			if len(s.Trends) != 1 {
				t.Fatalf("%d trends", len(s.Trends))
			}
			got := s.Trends[0]
			near := func(a, b float64) bool {
				return a == b || math.IsNaN(a) && math.IsNaN(b) || math.Abs(a-b) < 1e-9
			}
			if !near(got.Slope, c.slope) || !near(got.Newest.Low, c.newest.Low) || !near(got.Newest.High, c.newest.High) ||
				got.Limit != c.limit || got.Means != c.means || !near(got.RunsLeft, c.runsLeft) || got.Partly != c.partly {
				t.Errorf("got %+v", got)
			}
			if heading := s.Value.Fields["heading"] != nil; heading != (c.runsLeft > 0 && !math.IsInf(c.runsLeft, 1)) {
				t.Errorf("heading for its limit: %v", heading)
			}
		})
	}
}

func TestPostedInNoUnitOfTheRule(t *testing.T) {
	s := sheetOfPosts(t, []string{"1 s", "2 bar", "3"})
	faults := s.Follow([]Watch{{Name: "a.b FL", Item: "It", Unit: "s", Edges: []Edge{{Value: 5}}}})
	want := []string{
		"runs/20260516T080100Z-AB-run-000002.yaml:5:24: `2 bar` is a pressure, but a time is wanted; write it in s, ms, µs",
		"runs/20260516T080200Z-AB-run-000003.yaml:5:24: a.b FL is 3 on this run and s in its limit; write both in one unit",
	}
	if len(faults) != len(want) {
		t.Fatal(faults)
	}
	for i, f := range faults {
		if f.Error() != want[i] {
			t.Errorf("got  %s\nwant %s", f.Error(), want[i])
		}
	}
}

// Fewer than a quarter of wild runs do not turn a line round, whatever they say.
func TestWildRunsDoNotTurnATrend(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		n := rapid.IntRange(9, 24).Draw(rt, "runs")
		posted := make([]string, n)
		for i := range posted {
			posted[i] = fmt.Sprintf("%d s", 10+i)
		}
		for range n / 5 {
			i := rapid.IntRange(0, n-2).Draw(rt, "wild") // the newest one is believed
			posted[i] = fmt.Sprintf("%d s", rapid.IntRange(-1000, 1000).Draw(rt, "value"))
		}
		s := sheetOfPosts(rt, posted)
		s.Follow([]Watch{{Name: "a.b FL", Item: "It", Unit: "s", Edges: []Edge{{Value: 100}}}})
		if got := s.Trends[0].Slope; got <= 0 {
			rt.Fatalf("slope %v of %v", got, posted)
		}
	})
}
