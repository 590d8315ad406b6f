package pack

import (
	"context"
	"strconv"
	"strings"

	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/expr"
	"github.com/paintmark/paintmark/internal/source"
)

// clearedDraft is a proof on stands that may stand in for a run's log, as read.
type clearedDraft struct {
	proof *source.Node
	holds bool // the proof is a truth, not a measure
}

func (f *form) clearedBy(n *source.Node) *clearedDraft {
	keys := f.fields(n, "cleared-by", "measure", "holds", "after")
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
	if measure != nil {
		return &clearedDraft{proof: f.expression(measure, "measure")}
	}
	return &clearedDraft{proof: f.expression(holds, "holds"), holds: true}
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
	if prog.UsesLog() {
		f.fault(n.Pos, "the proof reads the log", "write what is measured on stands, such as measured.wing.close_time.value")
		return
	}
	measured := false
	for _, path := range prog.Paths() {
		measured = measured || strings.HasPrefix(path, "measured.")
	}
	if !measured {
		f.fault(n.Pos, "the proof reads nothing that was measured", "write what is measured on stands, such as measured.wing.close_time.value")
	}
	r.cleared = prog
}

// clear lets a proof on stands after a repair stand in for what the run's log says. It needs
// a job on the rule's system that was closed after the run, and values measured after the
// run, after work last began on the system and after the last change of its parts.
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
	if proof.res.Fault != nil {
		j.broke(proof.res.Fault)
		return
	}
	change := d.newest(func(c *Change) bool { return c.System == system || c.System == "" })
	for _, read := range proof.aged {
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
	if open := d.open(system); open != nil {
		j.note("not cleared: job " + open.No + " is still open")
		return
	}
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
