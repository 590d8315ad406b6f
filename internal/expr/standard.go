package expr

import (
	"math"

	"github.com/google/cel-go/common/functions"
	"github.com/google/cel-go/common/types"
	"github.com/google/cel-go/common/types/ref"
)

func textLength(v ref.Val) int {
	switch v := v.(type) {
	case types.String:
		return len(v)
	case types.Bytes:
		return len(v)
	}
	return 0
}

// standard calls one of CEL's own functions.
func (f *frame) standard(n *node, args []ref.Val) ref.Val {
	for _, a := range args {
		f.steps += textLength(a) / 16
	}
	for i, a := range args {
		s, ok := a.(*span)
		if !ok {
			continue
		}
		switch {
		case n.name == "double":
			return number(s.lo, s.hi, false, s.why)
		case n.name == "int" && i == 0:
			return number(math.Trunc(s.lo), math.Trunc(s.hi), true, s.why)
		}
		return &open{why: s.why}
	}
	var o *functions.Overload
	if len(n.std) == 1 {
		o = f.x.env.calls[n.std[0]]
	}
	if o == nil {
		o = f.x.env.calls[n.name]
	}
	switch {
	case o == nil:
	case len(args) == 1 && o.Unary != nil:
		return o.Unary(args[0])
	case len(args) == 2 && o.Binary != nil:
		return o.Binary(args[0], args[1])
	case o.Function != nil:
		return o.Function(args...)
	}
	return types.NewErr("%s() cannot be worked out here", n.name)
}
