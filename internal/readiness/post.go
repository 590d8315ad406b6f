package readiness

import (
	"context"
	"math"
	"slices"
	"strconv"
	"sync"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/expr"
	"github.com/paintmark/paintmark/internal/kernel"
	"github.com/paintmark/paintmark/internal/pack"
)

// Posted is what a run sheet keeps of a look over the car by the run's own logs.
type Posted struct {
	// Outcomes are those of the items that apply, in the order of the rules.
	Outcomes []PostedOutcome
	// Measures are the values of the rules that measure, in the order of the rules.
	Measures []PostedMeasure
	// Answers are what every log.* call came to.
	Answers []PostedAnswer
}

// PostedOutcome is what one item, by check.Result.Name, came to. Of a no-go item nobody may
// accept the fail.
type PostedOutcome struct {
	Name    string
	NoGo    bool
	Outcome check.Outcome
}

// PostedMeasure is one measure as a run sheet writes it: "5.39 s", or "5.36 s..5.42 s" where
// it is known only between, with one end left open where nothing bounds it.
type PostedMeasure struct{ Name, Value string }

// Post looks over the car by the logs of a run that is being taken in. The folder is the one
// that there will be once its sheet is written. Items that could not be worked out are left
// out; what is wrong with them is for the look that follows to tell.
func (t *Taken) Post(ctx context.Context, dir string, folder *car.Folder, no int, options Options) Posted {
	c := &Car{opened: withPacks(dir, folder, nil), options: options, asOf: folder.AsOf, handing: new(sync.Mutex)}
	roots := folder.Roots(c.asOf)
	sheet, _ := c.lifeSheet(ctx, c.asOf, options.Logs)
	roots["life"] = sheet.Value
	c.evidence = &pack.Evidence{Roots: roots, Run: no, Signatures: signatures(folder, c.asOf), Diary: diary(folder, c.asOf)}
	for _, l := range t.opened {
		of := *l
		of.run = no
		c.letAnswer(&of)
	}
	c.openPlugins(ctx)
	c.health(ctx)
	q := newQuestions(folder)
	var keepers []*keeper
	for i := range c.evidence.Logs {
		log := &c.evidence.Logs[i]
		k := &keeper{Answers: log.Answers, questions: q, kept: map[string]kernel.Answer{}}
		keepers, log.Answers = append(keepers, k), k
	}
	rules := c.plan()
	c.warm(ctx)
	var posted Posted
	for _, r := range slices.Concat(c.judge(ctx, rules), c.sensorsSeen(), c.found, runChecks(ctx, c.pluginChecks(), deadline)) {
		if r.Fault != nil || r.Outcome == check.NotApplicable {
			continue
		}
		posted.Outcomes = append(posted.Outcomes, PostedOutcome{r.Name(), r.Card.NoGo(), r.Outcome})
		if r.Measured != nil {
			posted.Measures = append(posted.Measures, PostedMeasure{r.Name(), measureText(r.Measured)})
		}
	}
	for i, k := range keepers {
		log := &c.evidence.Logs[i]
		var asks []expr.Ask
		for _, r := range rules {
			asks = append(asks, r.Asks(ctx, c.evidence, log)...)
		}
		posted.Answers = append(posted.Answers, k.posted(ctx, c.graph, log.Kind, asks)...)
	}
	return posted
}

func measureText(m *check.Measured) string {
	if m.Low == m.High {
		return valueText(m.Value, m.Unit)
	}
	return valueText(m.Low, m.Unit) + ".." + valueText(m.High, m.Unit)
}

// valueText writes a value in its unit; "" for one that nothing bounds.
func valueText(v float64, unit string) string {
	if math.IsInf(v, 0) || math.IsNaN(v) {
		return ""
	}
	s := strconv.FormatFloat(v, 'g', -1, 64)
	if unit == "" || unit == "1" {
		return s
	}
	return s + " " + unit
}

// judge answers rules on the evidence, in one pass over each log.
func (c *Car) judge(ctx context.Context, rules []*pack.Rule) []check.Result {
	c.announce(ctx, rules)
	checks := make([]check.Check, len(rules))
	for i, r := range rules {
		checks[i] = r.Check(c.evidence)
	}
	return runChecks(ctx, checks, deadline)
}
