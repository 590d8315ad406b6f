package readiness

import (
	"math"
	"os"
	"path/filepath"
	"sync"
	"testing"

	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/demo"
)

// agreement pairs a rule with the model's own answer to the same measure. of turns the
// truth into what the rule measures; moves is by how much that can change while a sample stands.
type agreement struct {
	rule, truth string
	of          func(v float64, car func(path string) float64) float64
	moves       float64
}

func same(v float64, _ func(string) float64) float64 { return v }

var agreements = []agreement{
	{"wing.close-time", demo.WingReturn, same, 0},
	{"hydraulics.shift-pressure", demo.ShiftPressure, same, 0},
	{"engine.oil-before-load", demo.OilAtLoad, same, 0.1},
	{"engine.oil-peak", demo.OilPeak, same, 0},
	{"engine.over-rev", demo.RevPeak, func(v float64, car func(string) float64) float64 { return v - car("engine.rev_limit")*30/math.Pi }, 0},
	{"cooling.water-peak", demo.WaterPeak, same, 0},
	{"turbo.boost-peak", demo.ManifoldPeak, func(v float64, car func(string) float64) float64 { return v - car("turbo.boost_max")/1e5 }, 0},
	{"gearbox.shift-time", demo.ShiftTime, func(v float64, _ func(string) float64) float64 { return v * 1000 }, 0},
	{"gearbox.oil-temp", demo.GearboxSmooth, same, 0.1},
	{"fuel.rail-pressure", demo.FuelDifference, func(v float64, car func(string) float64) float64 { return v * 1e5 / car("engine.fuel_pressure") * 100 }, 0},
}

// TestItemsAgreeWithTheModel drives the model with random faults and holds what the report
// says against what the model knows. What its log can resolve of each measure is worked out
// from the model's own recording (see resolve), and what the model really did must lie in it.
// Then a fault beyond a limit by more than the log resolves must be found, one inside must pass, and one in
// between is no data: each item has one right answer.
func TestItemsAgreeWithTheModel(t *testing.T) {
	seeds := 200
	if testing.Short() {
		seeds = 1
	}
	base := Open(t.Context(), tern3, Options{Logs: "nowhere"})
	limits := map[string][]check.Bound{}
	withLog := Open(t.Context(), tern3, Options{Logs: "logs"})
	for _, a := range agreements {
		why, err := withLog.Why(t.Context(), a.rule, "", 10)
		if err != nil {
			t.Fatal(err)
		}
		limits[a.rule] = why.Limits
	}
	car := func(path string) float64 { return base.evidence.Roots["car"].Get(path).Low }
	var mu sync.Mutex
	told := map[check.Outcome]int{}
	between, disagree := 0, 0
	onAllProcessors(seeds, func(i int) {
		seed := uint64(i) + 1
		run := demo.RandomRun(seed)
		rec := run.Record()
		results, known := lookAt(t, base, rec.CSV()), resolve(rec)
		for _, a := range agreements {
			r, truth, log := results[a.rule], rec.Truth[a.truth], known[a.truth]
			if !(log.low-a.moves <= truth.Sampled+1e-9 && truth.Sampled-1e-9 <= log.high+a.moves) {
				t.Errorf("seed %d, %s: the model did %v, which its own log rules out: %+v", seed, a.truth, truth.Sampled, log)
			}
			want, open := a.answer(log, limits[a.rule], car)
			mu.Lock()
			told[r.Outcome]++
			if open {
				between++
			}
			if r.Outcome != want {
				disagree++
				t.Errorf("seed %d, %s: came out %s, want %s: %s; log %+v, truth %+v; faults %+v", seed, a.rule, r.Outcome, want, r.Message, log, truth, run.Faults)
			}
			mu.Unlock()
		}
	})
	for _, outcome := range []check.Outcome{check.Pass, check.Warn, check.Fail, check.NoData} {
		if told[outcome] == 0 && !testing.Short() {
			t.Errorf("no item came out %s: the seeds do not reach it", outcome)
		}
	}
	t.Logf("%d seeds, %d items: %v; %d lie in between; disagreements: %d", seeds, seeds*len(agreements), told, between, disagree)
}

// answer is the one right answer where a measure lies somewhere in what the log resolves; open: a limit lies between.
func (a *agreement) answer(log resolved, limits []check.Bound, car func(string) float64) (want check.Outcome, open bool) {
	low, high := a.of(log.low, car), a.of(log.high, car)
	beyond := map[check.Outcome][2]bool{} // surely, maybe
	for _, b := range limits {
		slack := 1e-9 * max(1, math.Abs(b.Value)) // on the limit passes
		if b.Kind == "max" {
			beyond[b.Outcome] = [2]bool{low > b.Value+slack, high > b.Value+slack}
		} else {
			beyond[b.Outcome] = [2]bool{high < b.Value-slack, low < b.Value-slack}
		}
	}
	for _, o := range []check.Outcome{check.Fail, check.Warn} {
		switch surely, maybe := beyond[o][0], beyond[o][1]; {
		case surely:
			return o, false
		case maybe:
			return check.NoData, true
		}
	}
	return check.Pass, false
}

const tern3 = "../../testdata/cars/tern-3"

// lookAt judges the agreements' rules by a log.
func lookAt(t *testing.T, base *Car, csv []byte) map[string]check.Result {
	file := filepath.Join(t.TempDir(), "log.csv")
	if err := os.WriteFile(file, csv, 0o600); err != nil {
		t.Fatal(err)
	}
	defer os.Remove(file)
	c := *base
	evidence := *base.evidence
	c.evidence, c.opened = &evidence, new(*base.opened)
	c.evidence.Logs, c.logs, c.runners = nil, nil, nil
	c.inputs, c.faults, c.remarks = nil, nil, nil // no two goroutines append to one list
	c.openLog(t.Context(), file, wantedLog{file: "log.csv", kind: "run", run: 57})
	if len(c.logs) == 0 { // where a pair is too far apart, its log stands beside the run's
		t.Fatalf("the log was not let in: %v", c.faults)
	}
	out := map[string]check.Result{}
	for _, a := range agreements {
		r, err := c.rule(a.rule)
		if err != nil {
			t.Fatal(err)
		}
		got := r.Judge(t.Context(), c.evidence)
		if len(got) != 1 || got[0].Fault != nil {
			t.Fatalf("%s: %+v", a.rule, got)
		}
		out[a.rule] = got[0]
	}
	return out
}
