package pack

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/expr"
	"github.com/paintmark/paintmark/internal/schema"
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
	return a.res.Outcome.WorseThan(b.res.Outcome)
}

// judgement is one item while it is being judged.
type judgement struct {
	r     *Rule
	ev    *Evidence
	log   *Log
	res   check.Result
	card  *check.Card // a card of its own where it differs from the rule's, see ownCard
	idle  bool        // no data because what must happen in the log did not
	stale bool        // what it rests on is too old, see fresh

	inputs []check.Input
	reads  []expr.Read // of the judging expressions, without limits
	aged   []expr.Read // values that were read off the car or the sky at some time
	unseen []check.Unseen
	vague  []string // what may be off: "hyd_pressure reads within 0.5 bar"
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
	j.age()
	j.clear(ctx, in)
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
		if l.Kind != Pairs && !slices.Contains(kinds, l.Kind) {
			kinds = append(kinds, l.Kind)
		}
	}
	j.noData(fmt.Sprintf("a %s log cannot answer this; take in a %s log", strings.Join(kinds, " or "), strings.Join(slices.DeleteFunc(slices.Clone(j.r.from), func(k string) bool { return k == Pairs }), " or ")))
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
	case j.unanswered(ans):
	default:
		j.noData("cannot tell whether it was exercised: " + reason(ans))
	}
	return false
}

func (j *judgement) holds(ctx context.Context, in expr.Inputs) {
	j.truth(j.r.holds.Eval(ctx, in))
}

// truth judges a yes or no.
func (j *judgement) truth(ans expr.Answer) {
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
