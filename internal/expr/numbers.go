package expr

import (
	"math"

	"github.com/google/cel-go/common/operators"
	"github.com/google/cel-go/common/types"
	"github.com/google/cel-go/common/types/ref"
)

// lesser is the lesser of two numbers, or the greater one.
func lesser(a, b ref.Val, greater bool) ref.Val {
	if !isSpan(a) && !isSpan(b) {
		less, ok := compare(operators.Less, a, b).(types.Bool)
		switch {
		case !ok:
			return &open{why: notANumber}
		case bool(less) != greater:
			return a
		}
		return b
	}
	alo, ahi, _ := bounds(a)
	blo, bhi, _ := bounds(b)
	isWhole := isWholeNumber(a) && isWholeNumber(b)
	w := reason(a).and(reason(b))
	if greater {
		return number(max(alo, blo), max(ahi, bhi), isWhole, w)
	}
	return number(min(alo, blo), min(ahi, bhi), isWhole, w)
}

func absolute(_ *frame, _ *node, args []ref.Val) ref.Val {
	switch x := args[0].(type) {
	case types.Double:
		return types.Double(math.Abs(float64(x)))
	case types.Int:
		if x == math.MinInt64 {
			return types.NewErr("integer overflow")
		}
		return max(x, -x)
	case *span:
		lo, hi := math.Abs(x.lo), math.Abs(x.hi)
		if x.lo < 0 && x.hi > 0 {
			return number(0, max(lo, hi), x.whole, x.why)
		}
		return number(min(lo, hi), max(lo, hi), x.whole, x.why)
	}
	return args[0]
}

// alongCurve reads a curve, straight lines between its points; outside them nothing is known.
func alongCurve(_ *frame, _ *node, args []ref.Val) ref.Val {
	c, ok := args[0].(*line)
	if !ok {
		return types.NewErr("not a curve")
	}
	pts := c.v.Points
	lo, hi, _ := bounds(args[1])
	w := reason(args[1])
	if len(pts) == 0 || math.IsNaN(lo) || lo < pts[0].X || hi > pts[len(pts)-1].X {
		return &open{why: w.and(missing(c.path, c.v.Pos, "outside the points of the curve"))}
	}
	y := func(x float64) float64 {
		i := 1
		for i < len(pts)-1 && pts[i].X < x {
			i++
		}
		if len(pts) == 1 || x == pts[i-1].X {
			return pts[i-1].Y
		}
		a, b := pts[i-1], pts[i]
		if x == b.X {
			return b.Y
		}
		return a.Y + (b.Y-a.Y)*((x-a.X)/(b.X-a.X))
	}
	least, most := hull(y(lo), y(hi))
	for _, p := range pts {
		if p.X > lo && p.X < hi {
			least, most = min(least, p.Y), max(most, p.Y)
		}
	}
	return number(least, most, false, w)
}

func daysBetween(_ *frame, _ *node, args []ref.Val) ref.Val {
	from, ok1 := args[0].(types.Timestamp)
	to, ok2 := args[1].(types.Timestamp)
	if !ok1 || !ok2 {
		return types.NewErr("not dates")
	}
	return types.Double(float64(to.Unix()-from.Unix()) + float64(to.Nanosecond()-from.Nanosecond())/1e9)
}

// atCorners works a function that is monotone in each argument out at the ends of all bounds.
func atCorners(fn func([]float64) float64, args []ref.Val, isWhole bool) ref.Val {
	var w *why
	lo, hi := math.Inf(1), math.Inf(-1)
	x := make([]float64, len(args))
	for _, a := range args {
		w = w.and(reason(a))
	}
	if w == nil {
		for i, a := range args {
			x[i], _, _ = bounds(a)
		}
		y := fn(x)
		if isWhole {
			return types.Int(y)
		}
		return types.Double(y)
	}
	for corner := range 1 << len(args) {
		for i, a := range args {
			l, h, _ := bounds(a)
			if x[i] = l; corner>>i&1 == 1 {
				x[i] = h
			}
		}
		y := fn(x)
		if math.IsNaN(y) {
			return &open{why: w}
		}
		lo, hi = min(lo, y), max(hi, y)
	}
	return number(lo, hi, isWhole, w)
}
