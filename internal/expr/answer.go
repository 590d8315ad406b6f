package expr

import (
	"context"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"github.com/google/cel-go/common/types"
	"github.com/google/cel-go/common/types/ref"
	"github.com/google/cel-go/common/types/traits"

	"github.com/paintmark/paintmark/internal/kernel"
	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
)

// Eval evaluates the expression.
func (x *Expr) Eval(ctx context.Context, in Inputs) (a Answer) {
	f := &frame{ctx: ctx, x: x, in: in}
	defer func() {
		if r := recover(); r != nil { // a slip of this program, or values of other types than the scope's
			a = Answer{Low: math.NaN(), High: math.NaN(), Open: true, Fault: &source.Fault{Pos: x.Pos(), What: fmt.Sprintf("the expression cannot be worked out: %v", r)}}
		}
	}()
	return f.answer(f.eval(x.root))
}

// Ask is a log.* call as it will be asked.
type Ask struct {
	Text string // as written
	Agg  kernel.Agg
}

// Asks announces the calls that Eval will make, as far as they can be told before any is
// answered, so that a Runner can find those of all rules in one pass over the log.
func (x *Expr) Asks(ctx context.Context, in Inputs) []Ask {
	var asks []Ask
	in.Log = nil
	for _, n := range x.logs {
		f := &frame{ctx: ctx, x: x, in: in}
		nested := false
		for _, k := range n.kids {
			visit(k, func(k *node) {
				nested = nested || k.kind == callNode && k.fn != nil && k.fn.use == aboutLog || k.kind == nameNode && k.means == aLocal
			})
		}
		if nested {
			continue
		}
		if agg, _, err := f.aggregate(n); err == nil {
			asks = append(asks, Ask{n.home.written(n), agg})
		}
	}
	return asks
}

// Want is what Asks asks for.
func (x *Expr) Want(ctx context.Context, in Inputs) []kernel.Agg {
	var aggs []kernel.Agg
	for _, a := range x.Asks(ctx, in) {
		aggs = append(aggs, a.Agg)
	}
	return aggs
}

// answer turns the value of an evaluation into an Answer.
func (f *frame) answer(v ref.Val) Answer {
	a := Answer{Low: math.NaN(), High: math.NaN(), Calls: f.calls}
	slices.SortStableFunc(a.Calls, func(c, d Call) int { return c.node.home.from(c.node) - d.node.home.from(d.node) })
	for _, path := range slices.Sorted(maps.Keys(f.reads)) {
		a.Read = append(a.Read, Read{Path: path, Value: f.reads[path]})
	}
	if b, ok := v.(*broken); ok {
		what, remedy := evalWords(b.what)
		a.Open, a.Fault = true, &source.Fault{Pos: b.at.home.where(b.at), What: what, Remedy: remedy}
		return a
	}
	if w := reason(v); w != nil {
		a.Gaps, a.Empty, a.NotFitted = w.gaps, w.empty, w.notFitted
	}
	if _, ok := isOpen(v); ok {
		a.Open = true
		if f.x.want == Value {
			a.Low, a.High = math.Inf(-1), math.Inf(1)
		}
		return a
	}
	switch f.x.want {
	case Truth:
		a.Truth = False
		if v == types.True {
			a.Truth = True
		}
	case Value:
		a.Low, a.High, _ = bounds(v)
		a.Open = math.IsNaN(a.Low) || math.IsNaN(a.High) || math.IsInf(a.Low, 0) && math.IsInf(a.High, 0)
	case TextOf:
		s, _ := v.(types.String)
		a.Text = string(s)
	case ListOf:
		a.List = f.list(v)
	}
	return a
}

// list turns a list into schema values, for the elements of an `each`.
func (f *frame) list(v ref.Val) []*schema.Value {
	if d, ok := v.(*docs); ok {
		return d.v.Items
	}
	l, ok := v.(traits.Lister)
	if !ok {
		return nil
	}
	t := f.x.Type()
	var items []*schema.Value
	n, _ := l.Size().(types.Int)
	for i := types.Int(0); i < n; i++ {
		items = append(items, f.schemaValue(l.Get(i), t))
	}
	return items
}

func (f *frame) schemaValue(v ref.Val, t *schema.Type) *schema.Value {
	out := &schema.Value{Type: t, Pos: f.x.Pos()}
	switch v := v.(type) {
	case *doc:
		return v.v
	case types.String:
		out.Text = string(v)
	case types.Bool:
		out.Bool = bool(v)
	case types.Int:
		out.Int = int64(v)
	case types.Double:
		out.Low, out.High = float64(v), float64(v)
	case *span:
		out.Low, out.High = v.lo, v.hi
	case types.Timestamp:
		out.Time = v.Time
	default:
		out.Unknown = true
	}
	return out
}

// evalWords rewrites what goes wrong when an expression is worked out.
func evalWords(msg string) (what, remedy string) {
	switch {
	case strings.HasPrefix(msg, "division by zero"), strings.HasPrefix(msg, "modulus by zero"):
		return "a whole number is divided by zero", "guard it: n != 0 ? a / n : b"
	case strings.Contains(msg, "overflow"):
		return "a whole number is too large", "use numbers with a decimal point"
	case strings.HasPrefix(msg, "index out of"):
		return msg, "elements count from 0"
	}
	return msg, ""
}
