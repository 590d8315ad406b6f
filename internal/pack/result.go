package pack

import (
	"context"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/expr"
	"github.com/paintmark/paintmark/internal/source"
)

func (j *judgement) notExercised() {
	j.idle, j.res.NotExercised = true, true
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

// undecided deals with answers that say nothing about the item.
func (j *judgement) undecided(ans expr.Answer) bool {
	switch {
	case ans.Fault != nil:
		j.broke(ans.Fault)
	case ans.NotFitted:
		j.notFitted(ans)
	case j.unanswered(ans):
	case ans.Empty:
		j.notExercised()
	case ans.Open:
		j.noData(reason(ans))
	default:
		return false
	}
	return true
}

// unanswered deals with what the run sheet, in the place of its log, kept no answer to: the
// rule, a limit in it or a channel was changed since.
func (j *judgement) unanswered(ans expr.Answer) bool {
	if j.log == nil || j.log.From.Kind != "run sheet" || !ans.Open {
		return false
	}
	for _, c := range ans.Calls {
		if !c.OK {
			j.noData("the sheet of run " + strconv.Itoa(j.log.From.Run) + " has no answer to " + strings.Join(strings.Fields(c.Text), " ") + "; bring its log, or take in a newer run")
			return true
		}
	}
	return false
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
		if read.Value != nil && isAged(read.Path) {
			j.aged = append(j.aged, read)
		}
	}
	for _, call := range ans.Calls {
		for _, m := range call.Answer.Missing {
			j.unseen = append(j.unseen, check.Unseen{Channel: m.Channel, From: m.From, To: m.To, Why: m.Why})
		}
		for _, v := range call.Answer.Vague {
			if said := v.Channel + " " + v.Said; call.Answer.Low != call.Answer.High && !slices.Contains(j.vague, said) {
				j.vague = append(j.vague, said)
			}
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
