package pack

import (
	"context"
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/expr"
	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
)

// Check binds a rule to evidence; its Run may be called concurrently with others.
func (r *Rule) Check(ev *Evidence) check.Check {
	return check.Check{Card: r.Card, Run: func(ctx context.Context) []check.Result { return r.Judge(ctx, ev) }}
}

// Judge gives the rule's results on the evidence, one per element of its `each`.
func (r *Rule) Judge(ctx context.Context, ev *Evidence) []check.Result {
	items, stopped := r.items(ctx, ev)
	if stopped != nil {
		return []check.Result{stopped.result()}
	}
	out := make([]check.Result, len(items))
	for i, it := range items {
		out[i] = r.judge(ctx, ev, it).result()
	}
	return out
}

// item is one thing a rule is judged on: the car, or one element of `each`.
type item struct {
	position string
	roots    map[string]*schema.Value
}

// items lists what the rule is judged on. Where the list of an `each` is unknown, empty
// or not fitted there is one judgement instead.
func (r *Rule) items(ctx context.Context, ev *Evidence) ([]item, *judgement) {
	roots := make(map[string]*schema.Value, len(ev.Roots)+2)
	maps.Copy(roots, ev.Roots)
	roots["limits"] = r.Pack.limits
	if r.each == nil {
		return []item{{roots: roots}}, nil
	}
	list := r.each.Eval(ctx, expr.Inputs{Roots: roots})
	if j := r.noElements(ev, list); j != nil {
		return nil, j
	}
	out := make([]item, len(list.List))
	for i, element := range list.List {
		own := maps.Clone(roots)
		own[r.eachName] = element
		out[i] = item{r.positionOf(element), own}
		if out[i].position == "" {
			out[i].position = strconv.Itoa(i + 1)
		}
	}
	return out, nil
}

// noElements is the one judgement of an `each` with nothing to look at; nil where there is.
func (r *Rule) noElements(ev *Evidence, list expr.Answer) *judgement {
	j := newJudgement(r, ev, "")
	j.took(list)
	switch {
	case list.Fault != nil:
		j.broke(list.Fault)
	case list.NotFitted:
		j.notFitted(list)
	case list.Open:
		j.noData(reason(list))
	case len(list.List) == 0:
		j.noData("nothing to look at: the list is empty")
	default:
		return nil
	}
	return j
}

// positionOf is what people call an element: the field that names elements of its list,
// or its text.
func (r *Rule) positionOf(v *schema.Value) string {
	if v == nil || v.Unknown {
		return ""
	}
	if v.Type != nil && v.Type.Kind == schema.Object {
		if f := v.Fields[r.eachKey]; f != nil && !f.Unknown {
			return f.Text
		}
		return ""
	}
	return v.Text
}

// judge judges one item by every log that may answer and keeps the worst of what they
// say. A log on which the rule was not exercised counts only where it was on none.
func (r *Rule) judge(ctx context.Context, ev *Evidence, it item) *judgement {
	if !r.readLog {
		j := newJudgement(r, ev, it.position)
		j.judge(ctx, expr.Inputs{Roots: it.roots})
		return j
	}
	var worst *judgement
	for i := range ev.Logs {
		if !slices.Contains(r.from, ev.Logs[i].Kind) {
			continue
		}
		j := newJudgement(r, ev, it.position)
		j.log = &ev.Logs[i]
		j.judge(ctx, expr.Inputs{Roots: it.roots, Log: j.log.Answers})
		if worst == nil || worse(j, worst) {
			worst = j
		}
	}
	if worst == nil {
		worst = newJudgement(r, ev, it.position)
		worst.judgeWithoutLog(ctx, expr.Inputs{Roots: it.roots})
	}
	return worst
}

func worse(a, b *judgement) bool {
	if a.idle != b.idle {
		return b.idle
	}
	return rank(a.res.Outcome) > rank(b.res.Outcome)
}

func rank(o check.Outcome) int {
	return slices.Index([]check.Outcome{check.NotApplicable, check.Pass, check.Warn, check.NoData, check.Fail}, o)
}

// judgement is one item while it is being judged.
type judgement struct {
	r    *Rule
	ev   *Evidence
	log  *Log
	res  check.Result
	card *check.Card // a card of its own where it differs from the rule's, see ownCard
	idle bool        // no data because what must happen in the log did not

	inputs []check.Input
	reads  []expr.Read // of the judging expressions, without limits
	unseen []check.Unseen
}

func newJudgement(r *Rule, ev *Evidence, position string) *judgement {
	return &judgement{r: r, ev: ev, res: check.Result{Position: position, Where: r.Where}}
}

func (j *judgement) judge(ctx context.Context, in expr.Inputs) {
	if !j.applies(ctx, in) || !j.exercised(ctx, in) {
		return
	}
	switch r := j.r; {
	case r.measure != nil:
		j.measure(ctx, in)
	case r.holds != nil:
		j.holds(ctx, in)
	default:
		j.signed(ctx, in)
	}
	j.acceptors(ctx, in)
}

// judgeWithoutLog says what can be said of a rule over the log when no log may answer.
func (j *judgement) judgeWithoutLog(ctx context.Context, in expr.Inputs) {
	if !j.applies(ctx, in) {
		return
	}
	if len(j.ev.Logs) == 0 {
		j.noData("no log or run sheet at hand; take the run in")
		return
	}
	kinds := make([]string, 0, len(j.ev.Logs))
	for _, l := range j.ev.Logs {
		if !slices.Contains(kinds, l.Kind) {
			kinds = append(kinds, l.Kind)
		}
	}
	j.noData(fmt.Sprintf("a %s log cannot answer this; take in a %s log", strings.Join(kinds, " or "), strings.Join(j.r.from, " or ")))
}

func (j *judgement) applies(ctx context.Context, in expr.Inputs) bool {
	if j.r.applies == nil {
		return true
	}
	ans := j.r.applies.Eval(ctx, in)
	j.took(ans)
	switch {
	case ans.Fault != nil:
		j.broke(ans.Fault)
	case ans.NotFitted:
		j.notFitted(ans)
	case ans.Truth == expr.False:
		j.res.Outcome, j.res.Message = check.NotApplicable, "does not apply to this car"
		if said := j.readings(ans.Read); said != "" {
			j.res.Message += ": " + said
		}
	case ans.Truth == expr.Unknown:
		j.noData("cannot tell whether this applies: " + reason(ans))
	default:
		return true
	}
	return false
}

func (j *judgement) exercised(ctx context.Context, in expr.Inputs) bool {
	if j.r.seen == nil {
		return true
	}
	ans := j.r.seen.Eval(ctx, in)
	j.took(ans)
	switch {
	case ans.Fault != nil:
		j.broke(ans.Fault)
	case ans.Truth == expr.True:
		return true
	case ans.Truth == expr.False || ans.Empty:
		j.notExercised()
	default:
		j.noData("cannot tell whether it was exercised: " + reason(ans))
	}
	return false
}

func (j *judgement) notExercised() {
	j.idle = true
	run := j.ev.Run
	if j.log != nil && j.log.From.Run != 0 {
		run = j.log.From.Run
	}
	if run == 0 {
		j.noData("not exercised")
		return
	}
	j.noData("not exercised on run " + strconv.Itoa(run))
}

func (j *judgement) measure(ctx context.Context, in expr.Inputs) {
	ans := j.r.measure.Eval(ctx, in)
	j.took(ans)
	j.rests(ans)
	if j.undecided(ans) {
		return
	}
	v := interval{ans.Low, ans.High}
	if v.open() {
		j.noData(reason(ans))
		return
	}
	limits := map[*bound]*edges{}
	var gaps []string
	for _, b := range []*bound{j.r.fail, j.r.warn, j.r.due} {
		if b == nil {
			continue
		}
		e, gap, ok := j.edges(ctx, in, b)
		if !ok {
			return
		}
		if gap != "" && b != j.r.due && !slices.Contains(gaps, gap) {
			gaps = append(gaps, gap)
		}
		limits[b] = e
	}
	unit := j.r.scale.one()
	j.res.Outcome = decide(v, limits[j.r.fail], limits[j.r.warn], unit)
	if j.r.Lenient && j.res.Outcome == check.NoData && atLeastWarn(v, limits[j.r.warn], unit) {
		card := *j.ownCard()
		card.Lenient = false // a warn at the least: that stays open
		j.card = &card
	}
	j.res.Measured = j.r.scale.measured(v)
	j.when(ans)
	j.limit(v, limits)
	if e := limits[j.r.due]; e != nil && e.passed(v, unit) == expr.True {
		due := j.asLimit(j.r.due, e, check.Pass)
		j.res.Due = &due
	}
	j.say(v, ans, gaps)
}

// edges evaluates a limit. gap says what is missing of it; ok is false where it broke.
func (j *judgement) edges(ctx context.Context, in expr.Inputs, b *bound) (e *edges, gap string, ok bool) {
	e = &edges{}
	for _, side := range []struct {
		prog *expr.Expr
		to   **interval
	}{{b.lo, &e.lo}, {b.hi, &e.hi}} {
		if side.prog == nil {
			continue
		}
		ans := side.prog.Eval(ctx, in)
		j.took(ans)
		if ans.Fault != nil {
			j.broke(ans.Fault)
			return nil, "", false
		}
		i := interval{ans.Low, ans.High}
		if ans.Open || ans.Empty || ans.NotFitted || i.open() {
			i, gap = interval{math.Inf(-1), math.Inf(1)}, reason(ans)
		}
		*side.to = &i
	}
	return e, gap, true
}

// limit names the limit that decided, or the nearest one where none was passed.
func (j *judgement) limit(v interval, limits map[*bound]*edges) {
	type candidate struct {
		b      *bound
		means  check.Outcome
		margin float64
	}
	var best *candidate
	for _, c := range []candidate{{j.r.fail, check.Fail, 0}, {j.r.warn, check.Warn, 0}} {
		e := limits[c.b]
		if c.b == nil || e == nil {
			continue
		}
		c.margin = e.inHand(v.value())
		switch decided := j.res.Outcome; {
		case math.IsInf(c.margin, 0) || math.IsNaN(c.margin):
			continue
		case (decided == check.Fail || decided == check.Warn) && c.means != decided:
			continue
		case decided == check.NoData && e.passed(v, j.r.scale.one()) != expr.Unknown:
			continue
		case best == nil || c.margin < best.margin:
			best = &c
		}
	}
	if best == nil {
		return
	}
	l := j.asLimit(best.b, limits[best.b], best.means)
	j.res.Limit = &l
	margin := j.r.scale.difference(best.margin)
	j.res.Margin = &margin
}

// asLimit is a limit in the rule's unit, with the source of the named limit it came
// from, else the rule's own.
func (j *judgement) asLimit(b *bound, e *edges, means check.Outcome) check.Limit {
	l := check.Limit{Unit: j.r.scale.unit.Symbol, Source: j.r.Source, Where: b.where, Outcome: means}
	switch {
	case e.lo != nil && e.hi != nil:
		l.Kind, l.Value, l.Upper = "a to b", j.r.scale.point(e.lo.value()), j.r.scale.point(e.hi.value())
	case e.lo != nil:
		l.Kind, l.Value = "min", j.r.scale.point(e.lo.value())
	default:
		l.Kind, l.Value = "max", j.r.scale.point(e.hi.value())
	}
	if named := j.r.named(b); named != nil {
		l.Source, l.Where = named.Source, named.Where
		if named.Overridden.Line != 0 {
			l.Where = named.Overridden
		}
	}
	return l
}

func (j *judgement) holds(ctx context.Context, in expr.Inputs) {
	ans := j.r.holds.Eval(ctx, in)
	j.took(ans)
	j.rests(ans)
	if j.undecided(ans) {
		return
	}
	j.when(ans)
	switch ans.Truth {
	case expr.True:
		j.res.Outcome, j.res.Message = check.Pass, "holds"
	case expr.False:
		j.res.Outcome, j.res.Message = j.r.otherwise, "does not hold"
	default:
		j.noData(reason(ans))
		return
	}
	if said := j.readings(ans.Read); said != "" {
		j.res.Message, j.res.Note = said, said
	} else if j.res.At != nil {
		j.res.Message += " at " + seconds(j.res.At.Time)
	}
	j.eitherWay()
}

// undecided deals with answers that say nothing about the item.
func (j *judgement) undecided(ans expr.Answer) bool {
	switch {
	case ans.Fault != nil:
		j.broke(ans.Fault)
	case ans.NotFitted:
		j.notFitted(ans)
	case ans.Empty:
		j.notExercised()
	case ans.Open:
		j.noData(reason(ans))
	default:
		return false
	}
	return true
}

func (j *judgement) notFitted(ans expr.Answer) {
	j.res.Outcome, j.res.Message = check.NotApplicable, "not fitted"
	if len(ans.Gaps) > 0 {
		j.res.Message += ": " + ans.Gaps[0].Path
	}
}

func (j *judgement) noData(why string) {
	j.res.Outcome, j.res.Message, j.res.Note = check.NoData, why, why
}

// broke: the rule itself failed to evaluate; a fault of the tool, never a finding.
func (j *judgement) broke(f *source.Fault) {
	j.noData("the rule could not be worked out")
	j.res.Fault = f
}

// took keeps what an answer read and what it could not see.
func (j *judgement) took(ans expr.Answer) {
	for _, read := range ans.Read {
		input := check.Input{Path: read.Path}
		if read.Value != nil {
			input.Value, input.Where = read.Value.Text, read.Value.Pos
		}
		j.inputs = append(j.inputs, input)
	}
	for _, call := range ans.Calls {
		for _, m := range call.Answer.Missing {
			j.unseen = append(j.unseen, check.Unseen{Channel: m.Channel, From: m.From, To: m.To, Why: m.Why})
		}
	}
}

// rests keeps the document values that the answer itself, not a limit, rests on.
func (j *judgement) rests(ans expr.Answer) {
	for _, read := range ans.Read {
		if !strings.HasPrefix(read.Path, "limits.") && read.Value != nil {
			j.reads = append(j.reads, read)
		}
	}
}

// when says where in the log the answer stands: that of its first call with a time.
func (j *judgement) when(ans expr.Answer) {
	for _, call := range ans.Calls {
		if call.OK && !call.Answer.Empty && !math.IsNaN(call.Answer.At) {
			j.res.At = &check.At{Time: call.Answer.At, Within: call.Answer.Within}
			return
		}
	}
}

// acceptors fills in who may accept where the element decides it. What cannot be worked
// out lets nobody accept.
func (j *judgement) acceptors(ctx context.Context, in expr.Inputs) {
	if len(j.r.accept.byValue) == 0 {
		return
	}
	card := *j.ownCard()
	j.card = &card
	for _, o := range []check.Outcome{check.Warn, check.Fail, check.NoData} {
		prog := j.r.accept.byValue[o]
		if prog == nil {
			continue
		}
		ans := prog.Eval(ctx, in)
		a, ok := acceptorOf(ans.Text)
		if ans.Fault == nil && !ans.Open && !ok {
			j.res.Fault = &source.Fault{Pos: j.r.Where, What: "accept came to " + quoted(ans.Text), Remedy: "let it give nobody, official, or hats joined by +"}
		}
		if ans.Fault != nil {
			j.res.Fault = ans.Fault
		}
		if ans.Open || !ok {
			a = check.Acceptor{}
		}
		*map[check.Outcome]*check.Acceptor{check.Warn: &card.Accept.Warn, check.Fail: &card.Accept.Fail, check.NoData: &card.Accept.NoData}[o] = a
	}
}

// ownCard is the rule's card, or the item's own where it differs.
func (j *judgement) ownCard() *check.Card {
	if j.card != nil {
		return j.card
	}
	return &j.r.Card
}

// result finishes the item.
func (j *judgement) result() check.Result {
	res := j.res
	res.Card = j.ownCard()
	slices.SortFunc(j.inputs, func(a, b check.Input) int { return strings.Compare(a.Path, b.Path) })
	res.Inputs = slices.CompactFunc(j.inputs, func(a, b check.Input) bool { return a.Path == b.Path })
	res.Unseen = mergeUnseen(j.unseen)
	j.origin(&res)
	return res
}

// origin says what answered, and points at the value in a document where one was read.
func (j *judgement) origin(res *check.Result) {
	if j.log != nil {
		res.From = j.log.From
		return
	}
	var from *expr.Read
	for i := range j.reads {
		read := &j.reads[i]
		if from == nil || (from.Value.Record == "" && read.Value.Record != "") {
			from = read
		}
	}
	if from == nil {
		return
	}
	res.From = check.From{Kind: "document"}
	if from.Value.Record != "" {
		res.From = check.From{Kind: "record", Record: from.Value.Record}
	}
	if from.Value.Pos.Line != 0 {
		res.Where = from.Value.Pos
	}
}
