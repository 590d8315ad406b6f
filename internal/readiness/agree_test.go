package readiness

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"sync"
	"testing"

	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/demo"
)

// agreement pairs a rule with the model's own answer to the same measure. of turns the
// truth into what the rule measures; slack is what the rule's own smoothing may take away.
type agreement struct {
	rule, truth string
	of          func(v float64, car func(path string) float64) float64
	slack       float64
}

func same(v float64, _ func(string) float64) float64 { return v }

var agreements = []agreement{
	{"wing.close-time", demo.WingReturn, same, 0},
	{"hydraulics.shift-pressure", demo.ShiftPressure, same, 0},
	{"engine.oil-before-load", demo.OilAtLoad, same, 0},
	{"engine.oil-peak", demo.OilPeak, same, 0},
	{"engine.over-rev", demo.RevPeak, func(v float64, car func(string) float64) float64 { return v - car("engine.rev_limit")*30/math.Pi }, 0},
	{"cooling.water-peak", demo.WaterPeak, same, 0},
	{"turbo.boost-peak", demo.ManifoldPeak, func(v float64, car func(string) float64) float64 { return v - car("turbo.boost_max")/1e5 }, 0},
	{"gearbox.shift-time", demo.ShiftTime, func(v float64, _ func(string) float64) float64 { return v * 1000 }, 0},
	{"gearbox.oil-temp", demo.GearboxPeak, same, 2}, // the mean over 2 s of a peak
	{"fuel.rail-pressure", demo.FuelDifference, func(v float64, car func(string) float64) float64 { return v * 1e5 / car("engine.fuel_pressure") * 100 }, 0},
}

// TestItemsAgreeWithTheModel drives the model with random faults and holds what the report
// says against what the model knows. A fault beyond a limit by more than the log resolves
// must be found, one inside must pass. In between, an answer may be anything but a lie: no
// data where time decides, but noise and rounding of a value are not declared anywhere, so a
// value is taken at its face. The log says how many were decided there.
func TestItemsAgreeWithTheModel(t *testing.T) {
	seeds := 200
	if testing.Short() {
		seeds = 12
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
	between, decided := 0, 0
	next := make(chan uint64)
	var workers sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		workers.Go(func() {
			for seed := range next {
				run := demo.RandomRun(seed)
				rec := run.Record()
				results := lookAt(t, base, rec.CSV())
				for _, a := range agreements {
					r, truth := results[a.rule], rec.Truth[a.truth]
					if wrong := a.lie(r, truth, limits[a.rule], car); wrong != "" {
						t.Errorf("seed %d, %s: %s; item: %s; truth %+v; faults %+v", seed, a.rule, wrong, r.Message, truth, run.Faults)
					}
					mu.Lock()
					told[r.Outcome]++
					if a.between(truth, limits[a.rule], car) {
						between++
						if r.Outcome != check.NoData {
							decided++
						}
					}
					mu.Unlock()
				}
			}
		})
	}
	for seed := range uint64(seeds) {
		next <- seed + 1
	}
	close(next)
	workers.Wait()
	for _, outcome := range []check.Outcome{check.Pass, check.Warn, check.Fail, check.NoData} {
		if told[outcome] == 0 {
			t.Errorf("no item came out %s: the seeds do not reach it", outcome)
		}
	}
	t.Logf("%d seeds, %d items: %v; %d lie in between, %d of them decided", seeds, seeds*len(agreements), told, between, decided)
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
	if len(c.logs) != 1 {
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

// between says that the logged samples may stand on either side of one of the limits.
func (a *agreement) between(truth demo.Extreme, limits []check.Bound, car func(string) float64) bool {
	low, high := a.of(truth.Low, car)-a.slack, a.of(truth.High, car)
	return slices.ContainsFunc(limits, func(b check.Bound) bool { return low < b.Value && b.Value < high })
}

// lie says what an item tells that the model knows to be untrue, "" for nothing.
func (a *agreement) lie(r check.Result, truth demo.Extreme, limits []check.Bound, car func(string) float64) string {
	low, high := a.of(truth.Low, car)-a.slack, a.of(truth.High, car)
	beyond := func(b check.Bound) (surely, maybe bool) {
		if b.Kind == "max" {
			return low > b.Value, high > b.Value
		}
		return high < b.Value, low < b.Value
	}
	var failSure, failMaybe, warnSure, warnMaybe bool
	for _, b := range limits {
		sure, maybe := beyond(b)
		switch b.Outcome {
		case check.Fail:
			failSure, failMaybe = sure, maybe
		case check.Warn:
			warnSure, warnMaybe = sure, maybe
		}
	}
	warnSure, warnMaybe = warnSure || failSure, warnMaybe || failMaybe
	switch r.Outcome {
	case check.Pass:
		if warnSure {
			return "passes, and is beyond a limit"
		}
	case check.Warn:
		if failSure {
			return "warns, and is beyond the fail limit"
		}
		if !warnMaybe {
			return "warns, and is inside every limit"
		}
	case check.Fail:
		if !failMaybe {
			return "fails, and is inside the limit"
		}
	case check.NoData:
		if !truth.Blind && failSure == failMaybe && warnSure == warnMaybe && truth.Seen > 0 && !math.IsInf(truth.Value, 0) {
			return "no data, and everything was there to see"
		}
	default:
		return fmt.Sprintf("came out %s", r.Outcome)
	}
	return ""
}
