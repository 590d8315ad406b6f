package pack

import (
	"context"
	"math"
	"strings"
	"testing"

	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/expr"
	"github.com/paintmark/paintmark/internal/kernel"
)

// theRule loads a pack with one rule.
func theRule(t *testing.T, text string) *Rule {
	t.Helper()
	packs, faults := Load([]File{{"yard.yaml", []byte(text)}}, expr.Scope{Roots: roots(t)}, nil)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	return packs[0].Rules[0]
}

// logOf makes a log of kind run over the rule's own graph.
func logOf(t *testing.T, r *Rule, kind string, run int, steps map[string][]kernel.Step) Log {
	t.Helper()
	l, err := kernel.Steps(steps)
	if err != nil {
		t.Fatal(err)
	}
	runner := kernel.NewRunner(r.Pack.env.Graph(), l, kernel.Options{})
	return Log{Kind: kind, Answers: expr.OnLog(runner), From: check.From{Kind: "log", Run: run}}
}

func TestWhichLogAnswers(t *testing.T) {
	r := theRule(t, yard)
	load := kernel.Pulses(0, 5, 1)
	good := map[string][]kernel.Step{"oil_pressure": {{At: 0, Value: 4e5}}, "under_load": load}
	low := map[string][]kernel.Step{"oil_pressure": {{At: 0, Value: 2e5}}, "under_load": load}
	idle := map[string][]kernel.Step{"oil_pressure": {{At: 0, Value: 4e5}, {At: 30, Value: 4e5}}, "under_load": {{At: 0, Value: 0}}}
	for _, c := range []struct {
		name string
		logs []Log
		want check.Outcome
		says string
	}{
		{"none at hand", nil, check.NoData, "no log or run sheet at hand; take the run in"},
		{"only one of stands", []Log{logOf(t, r, "stands", 59, good)}, check.NoData, "a stands log cannot answer this; take in a run log"},
		{"the run's", []Log{logOf(t, r, "run", 59, good)}, check.Pass, "4.0 bar at 1.00 s, 3.5 bar min"},
		{"two of one run, the worse counts", []Log{logOf(t, r, "run", 59, good), logOf(t, r, "run", 59, low)}, check.Fail, "2 bar at 1.00 s, 3 bar min"},
		{"not exercised on one of two", []Log{logOf(t, r, "run", 59, idle), logOf(t, r, "run", 59, good)}, check.Pass, "4.0 bar at 1.00 s, 3.5 bar min"},
		{"not exercised", []Log{logOf(t, r, "run", 59, idle)}, check.NoData, "not exercised on run 59"},
		{"channel not logged", []Log{logOf(t, r, "run", 59, map[string][]kernel.Step{"under_load": load})}, check.NoData, "oil_pressure: not logged"},
	} {
		t.Run(c.name, func(t *testing.T) {
			results := r.Judge(context.Background(), &Evidence{Logs: c.logs, Run: 59})
			if len(results) != 1 {
				t.Fatalf("%d results", len(results))
			}
			res := results[0]
			if res.Outcome != c.want || res.Message != c.says {
				t.Errorf("got %s, %q; want %s, %q", res.Outcome, res.Message, c.want, c.says)
			}
			if res.Card.ID != "engine.oil-pressure" || res.Where.Line == 0 {
				t.Errorf("without its card or place: %+v", res)
			}
		})
	}
}

// A sample that is missing matters only where a limit lies between what is left.
func TestMissingSamplesCountByBounds(t *testing.T) {
	r := theRule(t, yard)
	nan := math.NaN()
	for _, c := range []struct {
		name     string
		pressure []float64 // bar, one a second, NaN: none
		want     check.Outcome
		note     string
	}{
		{"all seen", []float64{4, 4, 4, 4, 4, 4}, check.Pass, ""},
		{"one missing could have been anything", []float64{4, 4, nan, 4, 4, 4}, check.NoData, "the limit lies between; oil_pressure unseen"},
		{"one missing beside a fail changes nothing", []float64{4, 4, nan, 2, 4, 4}, check.Fail, "holds either way, oil_pressure unseen"},
		{"missing where it was not asked", []float64{nan, 4, 4, 4, 4, nan}, check.Pass, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			pa := make([]float64, len(c.pressure))
			for i, v := range c.pressure {
				pa[i] = v * 1e5
			}
			l, err := kernel.FromRows([]float64{0, 1, 2, 3, 4, 5}, 1, 1, map[string][]float64{"oil_pressure": pa, "under_load": {0, 1, 1, 1, 1, 0}})
			if err != nil {
				t.Fatal(err)
			}
			log := Log{Kind: "run", Answers: expr.OnLog(kernel.NewRunner(r.Pack.env.Graph(), l, kernel.Options{})), From: check.From{Kind: "log", Run: 7}}
			res := r.Judge(context.Background(), &Evidence{Logs: []Log{log}, Run: 7})[0]
			if res.Outcome != c.want || res.Note != c.note {
				t.Errorf("got %s, %q (%s); want %s, %q", res.Outcome, res.Note, res.Message, c.want, c.note)
			}
			if c.note != "" && (len(res.Unseen) == 0 || res.Unseen[0].Channel != "oil_pressure") {
				t.Errorf("unseen: %v", res.Unseen)
			}
		})
	}
}

func TestWhatAResultCarries(t *testing.T) {
	r := theRule(t, yard)
	log := logOf(t, r, "run", 59, map[string][]kernel.Step{
		"oil_pressure": {{At: 0, Value: 4e5}, {At: 3, Value: 3.2e5}, {At: 4, Value: 4e5}}, "under_load": kernel.Pulses(0, 5, 1),
	})
	res := r.Judge(context.Background(), &Evidence{Logs: []Log{log}, Run: 59})[0]
	switch {
	case res.Outcome != check.Warn || res.Message != "3.2 bar at 3.00 s, 3.5 bar min":
		t.Errorf("%s %s", res.Outcome, res.Message)
	case res.Measured == nil || res.Measured.Value != 3.2 || res.Measured.Unit != "bar":
		t.Errorf("measured %+v", res.Measured)
	case res.Limit == nil || res.Limit.Kind != "min" || res.Limit.Value != 3.5 || res.Limit.Outcome != check.Warn || res.Limit.Where.String() != "yard.yaml:9:3":
		t.Errorf("limit %+v", res.Limit)
	case res.Margin == nil || *res.Margin != -0.3:
		t.Errorf("in hand %v", res.Margin)
	case res.At == nil || res.At.Time != 3:
		t.Errorf("at %+v", res.At)
	case res.From.Run != 59 || res.From.Kind != "log":
		t.Errorf("from %+v", res.From)
	case len(res.Inputs) != 2 || res.Inputs[0].Path != "limits.least" || res.Inputs[0].Value != "3.0 bar":
		t.Errorf("inputs %+v", res.Inputs)
	}
}

// Who may accept can hang on the element; what it cannot work out lets nobody accept.
func TestAcceptByElement(t *testing.T) {
	r := theRule(t, strings.ReplaceAll(`pack: yard
version: 1.0.0
title: Parts
rules:
  - id: parts.life
    item: Part life
    system: parts
    each: {part: life.fitted}
    measure: part.first_limit.share
    unit: "%"
    fail: {above: percent(100.0)}
    accept: {fail: 'part.no_go_part ? "nobody" : "lead-engineer+engine"'}
    do: Change it.
    source: {kind: practice}
    examples:
      - shown: {life: {fitted: [{serial: A, no_go_part: false, first_limit: {share: 20 %}}]}}
        answer: pass
      - shown: {life: {fitted: [{serial: A, no_go_part: false, first_limit: {share: 120 %}}]}}
        answer: fail
      - {shown: {}, answer: no data}
`, "\t", " "))
	for _, c := range []struct{ noGo, want string }{{"true", "nobody"}, {"false", "lead-engineer engine"}, {"unknown", "nobody"}} {
		n := yaml(t, "shown: {life: {fitted: [{serial: A, no_go_part: "+c.noGo+", first_limit: {share: 120 %}}]}}")
		var f form
		res := r.Judge(context.Background(), r.shown(&f, n, roots(t)))[0]
		got := strings.Join(res.Acceptor().Hats, " ")
		if res.Acceptor().Nobody() {
			got = "nobody"
		}
		if len(f.faults) > 0 || res.Outcome != check.Fail || res.Position != "A" || got != c.want || res.Fault != nil {
			t.Errorf("no-go part %s: %s at %q accepted by %s, want %s %v", c.noGo, res.Outcome, res.Position, got, c.want, f.faults)
		}
	}
}

// A rule that is lenient about no data is not lenient about what is a warn at the least.
func TestLenientStaysOpenWhenAtLeastAWarn(t *testing.T) {
	r := theRule(t, strings.Replace(yard, "accept: {warn: [engine], fail: nobody}", "no-data: caution\n    accept: {warn: [engine], fail: [engine]}", 1))
	nan := math.NaN()
	for _, c := range []struct {
		name     string
		pressure []float64
		lenient  bool
	}{
		{"could be anything", []float64{4e5, 4e5, nan, 4e5}, true},
		{"a warn at the least", []float64{4e5, 3.2e5, nan, 4e5}, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			l, err := kernel.FromRows([]float64{0, 1, 2, 3}, 1, 1, map[string][]float64{"oil_pressure": c.pressure, "under_load": {1, 1, 1, 1}})
			if err != nil {
				t.Fatal(err)
			}
			log := Log{Kind: "run", Answers: expr.OnLog(kernel.NewRunner(r.Pack.env.Graph(), l, kernel.Options{}))}
			res := r.Judge(context.Background(), &Evidence{Logs: []Log{log}})[0]
			if res.Outcome != check.NoData || res.Card.Lenient != c.lenient || !r.Lenient {
				t.Errorf("%s (%s), lenient %v, want %v", res.Outcome, res.Message, res.Card.Lenient, c.lenient)
			}
		})
	}
}
