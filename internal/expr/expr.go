package expr

import (
	"slices"
	"strings"

	"github.com/google/cel-go/common/types"

	"github.com/paintmark/paintmark/internal/kernel"
	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
	"github.com/paintmark/paintmark/internal/units"
)

// Expr is one expression, checked and ready. Safe for concurrent use.
type Expr struct {
	env  *Env
	text *text
	root *node
	want Want
	logs []*node // log.* calls, in order of position
}

// Type is the type of the value; of a list, of its elements.
func (x *Expr) Type() *schema.Type {
	t, f := x.root.typ, x.root.fact
	if x.want == ListOf {
		t = elemType(t)
		if f.elem != nil {
			f = *f.elem
		} else {
			f = fact{}
		}
	}
	return x.env.schemaType(t, f)
}

// schemaType is a schema type for a CEL type with what is known of its values.
func (e *Env) schemaType(t *types.Type, f fact) *schema.Type {
	if f.sch != nil {
		return f.sch
	}
	switch t.Kind() {
	case types.StructKind:
		return e.table.schemaOf(t.TypeName())
	case types.BoolKind:
		return &schema.Type{Kind: schema.YesNo}
	case types.IntKind:
		return &schema.Type{Kind: schema.Integer}
	case types.DoubleKind:
		if f.unit == (units.Type{}) {
			return &schema.Type{Kind: schema.Number}
		}
		return &schema.Type{Kind: schema.Quantity, Unit: f.unit}
	case types.TimestampKind:
		return &schema.Type{Kind: schema.Instant}
	case types.ListKind:
		elem := fact{}
		if f.elem != nil {
			elem = *f.elem
		}
		return &schema.Type{Kind: schema.List, Elem: e.schemaType(elemType(t), elem)}
	}
	return &schema.Type{Kind: schema.Text}
}

// Unit is what a number is a number of. Its kind is Open for a bare unit such as
// bar(3.8), which takes the kind it meets, and for a literal 0.
func (x *Expr) Unit() units.Type { return x.root.fact.unit }

// Fits says whether the value may be compared with one of x; "" if so, else what is wrong
// and the remedy. A limit is held against its measure with this.
func (x *Expr) Fits(measure *Expr) (what, remedy string) {
	var faults source.Faults
	s := &surveyor{env: x.env, faults: &faults}
	s.meet(x.root, measure.root.fact, x.root.fact)
	if len(faults) > 0 {
		return faults[0].What, faults[0].Remedy
	}
	return "", ""
}

// Pos is where the expression starts.
func (x *Expr) Pos() source.Pos { return x.text.where(x.root) }

// Text is the expression as written, on one line.
func (x *Expr) Text() string { return strings.Join(strings.Fields(string(x.text.src)), " ") }

// UsesLog says whether it asks the log anything.
func (x *Expr) UsesLog() bool { return len(x.logs) > 0 }

// StaticCall is a log.* call as far as it can be told without a log.
type StaticCall struct {
	Text string
	Fold kernel.Fold
	// Conditional: it has a filter or a trigger that may never come true, so that its answer may be Empty.
	Conditional bool
}

// Calls lists the log.* calls, in order of position.
func (x *Expr) Calls() []StaticCall {
	calls := make([]StaticCall, len(x.logs))
	for i, n := range x.logs {
		calls[i] = StaticCall{Text: n.home.written(n), Fold: n.fn.fold, Conditional: conditional(n)}
	}
	return calls
}

// Conditional says whether some log.* call has a filter or a trigger that may never come true.
func (x *Expr) Conditional() bool { return slices.ContainsFunc(x.logs, conditional) }

func conditional(n *node) bool {
	return n.fn.fold == kernel.Response || when(n) != nil
}

// when is the filter of a log call, or nil.
func when(n *node) *node {
	last := n.kids[len(n.kids)-1]
	switch n.fn.fold {
	case kernel.Response, kernel.Ever, kernel.Total, kernel.Longest, kernel.Count, kernel.Damage:
		return nil
	case kernel.Quantile:
		if len(n.kids) == 3 {
			return last
		}
	default:
		if len(n.kids) == 2 {
			return last
		}
	}
	return nil
}
