package expr

import (
	"context"
	"errors"
	"strings"

	"github.com/paintmark/paintmark/internal/units"
)

// The rules give the unit of a function's value from its arguments'.

func noUnit(*surveyor, *node) fact { return fact{} }

// always is a function whose value has the same unit whatever it is given.
func always(t units.Type) func(*surveyor, *node) fact {
	return func(*surveyor, *node) fact { return fact{unit: t} }
}

func ofFirst(_ *surveyor, n *node) fact { return fact{unit: n.kids[0].fact.unit} }

func ofBoth(s *surveyor, n *node) fact {
	return s.meet(n.kids[1], n.kids[0].fact, n.kids[1].fact)
}

func ofRoot(s *surveyor, n *node) fact { return s.of(n)(units.Sqrt(n.kids[0].fact.unit)) }

// takes holds one argument to what is wanted there, and gives the value its unit.
func (s *surveyor) takes(n *node, result units.Type, arg int, want units.Type) fact {
	got := n.kids[arg].fact
	if got.bad {
		return got
	}
	if _, err := units.Unify(want, got.unit); err != nil {
		remedy := ""
		var e *units.Error
		if errors.As(err, &e) && got.unit == units.Number {
			remedy = e.Remedy
		}
		at := n.kids[arg]
		s.faults.Add(at.home.where(at), n.name+"() takes "+aUnit(want)+" here, not "+aUnit(got.unit), remedy)
		return fact{bad: true}
	}
	return fact{unit: result}
}

func aUnit(t units.Type) string {
	word := t.String()
	if strings.ContainsRune("aeiou", rune(word[0])) {
		return "an " + word
	}
	return "a " + word
}

// ofCurve: x must be of the kind of the curve's x.
func ofCurve(s *surveyor, n *node) fact {
	c := n.kids[0].fact.sch
	if c == nil {
		return s.bad(n, "at() wants a curve of limits or of a document", "name it directly: at(limits.oil_line, rpm)")
	}
	return s.takes(n, c.Unit, 1, c.XUnit)
}

// perSecond: what changes is a difference, of temperatures or pressures too.
func perSecond(s *surveyor, n *node) fact {
	return s.of(n)(units.Div(swing(n.kids[0].fact.unit), second))
}

func timesSecond(s *surveyor, n *node) fact {
	u := n.kids[0].fact.unit
	if u.Kind == units.Point {
		return s.bad(n, "a temperature on a scale has no integral", "take it over a base: log.integral(x - degC(0.0))")
	}
	return s.of(n)(units.Mul(u, second))
}

// ofFirstOver: the second argument is a time.
func ofFirstOver(s *surveyor, n *node) fact {
	if d, ok := s.constant(n.kids[1]); ok && !(d >= 0) {
		return s.bad(n, "the time of "+n.name+"() is negative", "")
	}
	return s.takes(n, n.kids[0].fact.unit, 1, second)
}

func ofQuantile(s *surveyor, n *node) fact {
	if q, ok := s.constant(n.kids[1]); ok && !(q >= 0 && q <= 1) {
		return s.bad(n, "the share of log.quantile lies from 0 to 1", "write 0.95 or percent(95.0)")
	}
	return s.takes(n, n.kids[0].fact.unit, 1, units.Number)
}

// constant is the value of a number that reads nothing.
func (s *surveyor) constant(n *node) (x float64, ok bool) {
	ok = isNumber(n.typ)
	visit(n, func(k *node) { ok = ok && k.kind != nameNode })
	if !ok {
		return 0, false
	}
	f := &frame{ctx: context.Background(), x: &Expr{env: s.env}}
	x, _, ok = bounds(f.eval(n))
	return x, ok
}

// ofDamage: the curve gives cycles over what x goes up and down by, to either side of its middle.
func ofDamage(s *surveyor, n *node) fact {
	c := n.kids[1].fact.sch
	if c == nil {
		return s.bad(n, "log.damage() wants a curve of limits or of a document", "name it directly: log.damage(load, limits.load_line)")
	}
	x := n.kids[0].fact
	if x.bad {
		return x
	}
	if c.Unit != units.Number {
		return s.bad(n, "the curve of log.damage() gives "+aUnit(c.Unit)+", and a number of cycles is wanted", "write its points as [amplitude, cycles]: [[20 bar, 1e7], [60 bar, 1e5]]")
	}
	if _, err := units.Unify(swing(x.unit), swing(c.XUnit)); err != nil || c.XUnit.Kind == units.Point || c.XUnit.Kind == units.Absolute {
		return s.bad(n, "log.damage() of "+aUnit(x.unit)+" wants its curve over "+aUnit(swing(x.unit))+", not "+aUnit(c.XUnit), "write its points as [amplitude, cycles]")
	}
	return fact{unit: units.Number}
}

// swing is the kind of what a value goes up and down by.
func swing(u units.Type) units.Type {
	if u.Kind == units.Point || u.Kind == units.Gauge || u.Kind == units.Absolute {
		u.Kind = units.Difference
	}
	return u
}
