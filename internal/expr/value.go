package expr

import (
	"fmt"
	"math"
	"reflect"

	"github.com/google/cel-go/common/types"
	"github.com/google/cel-go/common/types/ref"
)

// The values of an evaluation are CEL's own, and these: a number between bounds, a
// value nobody knows, a fault of the expression, and what a document holds.

// span is a number known only to lie between two bounds.
type span struct {
	opaque
	lo, hi float64
	whole  bool // an int, not a double
	why    *why
}

// open is a value that is not known.
type open struct {
	opaque
	why *why
}

// broken is a run-time error: a fault of the expression, not a finding.
type broken struct {
	opaque
	at   *node
	what string
}

// opaque makes the types above CEL values. No CEL function ever sees one of them:
// the evaluator decides what to do with them first.
type opaque struct{}

var opaqueType = types.NewOpaqueType("paintmark")

func (opaque) ConvertToNative(t reflect.Type) (any, error) { return nil, fmt.Errorf("not a %v", t) }
func (opaque) ConvertToType(ref.Type) ref.Val              { return types.NewErr("not convertible") }
func (opaque) Equal(ref.Val) ref.Val                       { return types.False }
func (opaque) Type() ref.Type                              { return opaqueType }
func (opaque) Value() any                                  { return nil }

// number makes a value of bounds: exact where they are equal, open where nothing bounds it.
func number(lo, hi float64, whole bool, w *why) ref.Val {
	switch {
	case math.IsNaN(lo) || math.IsNaN(hi) || math.IsInf(lo, -1) && math.IsInf(hi, 1):
		return &open{why: w}
	case lo != hi:
		return &span{lo: lo, hi: hi, whole: whole, why: w}
	case whole:
		return types.Int(lo)
	}
	return types.Double(lo)
}

// bounds gives the least and greatest value of a number.
func bounds(v ref.Val) (lo, hi float64, ok bool) {
	switch v := v.(type) {
	case types.Double:
		return float64(v), float64(v), true
	case types.Int:
		return float64(v), float64(v), true
	case types.Uint:
		return float64(v), float64(v), true
	case *span:
		return v.lo, v.hi, true
	}
	return math.NaN(), math.NaN(), false
}

// reason is why a value is not exact; nil for an exact one.
func reason(v ref.Val) *why {
	if s, ok := v.(*span); ok {
		return s.why
	}
	w, _ := isOpen(v)
	return w
}

// isOpen says whether a value is not known, and why.
func isOpen(v ref.Val) (*why, bool) {
	switch v := v.(type) {
	case *open:
		return v.why, true
	case *absent:
		return v.why, true
	}
	return nil, false
}

func isWholeNumber(v ref.Val) bool {
	if s, ok := v.(*span); ok {
		return s.whole
	}
	return v.Type() == types.IntType
}
