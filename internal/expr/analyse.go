package expr

import (
	"slices"

	"github.com/google/cel-go/common/operators"
	"github.com/google/cel-go/common/types"

	"github.com/paintmark/paintmark/internal/source"
)

// analyst finds what has a value for each sample, and refuses channels where no log is
// asked and log calls where one already is.
type analyst struct {
	env    *Env
	faults *source.Faults
	inLog  bool
	spell  bool // a derived expression
	logs   []*node
}

func (a *analyst) look(n *node) {
	outer := a.inLog
	if n.kind == callNode && n.fn != nil && n.fn.use == aboutSample && !a.inLog {
		a.refuse(n, n.name+"() looks at samples: it stands only inside log.*", "write "+asking(n)+" or the like")
		return
	}
	isLog := n.kind == callNode && n.fn != nil && n.fn.use == aboutLog
	a.inLog = outer || isLog
	for _, k := range n.kids {
		a.look(k)
	}
	a.inLog = outer
	switch {
	case isLog:
		a.logCall(n)
		return
	case n.kind == nameNode && n.sampled && !a.inLog:
		a.refuse(n, "`"+n.name+"` has no one value: it changes all through the log", "ask the log, such as "+asking(n))
		return
	case n.kind == callNode && n.fn != nil && n.fn.use == aboutSample:
		n.sampled = true
		n.channels = n.kids[0].channels
		for _, k := range n.kids[1:] {
			if k.sampled || k.channels {
				a.refuse(n, "the time of "+n.name+"() must be the same for all samples", "give it one time, such as s(0.1)")
				return
			}
		}
	}
	for _, k := range n.kids {
		n.sampled = n.sampled || k.sampled
		n.channels = n.channels || k.channels
		n.refused = n.refused || k.refused
	}
	if n.sampled && a.inLog && !n.refused {
		a.sampleable(n)
	}
}

// asking is a log call that would take n.
func asking(n *node) string {
	if n.typ.Kind() == types.BoolKind {
		return "log.ever(" + n.home.written(n) + ")"
	}
	return "log.max(" + n.home.written(n) + ")"
}

// logCall ends the samples: its value is one for the whole log.
func (a *analyst) logCall(n *node) {
	if a.spell {
		a.refuse(n, "a derived name is worked out sample by sample and cannot ask "+n.name, "put that into the rule")
		return
	}
	if slices.ContainsFunc(n.kids, func(k *node) bool { return k.refused }) {
		n.refused = true
		return
	}
	reads := slices.ContainsFunc(n.kids, func(k *node) bool { return k.channels })
	if !reads {
		a.refuse(n, n.name+" reads no channel", "name a channel in it, or leave the log out")
	}
	for i, k := range n.kids {
		if k.sampled && (n.name == "log.quantile" && i == 1) {
			a.refuse(n, "the share of log.quantile must be one number", "write a number from 0.0 to 1.0")
		}
	}
	n.sampled, n.channels = false, false
	a.logs = append(a.logs, n)
}

// sampleable refuses what CEL can do with one value but a kernel not with every sample.
func (a *analyst) sampleable(n *node) {
	switch n.kind {
	case nameNode, litNode:
		return
	case foldNode:
		a.refuse(n, "all(), exists(), map() and filter() cannot go through samples", "write the condition out, joined by && or ||")
		return
	case callNode:
		if n.fn != nil {
			if n.fn.use == aboutSample || slices.Contains([]string{"abs", "least", "greatest", "at"}, n.name) {
				if n.name == "at" && n.kids[0].sampled {
					a.refuse(n, "which curve at() reads must be the same for all samples", "name one curve")
				}
				return
			}
			break
		}
		isWhole := n.typ.Kind() == types.IntKind
		switch n.name {
		case operators.Divide, operators.Modulo:
			if !isWhole && n.name == operators.Divide {
				return
			}
		case operators.Equals, operators.NotEquals:
			if k := n.kids[0].typ.Kind(); k == types.BoolKind || isNumber(n.kids[0].typ) {
				return
			}
		case operators.Less, operators.LessEquals, operators.Greater, operators.GreaterEquals:
			if isNumber(n.kids[0].typ) {
				return
			}
		case operators.In:
			if n.kids[1].kind == listNode && isNumber(n.kids[0].typ) {
				return
			}
		case operators.LogicalAnd, operators.LogicalOr, operators.LogicalNot:
			return
		case operators.Add, operators.Subtract, operators.Multiply, operators.Negate:
			if isNumber(n.typ) {
				return
			}
		case operators.Conditional:
			if isNumber(n.typ) || n.typ.Kind() == types.BoolKind {
				return
			}
		case "double":
			if isNumber(n.kids[0].typ) {
				return
			}
		}
	case listNode:
		return // the operand of `in`, or refused one level up
	}
	a.refuse(n, "this cannot be worked out for each sample", "inside log.* use + - * /, comparisons, && || !, ?:, abs, least, greatest, at and the functions of samples")
}

func (a *analyst) refuse(n *node, what, remedy string) {
	pos := n.home.nameAt(n)
	if n.kind == nameNode {
		pos = n.home.where(n)
	}
	n.refused = true
	a.faults.Add(pos, what, remedy)
}
