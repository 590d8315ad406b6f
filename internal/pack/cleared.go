package pack

import (
	"cmp"
	"context"
	"slices"
	"strconv"
	"strings"

	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/expr"
	"github.com/paintmark/paintmark/internal/source"
)

// clearedDraft is a proof on stands that may stand in for a run's log, as read.
type clearedDraft struct {
	proof *source.Node
	holds bool         // the proof is a truth, not a measure
	seen  *source.Node // what must have been looked at too, nil for nothing
}

func (f *form) clearedBy(n *source.Node) *clearedDraft {
	keys := f.fields(n, "cleared-by", "measure", "holds", "seen", "after")
	if keys == nil {
		return nil
	}
	measure, holds := keys["measure"], keys["holds"]
	if (measure == nil) == (holds == nil) {
		f.fault(n.Pos, "cleared-by needs one of measure and holds", "write the proof on stands")
		return nil
	}
	if a := keys["after"]; a == nil {
		f.fault(n.Pos, "cleared-by does not say after what", "add `after: job`: only a repair makes a new proof count")
	} else {
		f.word(a, "after", []string{"job"})
	}
	out := &clearedDraft{holds: holds != nil}
	if out.holds {
		out.proof = f.expression(holds, "holds")
	} else {
		out.proof = f.expression(measure, "measure")
	}
	if seen := keys["seen"]; seen != nil {
		out.seen = f.expression(seen, "seen")
	}
	return out
}

// cleared compiles the proof: of the measure's own kind, and from what people measured.
func (f *form) cleared(env *expr.Env, d *ruleDraft) {
	if d.cleared == nil || d.cleared.proof == nil {
		return
	}
	r, n := d.rule, d.cleared.proof
	shape, want := "measure", expr.Value
	if d.cleared.holds {
		shape, want = "holds", expr.Truth
	}
	if (d.holds != nil) != d.cleared.holds {
		f.fault(n.Pos, "the proof has "+shape+", the rule has not", "prove the same thing in the same shape")
		return
	}
	prog := f.program(env, n, want)
	if prog == nil {
		return
	}
	if r.measure != nil {
		if what, remedy := prog.Fits(r.measure); what != "" {
			f.fault(n.Pos, "the proof: "+what, remedy)
		}
	}
	const instead = "write what is measured on stands, such as measured.wing.close_time.value"
	if !f.byHand(prog, n.Pos, instead) {
		return
	}
	r.cleared = prog
	if d.cleared.seen == nil {
		return
	}
	if seen := f.program(env, d.cleared.seen, expr.Truth); seen != nil && f.byHand(seen, d.cleared.seen.Pos, "write what is looked at, such as measured.gearbox.dogs == \"whole\"") {
		r.lookedAt = seen
	}
}

// byHand checks that a proof is of what people measured, not of the log.
func (f *form) byHand(prog *expr.Expr, at source.Pos, instead string) bool {
	if prog.UsesLog() {
		f.fault(at, "the proof reads the log", instead)
		return false
	}
	measured := slices.ContainsFunc(prog.Paths(), func(path string) bool { return strings.HasPrefix(path, "measured.") })
	if !measured {
		f.fault(at, "the proof reads nothing that was measured", instead)
	}
	return measured
}

// clear lets a proof on stands after a repair stand in for what the run's log says. It needs
// a job on the rule's system that was closed after the run, and values measured after the
// run, after work last began on the system and after the last change of its parts; and what
// must have been looked at too, as new as they and as it must be.
func (j *judgement) clear(ctx context.Context, in expr.Inputs) {
	bad := j.res.Outcome == check.Fail || j.res.Outcome == check.Warn || j.stale
	if j.r.cleared == nil || j.log == nil || !bad || j.res.Fault != nil || j.ev.Diary == nil {
		return
	}
	d, system := j.ev.Diary, j.r.System
	run := j.log.From.Run
	ran := d.Runs[run]
	var repair, last *Job // last closed after the run, last begun
	for i := range d.Jobs {
		job := &d.Jobs[i]
		if !job.touched(system, d.AsOf) {
			continue
		}
		if d.ended(job) && job.Closed.After(ran) && job.System != "" && (repair == nil || job.Closed.After(repair.Closed)) {
			repair = job
		}
		if last == nil || job.Began.After(last.Began) {
			last = job
		}
	}
	if repair == nil || ran.IsZero() {
		return
	}
	proof := newJudgement(j.r, j.ev, j.res.Position)
	ans := j.r.cleared.Eval(ctx, in)
	if j.r.measure != nil {
		proof.measured(ctx, in, ans)
	} else {
		proof.truth(ans)
	}
	looked := newJudgement(j.r, j.ev, j.res.Position)
	if j.r.lookedAt != nil {
		looked.truth(j.r.lookedAt.Eval(ctx, in))
	}
	if fault := cmp.Or(proof.res.Fault, looked.res.Fault); fault != nil {
		j.broke(fault)
		return
	}
	change := d.newest(func(c *Change) bool { return c.System == system || c.System == "" })
	for _, read := range slices.Concat(proof.aged, looked.aged) {
		w, ok := d.Records[read.Value.Record]
		switch {
		case !ok:
			return
		case w.Run < run || !w.At.After(ran):
			j.note("not cleared: no proof on stands since run " + strconv.Itoa(run) + ", though job " + repair.No + " is closed")
			return
		case !w.At.After(last.Began):
			j.note("not cleared: the proof on stands of " + d.clock(w.At) + " is older than job " + last.No)
			return
		case change != nil && w.At.Before(change.At):
			j.note("not cleared: the proof on stands of " + d.clock(w.At) + " is older than the change of " + change.Position)
			return
		}
	}
	if len(proof.aged) == 0 || proof.res.Outcome != check.Pass && proof.res.Outcome != check.Warn && proof.res.Outcome != check.Fail {
		return
	}
	if j.r.lookedAt != nil && looked.res.Outcome != check.Pass {
		j.note("not cleared without " + j.r.lookedAt.Text())
		return
	}
	if open := d.open(system); open != nil {
		j.note("not cleared: job " + open.No + " is still open")
		return
	}
	proof.inputs = append(proof.inputs, looked.inputs...)
	j.stand(proof, repair)
}

// open is a job on a system that is not closed, nil for none.
func (d *Diary) open(system string) *Job {
	for i := range d.Jobs {
		if job := &d.Jobs[i]; job.touched(system, d.AsOf) && !d.ended(job) {
			return job
		}
	}
	return nil
}

// stand puts the proof in the place of what the log said, and says both.
func (j *judgement) stand(proof *judgement, repair *Job) {
	run, ran := strconv.Itoa(j.log.From.Run), j.res.Message
	if j.res.Measured != nil {
		ran = figure(*j.res.Measured)
	}
	j.res.Outcome, j.res.Measured, j.res.Limit, j.res.Margin, j.res.Due = proof.res.Outcome, proof.res.Measured, proof.res.Limit, proof.res.Margin, proof.res.Due
	j.res.At, j.unseen, j.log = nil, nil, nil
	j.inputs, j.reads = append(j.inputs, proof.inputs...), proof.reads
	j.res.Message, j.res.Note = proof.res.Message, ""
	j.res.Cleared = "on stands after job " + repair.No + "; " + ran + " on run " + run + ": watch it on the next"
	j.note(j.res.Cleared)
}
