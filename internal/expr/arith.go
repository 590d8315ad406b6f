package expr

import (
	"math"

	"github.com/google/cel-go/common/operators"
	"github.com/google/cel-go/common/types"
	"github.com/google/cel-go/common/types/ref"
	"github.com/google/cel-go/common/types/traits"
)

// arith is + - * / on numbers. Exact values go to CEL itself; bounds follow interval
// arithmetic. Rounding is monotone, so the result holds every result of values inside.
func arith(op string, a, b ref.Val) ref.Val {
	as, aSpan := a.(*span)
	bs, bSpan := b.(*span)
	if !aSpan && !bSpan {
		switch op {
		case operators.Add:
			return a.(traits.Adder).Add(b)
		case operators.Subtract:
			return a.(traits.Subtractor).Subtract(b)
		case operators.Multiply:
			return a.(traits.Multiplier).Multiply(b)
		case operators.Modulo:
			return a.(traits.Modder).Modulo(b)
		default:
			return a.(traits.Divider).Divide(b)
		}
	}
	whole := aSpan && as.whole || bSpan && bs.whole
	w := reason(a).and(reason(b))
	alo, ahi, _ := bounds(a)
	blo, bhi, _ := bounds(b)
	switch op {
	case operators.Add:
		return number(alo+blo, ahi+bhi, whole, w)
	case operators.Subtract:
		return number(alo-bhi, ahi-blo, whole, w)
	case operators.Multiply:
		lo, hi := hull(product(alo, blo), product(alo, bhi), product(ahi, blo), product(ahi, bhi))
		return number(lo, hi, whole, w)
	case operators.Divide:
		if blo == 0 && bhi == 0 && whole {
			return types.NewErr("division by zero")
		}
		if blo <= 0 && bhi >= 0 {
			return &open{why: w}
		}
		lo, hi := hull(alo/blo, alo/bhi, ahi/blo, ahi/bhi)
		if whole {
			lo, hi = math.Trunc(lo), math.Trunc(hi)
		}
		return number(lo, hi, whole, w)
	}
	return &open{why: w} // % of bounds
}

// product is a*b with 0 times infinity 0: a bound that is absent times nothing is nothing.
func product(a, b float64) float64 {
	if a == 0 || b == 0 {
		return 0
	}
	return a * b
}

func hull(xs ...float64) (lo, hi float64) {
	lo, hi = xs[0], xs[0]
	for _, x := range xs[1:] {
		lo, hi = min(lo, x), max(hi, x)
	}
	return lo, hi
}

func negate(v ref.Val) ref.Val {
	if s, ok := v.(*span); ok {
		return number(-s.hi, -s.lo, s.whole, s.why)
	}
	return v.(traits.Negater).Negate()
}

// compare is < <= > >= on anything CEL can order. Bounds that overlap leave it open; so does not-a-number.
func compare(op string, a, b ref.Val) ref.Val {
	if isSpan(a) || isSpan(b) {
		alo, ahi, _ := bounds(a)
		blo, bhi, _ := bounds(b)
		switch op {
		case operators.Greater:
			alo, ahi, blo, bhi, op = blo, bhi, alo, ahi, operators.Less
		case operators.GreaterEquals:
			alo, ahi, blo, bhi, op = blo, bhi, alo, ahi, operators.LessEquals
		}
		if math.IsNaN(alo) || math.IsNaN(blo) {
			return &open{why: reason(a).and(reason(b))}
		}
		switch {
		case op == operators.Less && ahi < blo, op == operators.LessEquals && ahi <= blo:
			return types.True
		case op == operators.Less && alo >= bhi, op == operators.LessEquals && alo > bhi:
			return types.False
		}
		return &open{why: reason(a).and(reason(b))}
	}
	if isNaN(a) || isNaN(b) {
		return &open{why: notANumber}
	}
	c, ok := a.(traits.Comparer)
	if !ok {
		return types.MaybeNoSuchOverloadErr(a)
	}
	r := c.Compare(b)
	i, ok := r.(types.Int)
	if !ok {
		return r
	}
	switch op {
	case operators.Less:
		return types.Bool(i < 0)
	case operators.LessEquals:
		return types.Bool(i <= 0)
	case operators.Greater:
		return types.Bool(i > 0)
	default:
		return types.Bool(i >= 0)
	}
}

// equal is ==, three-valued: open where bounds overlap or a part is not known.
func equal(a, b ref.Val) ref.Val {
	_, aOpen := isOpen(a)
	_, bOpen := isOpen(b)
	if aOpen || bOpen {
		return &open{why: reason(a).and(reason(b))}
	}
	switch {
	case isSpan(a) || isSpan(b):
		alo, ahi, aok := bounds(a)
		blo, bhi, bok := bounds(b)
		switch {
		case !aok || !bok:
			return types.False
		case ahi < blo || bhi < alo:
			return types.False
		}
		return &open{why: reason(a).and(reason(b))}
	case isNaN(a) || isNaN(b):
		return &open{why: notANumber}
	}
	al, aok := a.(traits.Lister)
	bl, bok := b.(traits.Lister)
	if aok && bok {
		n := al.Size().(types.Int)
		if n != bl.Size().(types.Int) {
			return types.False
		}
		all := ref.Val(types.True)
		for i := types.Int(0); i < n; i++ {
			all = both(all, equal(al.Get(i), bl.Get(i)))
			if all == types.False {
				break
			}
		}
		return all
	}
	return types.Equal(a, b)
}

// both is && of two values already found.
func both(a, b ref.Val) ref.Val {
	switch {
	case a == types.False || b == types.False:
		return types.False
	case a == types.True:
		return b
	case b == types.True:
		return a
	}
	return &open{why: reason(a).and(reason(b))}
}

func not(v ref.Val) ref.Val {
	if b, ok := v.(types.Bool); ok {
		return !b
	}
	return v
}

// within is `in` over a list: true where one element is equal, open where one might be.
func within(x ref.Val, list traits.Lister) ref.Val {
	found := ref.Val(types.False)
	n, _ := list.Size().(types.Int)
	for i := types.Int(0); i < n; i++ {
		found = not(both(not(found), not(equal(x, list.Get(i)))))
		if found == types.True {
			break
		}
	}
	return found
}

var notANumber = &why{gaps: []Gap{{Why: "not a number"}}}

// finite leaves a number open that no measurement can be: what CEL makes of 1.0 / 0.0 is
// greater than every limit, and would pass.
func finite(n *node, v ref.Val) ref.Val {
	d, ok := v.(types.Double)
	if !ok || !math.IsNaN(float64(d)) && !math.IsInf(float64(d), 0) {
		return v
	}
	return &open{why: missing(n.home.written(n), n.home.where(n), notFinite)}
}

const notFinite = "divided by zero, no number, or too large a one"

func isSpan(v ref.Val) bool { _, ok := v.(*span); return ok }

func isNaN(v ref.Val) bool {
	d, ok := v.(types.Double)
	return ok && math.IsNaN(float64(d))
}
