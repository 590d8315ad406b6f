package expr

import (
	"math"
	"testing"
	"time"

	"github.com/google/cel-go/cel"

	"github.com/paintmark/paintmark/internal/kernel"
	"github.com/paintmark/paintmark/internal/schema"
)

// The two-channel predicate three ways over one predictable log, best of several turns each:
// this package, a hand-written loop, and bare cel-go once per sample. `go test -bench Predicate`
// prints ns per sample; only their ratios mean anything on a machine that does other things.

const predicateRows = 1_800_000 // half an hour at 1,000 Hz

func predicateLog() *kernel.Log {
	l := &kernel.Log{Times: make([]float64, predicateRows), End: predicateRows / 1000.0, Columns: map[string]*kernel.Column{}}
	a, b := make([]float64, predicateRows), make([]float64, predicateRows)
	for i := range l.Times {
		l.Times[i] = float64(i) / 1000
		a[i] = 500 + 300*math.Sin(float64(i)/40_000)
		b[i] = 4e5 + 1e5*math.Cos(float64(i)/60_000)
	}
	l.Columns["rpm"] = &kernel.Column{Values: a, Period: 0.001, Hold: 0.003}
	l.Columns["oil_pressure"] = &kernel.Column{Values: b, Period: 0.001, Hold: 0.003}
	return l
}

// quickest reports the best turn: others' work makes a turn slower, never quicker.
func quickest(b *testing.B, samples int, turn func()) {
	least := math.Inf(1)
	for b.Loop() {
		start := time.Now()
		turn()
		least = min(least, time.Since(start).Seconds())
	}
	b.ReportMetric(least*1e9/float64(samples), "ns/sample")
}

func BenchmarkPredicate(b *testing.B) {
	e := testEnv(b)
	x := compile(b, e, "log.count(rpm < rpm(4500.0) || oil_pressure > bar(3.8)) >= 0", Truth)
	log := predicateLog()
	runner := kernel.NewRunner(e.Graph(), log, kernel.Options{})
	x.Eval(b.Context(), Inputs{Roots: map[string]*schema.Value{}, Log: OnLog(runner)}) // lays the log out once, as a check does
	texts := []string{"4501.0", "4502.0", "4503.0", "4504.0", "4505.0", "4506.0", "4507.0", "4508.0", "4509.0", "4510.0"}
	exprs := make([]*Expr, 0, 200)
	for i := range 20 {
		for _, t := range texts {
			exprs = append(exprs, compile(b, e, "log.count(rpm < rpm("+t+") || oil_pressure > bar(3."+string(rune('0'+i/2))+string(rune('1'+i%2*4))+")) >= 0", Truth))
		}
	}
	turn := 0
	quickest(b, predicateRows, func() { // a new predicate each turn: an answer is kept once found
		got := exprs[turn%len(exprs)].Eval(b.Context(), Inputs{Roots: map[string]*schema.Value{}, Log: OnLog(runner)})
		if got.Fault != nil || got.Truth != True {
			b.Fatal(got.Truth, got.Fault)
		}
		if turn++; turn == len(exprs) {
			turn, runner = 0, kernel.NewRunner(e.Graph(), log, kernel.Options{})
		}
	})
}

func BenchmarkPredicateByHand(b *testing.B) {
	log := predicateLog()
	rpm, oil := log.Columns["rpm"].Values, log.Columns["oil_pressure"].Values
	total := 0
	quickest(b, predicateRows, func() {
		before := false
		for i := range rpm {
			now := rpm[i] < 471.2 || oil[i] > 3.8e5
			if now && !before {
				total++
			}
			before = now
		}
	})
	if total == 0 {
		b.Fatal("never true")
	}
}

func BenchmarkPredicateByCELAlone(b *testing.B) {
	env, err := cel.NewEnv(cel.Variable("rpm", cel.DoubleType), cel.Variable("oil_pressure", cel.DoubleType))
	if err != nil {
		b.Fatal(err)
	}
	checked, iss := env.Compile("rpm < 471.2 || oil_pressure > 380000.0")
	if iss.Err() != nil {
		b.Fatal(iss.Err())
	}
	program, err := env.Program(checked)
	if err != nil {
		b.Fatal(err)
	}
	log := predicateLog()
	rpm, oil := log.Columns["rpm"].Values, log.Columns["oil_pressure"].Values
	const some = 100_000
	row := map[string]any{}
	quickest(b, some, func() {
		for i := range some {
			row["rpm"], row["oil_pressure"] = rpm[i], oil[i]
			if _, _, err := program.Eval(row); err != nil {
				b.Fatal(err)
			}
		}
	})
}
