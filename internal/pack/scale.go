package pack

import (
	"math"

	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/source"
	"github.com/paintmark/paintmark/internal/units"
)

// scale turns SI into the unit a rule is read in.
type scale struct {
	unit units.Unit
	diff units.Unit // of differences: 5 K of difference is 5 °C of difference
}

// scale reads the unit of a measure of type t (where known).
func (f *form) scale(r *Rule, n *source.Node, t units.Type, known bool) {
	u, err := units.Lookup(n.Text)
	if err != nil {
		f.unitFault(n.Pos, "", err)
		return
	}
	if known && t.Kind == units.Difference {
		u = u.AsDifference()
	}
	r.Unit, r.scale = u.Symbol, scale{unit: u, diff: u.AsDifference()}
	if !known {
		return
	}
	if err := units.Compare(u.Type, t); err != nil {
		f.fault(n.Pos, "the unit is of "+u.Type.String()+", the measure is "+t.String(), "write a unit of the measure's quantity"+asIn(units.For(t)))
	}
}

func asIn(examples []string) string {
	if len(examples) == 0 {
		return ""
	}
	return ", such as " + examples[0]
}

// one is one unit in SI.
func (s scale) one() float64 { return math.Abs(s.diff.SI(1)) }

// point is an SI value in the unit.
func (s scale) point(si float64) float64 { return tidy(s.unit.Of(si)) }

// difference is an SI difference in the unit.
func (s scale) difference(si float64) float64 { return tidy(s.diff.Of(si)) }

// tidy takes away the noise that SI and back leaves in the 13th figure.
func tidy(v float64) float64 {
	if v == 0 || math.IsInf(v, 0) || math.IsNaN(v) {
		return v
	}
	p := math.Pow(10, 12-math.Ceil(math.Log10(math.Abs(v))))
	if math.IsInf(v*p, 0) || p == 0 {
		return v
	}
	return math.Round(v*p) / p
}

func (s scale) measured(v interval) *check.Measured {
	return &check.Measured{Value: s.point(v.value()), Low: s.point(v.low), High: s.point(v.high), Unit: s.unit.Symbol}
}
