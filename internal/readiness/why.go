package readiness

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/expr"
	"github.com/paintmark/paintmark/internal/kernel"
	"github.com/paintmark/paintmark/internal/pack"
	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
	"github.com/paintmark/paintmark/internal/units"
)

// Why takes one item of a rule apart: the one that keeps the car from most, or the one at
// a position. spans is how many parts the log is folded into for drawing. An unknown rule
// or position is an error that names the nearest one.
func (c *Car) Why(ctx context.Context, id, position string, spans int) (*check.Why, error) {
	var r *pack.Rule
	var asked check.Check
	if k := c.pluginCheck(id); k != nil {
		asked = c.pluginCheckOf(k)
	} else {
		var err error
		if r, err = c.rule(id); err != nil {
			return nil, err
		}
		asked = r.Check(c.evidence)
	}
	results := runOne(ctx, &asked, deadline)
	c.finish(results)
	items := weigh(results, c.worn)
	i := 0
	if position != "" {
		if i = slices.IndexFunc(items, func(it check.Item) bool { return it.Position == position }); i < 0 {
			var there []string
			for _, it := range items {
				there = append(there, it.Position)
			}
			return nil, fmt.Errorf("%s has no position %q; there are %s", id, position, strings.Join(there, ", "))
		}
	}
	out := &check.Why{Item: items[i]}
	for k, it := range items {
		if k != i {
			out.Others = append(out.Others, it.Position+" "+string(it.Outcome))
		}
	}
	if r == nil { // a plugin has said all it has to say
		return out, nil
	}
	e, ok := r.Explain(ctx, c.evidence, out.Item.Position)
	if !ok {
		return out, nil // an `each` whose list is not known: the item has said so
	}
	unit := c.tongue.of(e.Unit)
	for _, p := range e.Parts {
		if kind, side, isBound := strings.Cut(p.Name, " "); isBound && kind != "accept" {
			out.Limits = append(out.Limits, c.bound(&p, kind, side, &e, unit))
			continue
		}
		part := check.Part{Name: p.Name, Text: p.Text, Where: p.Where}
		for _, s := range p.Steps {
			part.Steps = append(part.Steps, c.step(&s, &e, unit))
		}
		out.Parts = append(out.Parts, part)
	}
	out.Series = c.series(&out.Item, &e, unit, spans)
	return out, nil
}

func (c *Car) rule(id string) (*pack.Rule, error) {
	var all []string
	for _, p := range c.packs {
		for _, r := range p.Rules {
			if r.ID == id {
				return r, nil
			}
			all = append(all, r.ID)
		}
	}
	if len(all) == 0 {
		return nil, fmt.Errorf("no rules in use, so none is called %s; see what check says", id)
	}
	if n := source.Nearest(id, all); n != "" {
		return nil, fmt.Errorf("no rule %s in use; did you mean %s", id, n)
	}
	var same []string
	system, _, _ := strings.Cut(id, ".")
	for _, a := range all {
		if strings.HasPrefix(a, system+".") {
			same = append(same, a)
		}
	}
	if len(same) > 0 {
		return nil, fmt.Errorf("no rule %s in use; of %s there are %s", id, system, strings.Join(same, ", "))
	}
	return nil, fmt.Errorf("no rule %s in use; check --all lists what is looked at, check --format json names each rule", id)
}

// bound is one limit the measure is held against.
func (c *Car) bound(p *pack.Part, kind, side string, e *pack.Explanation, unit units.Unit) check.Bound {
	b := check.Bound{Text: p.Text, Due: kind == "due", Limit: check.Limit{Kind: "min", Value: math.NaN(), Unit: unit.Symbol, Where: p.Where}}
	if side == "above" {
		b.Kind = "max"
	}
	if !b.Due {
		b.Outcome = check.Outcome(kind)
	}
	if n := len(p.Steps); n > 0 && !p.Steps[n-1].Value.Unknown {
		b.Value = unit.Of(p.Steps[n-1].Value.Low)
	}
	for _, l := range e.Limits {
		if strings.Contains(p.Text, "limits."+l.Name) {
			b.Source, b.Where = l.Source, l.Where
			if l.Overridden.File != "" {
				b.Where = l.Overridden
			}
		}
	}
	return b
}

// step puts one sub-expression into words.
func (c *Car) step(s *expr.Step, e *pack.Explanation, unit units.Unit) check.Step {
	out := check.Step{Text: s.Text, Value: c.words(s.Value, unit)}
	for _, in := range e.Result.Inputs {
		if in.Path == s.Text && in.Where.File != "" {
			out.Remarks = append(out.Remarks, in.Where.String())
		}
	}
	if s.Call != nil && s.Call.OK && !math.IsNaN(s.Call.Answer.At) {
		words := "at " + strconv.FormatFloat(math.Round(s.Call.Answer.At*1e4)/1e4, 'f', -1, 64) + " s"
		var there []string
		for _, sample := range s.Samples {
			there = append(there, sample.Channel+" "+c.sampleWords(sample))
		}
		if len(there) > 0 {
			words += ": " + strings.Join(there, ", ")
		}
		out.Remarks = append(out.Remarks, words)
	}
	for _, g := range s.Gaps {
		if g.Vague && slices.ContainsFunc(s.Samples, func(there expr.Sample) bool { return there.Channel == g.Path }) {
			continue // said with its sample
		}
		words := g.Path + " not known"
		if g.Why != "" {
			words = g.Path + ": " + g.Why
		}
		if !slices.Contains(out.Remarks, words) {
			out.Remarks = append(out.Remarks, words)
		}
	}
	return out
}

// words is a value as people say it.
func (c *Car) words(v *schema.Value, unit units.Unit) string {
	if v == nil || v.Unknown {
		return "not known"
	}
	switch v.Type.Kind {
	case schema.YesNo:
		return yesNo(v.Bool)
	case schema.Integer:
		return strconv.FormatInt(v.Int, 10)
	case schema.Number, schema.Quantity:
		return c.between(v.Low, v.High, v.Type, unit)
	case schema.Date:
		return v.Time.Format("2 Jan 2006")
	case schema.Instant:
		return v.Time.In(zone(c.evidence.Roots["plan"])).Format("2 Jan 2006 15:04")
	}
	return v.Text
}

func (c *Car) sampleWords(s expr.Sample) string {
	switch {
	case s.Unit.Kind == schema.YesNo && s.Known:
		return yesNo(s.Low != 0)
	case !s.Known && math.IsInf(s.Low, -1) && math.IsInf(s.High, 1) || s.Unit.Kind == schema.YesNo:
		return "not seen"
	}
	words := c.reading(s)
	if ch := c.folder.Channel(s.Channel); ch != nil && ch.Within > 0 {
		words += " within " + c.between(ch.Within, ch.Within, &schema.Type{Kind: schema.Quantity, Unit: ch.Type}, c.logged(s).AsDifference())
	}
	return words
}

func (c *Car) reading(s expr.Sample) string {
	unit := c.logged(s)
	if u := unit.Type; u == units.Number && unit.Symbol == "%" { // a share has no unit of its own; the channel has
		return c.between(s.Low, s.High, &schema.Type{Kind: schema.Quantity, Unit: u}, unit)
	}
	return c.between(s.Low, s.High, s.Unit, unit)
}

// logged is the unit of a channel as people read it: the team's, or the one it is logged in.
func (c *Car) logged(s expr.Sample) units.Unit {
	if ch := c.folder.Channel(s.Channel); ch != nil {
		if u, err := units.Lookup(ch.Unit); err == nil {
			return c.tongue.of(u)
		}
	}
	return c.usual(s.Unit.Unit)
}

func yesNo(b bool) string {
	if b {
		return "yes"
	}
	return "no"
}

// between writes a number or its bounds, in the unit given if it is one of that quantity,
// else in the one people use.
func (c *Car) between(low, high float64, t *schema.Type, unit units.Unit) string {
	if t.Kind == schema.Number || t.Unit == units.Number && unit.Symbol == "" {
		if low == high {
			return strconv.FormatFloat(low, 'g', 5, 64)
		}
		return strconv.FormatFloat(low, 'g', 5, 64) + " to " + strconv.FormatFloat(high, 'g', 5, 64)
	}
	if unit.Symbol == "" || unit.Type.Dim != t.Unit.Dim {
		unit = c.usual(t.Unit)
	}
	if t.Unit.Kind == units.Difference {
		unit = unit.AsDifference()
	}
	say := func(si float64) string {
		if unit.Symbol == "" {
			return strconv.FormatFloat(si, 'g', 5, 64)
		}
		return units.Format(si, unit, -1)
	}
	switch {
	case low == high:
		return say(low)
	case math.IsInf(low, -1):
		return "at most " + say(high)
	case math.IsInf(high, 1):
		return "at least " + say(low)
	}
	if unit.Symbol != "" {
		return strings.TrimSuffix(say(low), " "+unit.Symbol) + " to " + say(high)
	}
	return say(low) + " to " + say(high)
}

// usual is the unit people use for a quantity: the team's own, or the first that fits.
func (c *Car) usual(t units.Type) units.Unit {
	for _, symbol := range units.For(t) {
		u, err := units.Lookup(symbol)
		if err == nil {
			return c.tongue.of(u)
		}
	}
	return units.Unit{}
}

// series is what there is to draw: the decisive log call's own values, with the samples
// that counted marked, or, where it folds yes and no, the channel beneath it, close to
// where the answer stands.
func (c *Car) series(it *check.Item, e *pack.Explanation, unit units.Unit, spans int) *check.Series {
	runner := c.runnerOf(e.Log)
	s, whole := decisive(e)
	if runner == nil || s == nil || len(s.Call.Operands) == 0 {
		return nil
	}
	log := c.logOf(runner)
	out := &check.Series{From: log.Time(0), To: log.End, Unseen: it.Unseen}
	x := s.Call.Operands[0]
	numbers := c.graph.Kind(x) == kernel.Number
	when := kernel.NoNode
	switch {
	case numbers && whole && unit.Symbol != "" && !addsUp(s.Text):
		out.Name, out.Unit = operandText(s.Text), unit.Symbol
		for _, p := range e.Parts {
			if kind, side, isBound := strings.Cut(p.Name, " "); isBound && (kind == "fail" || kind == "warn") {
				if b := c.bound(&p, kind, side, e, unit); !math.IsNaN(b.Value) {
					out.Limits = append(out.Limits, b.Limit)
				}
			}
		}
		if len(s.Call.Operands) > 1 {
			when = s.Call.Operands[1]
		}
	default:
		sample := firstNumber(s.Samples)
		if ch := c.folder.Channel(operandText(s.Text)); sample == nil && ch != nil {
			sample = &expr.Sample{Channel: ch.Name, Unit: &schema.Type{Kind: schema.Quantity, Unit: ch.Type}}
		}
		if sample == nil {
			return nil
		}
		if !numbers {
			when = x
		}
		x = c.graph.Channel(sample.Channel)
		unit = c.logged(*sample)
		out.Name, out.Unit = sample.Channel, unit.Symbol
		if at := s.Call.Answer.At; !math.IsNaN(at) && !numbers {
			room := max(1, 2*s.Call.Answer.Low)
			if math.IsInf(room, 0) || math.IsNaN(room) {
				room = 5
			}
			out.From, out.To = max(out.From, at-room), min(out.To, at+room)
		}
	}
	buckets, err := runner.Values(x, out.From, out.To, spans)
	if err != nil || len(buckets) == 0 {
		return nil
	}
	of := func(si float64) float64 {
		if unit.Symbol == "" {
			return si
		}
		return unit.Of(si)
	}
	out.Spans = spread(buckets, out.From, out.To, spans, func(b *kernel.Bucket, s *check.Span) {
		s.Missing = s.Missing || b.Missing
		if !b.Seen {
			return
		}
		low, high := of(b.Low), of(b.High)
		if s.Seen {
			low, high = min(low, s.Low), max(high, s.High)
		}
		s.Low, s.High, s.Seen = low, high, true
	}, make([]check.Span, spans))
	if when != kernel.NoNode {
		if buckets, err := runner.Values(when, out.From, out.To, spans); err == nil {
			out.Counted = true
			spread(buckets, out.From, out.To, spans, func(b *kernel.Bucket, s *check.Span) { s.Counts = s.Counts || b.Seen && b.High > 0 }, out.Spans)
		}
	}
	if at := s.Call.Answer.At; !math.IsNaN(at) && at >= out.From && at <= out.To {
		if low, high, known := runner.Sample(x, at); known && low == high {
			out.Worst = &check.Mark{At: check.At{Time: at, Within: s.Call.Answer.Within}, Value: of(low)}
		}
	}
	return out
}

// spread hands each bucket to every span of equal length that it touches.
func spread(buckets []kernel.Bucket, from, to float64, spans int, put func(*kernel.Bucket, *check.Span), out []check.Span) []check.Span {
	place := func(t float64) int { return min(spans-1, max(0, int((t-from)/(to-from)*float64(spans)))) }
	for i := range buckets {
		b := &buckets[i]
		last := place(math.Nextafter(b.To, b.From))
		for k := place(b.From); k <= max(last, place(b.From)); k++ {
			put(b, &out[k])
		}
	}
	return out
}

// decisive is the log call that decided the item: the last one asked of its measure, its
// truth, or what must have happened. whole says that the measure is that call and nothing else.
func decisive(e *pack.Explanation) (s *expr.Step, whole bool) {
	for _, name := range []string{"measure", "holds", "seen", "applies"} {
		for _, p := range e.Parts {
			if p.Name != name {
				continue
			}
			for i := range p.Steps {
				if p.Steps[i].Call != nil && p.Steps[i].Call.OK && (s == nil || !math.IsNaN(p.Steps[i].Call.Answer.At)) {
					s, whole = &p.Steps[i], name == "measure" && p.Steps[i].Text == p.Text
				}
			}
		}
		if s != nil {
			return s, whole
		}
	}
	return nil, false
}

func firstNumber(samples []expr.Sample) *expr.Sample {
	i := slices.IndexFunc(samples, func(s expr.Sample) bool { return s.Unit.Kind == schema.Quantity || s.Unit.Kind == schema.Number })
	if i < 0 {
		return nil
	}
	return &samples[i]
}

// addsUp: what the call comes to is not of the quantity that it is taken over.
func addsUp(call string) bool {
	return strings.HasPrefix(call, "log.integral(") || strings.HasPrefix(call, "log.damage(")
}

// operandText is the first argument of a log call as written: what is drawn.
func operandText(call string) string {
	_, args, ok := strings.Cut(call, "(")
	if !ok {
		return call
	}
	depth := 0
	for i, r := range args {
		switch {
		case strings.ContainsRune("([{", r):
			depth++
		case r == ',' && depth == 0, r == ')' && depth == 0:
			return strings.TrimSpace(args[:i])
		case strings.ContainsRune(")]}", r):
			depth--
		}
	}
	return args
}

func (c *Car) runnerOf(log *pack.Log) *kernel.Runner {
	if log == nil {
		return nil
	}
	for i := range c.evidence.Logs {
		if &c.evidence.Logs[i] == log || c.evidence.Logs[i].Answers == log.Answers {
			return c.runners[i]
		}
	}
	return nil
}

func (c *Car) logOf(r *kernel.Runner) *kernel.Log {
	return c.logs[slices.Index(c.runners, r)].data
}

// of is the unit the team speaks in for what u measures, or u itself.
func (t tongue) of(u units.Unit) units.Unit {
	if u.Symbol == "" {
		return u
	}
	if i := slices.IndexFunc(t, func(to units.Unit) bool { return alike(u, to) }); i >= 0 && u.Symbol != "K" {
		return t[i]
	}
	return u
}
