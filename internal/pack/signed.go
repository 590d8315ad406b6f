package pack

import (
	"context"

	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/expr"
	"github.com/paintmark/paintmark/internal/source"
)

// signedDraft is what initials on a joint must show, as read.
type signedDraft struct {
	pos      source.Pos
	joint    string
	people   int
	torque   *source.Node
	tol      *source.Node
	tool     string
	retained bool
}

// signed is the same, compiled.
type signed struct {
	joint    string // element's position is added: "wheel-nut FL"
	people   int    // 1 or 2 different people
	torque   *expr.Expr
	tol      float64 // share of torque
	tool     string  // kind of tool, "" for any
	retained bool    // the retainer must have been seen in place
}

// Joint is the joint whose initials the rule asks for, without the element's position; "" where
// it asks for none.
func (r *Rule) Joint() string {
	if r.signed == nil {
		return ""
	}
	return r.signed.joint
}

func (f *form) signed(n *source.Node) *signedDraft {
	keys := f.fields(n, "signed", "joint", "people", "torque", "tol", "tool", "retained")
	if keys == nil {
		return nil
	}
	s := &signedDraft{pos: n.Pos, people: 1}
	if keys["joint"] == nil {
		f.fault(n.Pos, "signed has no joint", "write the joint's name in positions.yaml, such as `joint: wheel-nut`")
	} else {
		s.joint = f.text(keys["joint"], "joint")
	}
	if p := keys["people"]; p != nil {
		if s.people = f.number(p, "people"); s.people > 2 {
			f.fault(p.Pos, "signed asks for more than two people", "write 1 or 2")
		}
	}
	if t := keys["torque"]; t != nil {
		s.torque = f.expression(t, "torque")
		if keys["tol"] == nil {
			f.fault(t.Pos, "torque has no tolerance", "add `tol: 5 %`")
		}
	}
	if t := keys["tol"]; t != nil {
		s.tol = t
		if keys["torque"] == nil {
			f.fault(t.Pos, "tol belongs to a torque", "add torque, or take it out")
		}
	}
	if t := keys["tool"]; t != nil {
		s.tool = f.text(t, "tool")
	}
	if r := keys["retained"]; r != nil {
		s.retained = f.word(r, "retained", []string{"true", "false"}) == "true"
	}
	return s
}

// signed judges initials. What is plainly wrong fails; what is not there yet is no data.
func (j *judgement) signed(ctx context.Context, in expr.Inputs) {
	s := j.r.signed
	joint := s.joint
	if j.res.Position != "" {
		joint += " " + j.res.Position
	}
	first, gone := newest(j.ev.Signatures[joint], false)
	second, gone2 := newest(j.ev.Signatures[joint], true)
	if first != nil {
		j.res.From = check.From{Kind: "record", Record: first.Record}
		j.res.Where = first.Pos
	}
	switch {
	case first == nil:
		j.noData("first initials missing" + gone)
		return
	case s.people == 2 && second != nil && second.By == first.By:
		j.verdict(check.Fail, "first and second initials are both "+first.By)
		return
	case s.retained && first.Retained == expr.False:
		j.verdict(check.Fail, "retainer not in place")
		return
	case s.tool != "" && first.ToolKind != "" && first.ToolKind != s.tool:
		j.verdict(check.Fail, "done with a "+first.ToolKind+", not a "+s.tool)
		return
	}
	if !j.torque(ctx, in, first) {
		return
	}
	switch {
	case s.people == 2 && second == nil:
		j.noData("second initials missing" + gone2)
	case s.retained && first.Retained == expr.Unknown:
		j.noData("retainer not written down")
	case s.tool != "" && first.ToolKind == "":
		j.noData("the tool is not in the tool register")
	case second != nil && s.people == 2:
		j.verdict(check.Pass, first.By+" and "+second.By)
	default:
		j.verdict(check.Pass, first.By)
	}
}

// torque compares the torque written with the one asked for; false ends the judging.
func (j *judgement) torque(ctx context.Context, in expr.Inputs, first *Signature) bool {
	s := j.r.signed
	if s.torque == nil {
		return true
	}
	want := s.torque.Eval(ctx, in)
	j.took(want)
	v := interval{want.Low, want.High}
	switch {
	case want.Fault != nil:
		j.broke(want.Fault)
		return false
	case want.Open || v.open():
		j.noData("torque to be met: " + reason(want))
		return false
	case first.Torque == nil || first.Torque.Unknown:
		j.noData("torque not written down")
		return false
	}
	least, most := exactly(v.low*(1-s.tol)), exactly(v.high*(1+s.tol))
	outside := edges{lo: &least, hi: &most}
	if outside.passed(interval{first.Torque.Low, first.Torque.High}, 1) != expr.False {
		j.verdict(check.Fail, first.Torque.Text+" written, not within "+fixed(100*s.tol, 1)+" % of "+fixed(v.value(), 0)+" N·m")
		return false
	}
	return true
}

func (j *judgement) verdict(o check.Outcome, message string) {
	j.res.Outcome, j.res.Message, j.res.Note = o, message, message
}

// newest is the last initials of a place that still count; gone says why older ones do not.
func newest(all []Signature, second bool) (s *Signature, gone string) {
	for i := range all {
		switch {
		case all[i].Second != second:
		case all[i].Void != "":
			s, gone = nil, ": "+all[i].Void
		default:
			s = &all[i]
		}
	}
	return s, gone
}
