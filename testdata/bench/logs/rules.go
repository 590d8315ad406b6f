package main

import (
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"time"

	"github.com/paintmark/paintmark/internal/kernel"
	"github.com/paintmark/paintmark/internal/runlog"
	"github.com/paintmark/paintmark/internal/units"
)

// manyRules is how many rules a look at a large log has; each channel serves some ten of them.
const manyRules = 200

// scaleOf is how far column i swings, in the unit it is declared in.
func scaleOf(i int) float64 { return [...]float64{5000, 10, 100, 250, 1}[i%5] } // as generate makes them

func unitOf(i int) string { return [...]string{"rpm", "bar", "°C", "km/h", "%"}[i%5] }

// logRule is one rule over two columns: for our kernels and as a loop here, in CEL in check.go.
type logRule struct {
	a, b int // columns
	kind int
}

func (r logRule) limit(share float64) float64 { return share * scaleOf(r.a) }

func theRules(n int) []logRule {
	rules := make([]logRule, n)
	for i := range rules {
		a := 1 + i%(columns-1)
		b := 1 + (7*i+3)%(columns-1)
		if b == a {
			b = 1 + a%(columns-1)
		}
		rules[i] = logRule{a, b, i % 5}
	}
	return rules
}

// kernels is the rule's aggregate.
func (r logRule) kernels(g *kernel.Graph, unit []units.Unit) kernel.Agg {
	a, b := g.Channel(fmt.Sprint("c", r.a)), g.Channel(fmt.Sprint("c", r.b))
	limit := func(share float64) kernel.Node { return g.Const(unit[r.a].SI(r.limit(share))) }
	half := g.Const(unit[r.b].SI(0.4 * scaleOf(r.b)))
	switch r.kind {
	case 0:
		return g.Aggregate(kernel.Max, 0, a)
	case 1:
		return g.Aggregate(kernel.Total, 0, g.Op(kernel.And, g.Op(kernel.More, a, limit(0.6)), g.Op(kernel.Less, b, half)))
	case 2:
		return g.Aggregate(kernel.Longest, 0, g.Op(kernel.More, a, limit(0.9)))
	case 3:
		return g.Aggregate(kernel.Max, 0, a, g.Op(kernel.More, b, half))
	default:
		return g.Aggregate(kernel.Mean, 0, a, g.Op(kernel.Less, b, half))
	}
}

// loop is the rule written by hand over the same columns, in their own units.
func (r logRule) loop(times []float64, columns [][]float64) float64 {
	a, b := columns[r.a], columns[r.b][:len(columns[r.a])]
	times = times[:len(a)]
	step := times[1] - times[0]
	end := func(i int) float64 {
		if i+1 < len(times) {
			return times[i+1]
		}
		return times[i] + step
	}
	half := 0.4 * scaleOf(r.b)
	switch r.kind {
	case 0:
		most := math.Inf(-1)
		for _, v := range a {
			if v > most {
				most = v
			}
		}
		return most
	case 1:
		limit, total := r.limit(0.6), 0.0
		for i, v := range a {
			if v > limit && b[i] < half {
				total += end(i) - times[i]
			}
		}
		return total
	case 2:
		limit, longest, from := r.limit(0.9), 0.0, -1
		for i, v := range a {
			if v > limit {
				if from < 0 {
					from = i
				}
				longest = max(longest, end(i)-times[from])
			} else {
				from = -1
			}
		}
		return longest
	case 3:
		most := math.Inf(-1)
		for i, v := range a {
			if b[i] > half && v > most {
				most = v
			}
		}
		return most
	default:
		sum, weight := 0.0, 0.0
		for i, v := range a {
			if b[i] < half {
				d := end(i) - times[i]
				sum += v * d
				weight += d
			}
		}
		return sum / weight
	}
}

// keptLog is the log as the warm cache has it.
func keptLog(dir string) (read func() (*runlog.Raw, error), err error) {
	cache := runlog.NewCache(filepath.Join(dir, "cache"), 0)
	stored, err := cache.Digest(filepath.Join(dir, csvName), false)
	if err != nil {
		return nil, err
	}
	read = func() (*runlog.Raw, error) {
		raw, faults := cache.Read(context.Background(), stored, runlog.Options{})
		return raw, faults.Err()
	}
	_, err = read() // warm it
	return read, err
}

// rulesOurs answers rules from the warm cache: reading, checksums and cleaning included.
func rulesOurs(dir string, n int) (string, error) {
	read, err := keptLog(dir)
	if err != nil {
		return "", err
	}
	channels := make([]runlog.Channel, columns-1)
	unit := make([]units.Unit, columns)
	for i := 1; i < columns; i++ {
		channels[i-1] = runlog.Channel{Name: fmt.Sprint("c", i), InLog: fmt.Sprint("c", i), Unit: unitOf(i)}
		unit[i], _ = units.Lookup(unitOf(i))
	}
	start := time.Now()
	raw, err := read()
	if err != nil {
		return "", err
	}
	log, faults := runlog.Clean(raw, channels)
	if len(faults) > 0 {
		return "", faults.Err()
	}
	cleaned := time.Now()
	g := kernel.NewGraph()
	r := kernel.NewRunner(g, log, kernel.Options{AsRead: true}) // spells as sampled, as the loops have them
	rules := theRules(n)
	var aggs []kernel.Agg
	for _, rule := range rules {
		aggs = append(aggs, rule.kernels(g, unit))
	}
	r.Want(aggs...)
	answers := make([]float64, n)
	for i, a := range aggs {
		answer, err := r.Answer(context.Background(), a)
		if err != nil {
			return "", err
		}
		if answer.Low != answer.High {
			return "", fmt.Errorf("rule %d: between %v and %v", i, answer.Low, answer.High)
		}
		answers[i] = answer.Low
		if rules[i].kind != 1 && rules[i].kind != 2 { // no time
			answers[i] = unit[rules[i].a].Of(answers[i])
		}
	}
	worked = time.Since(start)
	if os.Getenv("PARTS") != "" {
		fmt.Fprintln(os.Stderr, "read and cleaned", cleaned.Sub(start), "answered", time.Since(cleaned))
	}
	return inWords(answers), nil
}

// rulesByHand does the same in loops over columns that are in memory already, the rules dealt out to all
// processors.
func rulesByHand(dir string) (string, error) {
	read, err := keptLog(dir)
	if err != nil {
		return "", err
	}
	raw, err := read()
	if err != nil {
		return "", err
	}
	times, lists := raw.AllTimes(), make([][]float64, columns)
	for i := 1; i < columns; i++ {
		lists[i] = raw.Columns[i-1].Values
	}
	start := time.Now()
	rules := theRules(manyRules)
	answers := make([]float64, len(rules))
	var group sync.WaitGroup
	workers := runtime.GOMAXPROCS(0)
	for k := range workers {
		group.Go(func() {
			for i := k; i < len(rules); i += workers {
				answers[i] = rules[i].loop(times, lists)
			}
		})
	}
	group.Wait()
	worked = time.Since(start)
	return inWords(answers), nil
}

func inWords(answers []float64) string {
	var b strings.Builder
	for _, x := range answers {
		fmt.Fprintf(&b, "%.6g,", x)
	}
	return b.String()
}
