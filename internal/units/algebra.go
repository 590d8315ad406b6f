package units

import "fmt"

// fits says that a value of type t can stand where want is wanted.
func fits(t, want Type) bool {
	return t.Dim == want.Dim && (t.Kind == want.Kind || t.Kind == Open || want.Kind == Open || want.Kind == Difference && t.Kind == Point)
}

// natural is the kind a product has where its factors do not say.
func natural(d Dim) Kind {
	switch d {
	case temperature:
		return Difference
	case pressure, energy, rate:
		return Open
	}
	return Plain
}

// scalar says that a type only scales what it is multiplied with.
func scalar(t Type) bool { return t.Dim == number && t.Kind != Angle }

// Mul is the type of a product.
func Mul(x, y Type) (Type, error) {
	if scalar(x) {
		x, y = y, x
	}
	dim, ok := combine(x.Dim, y.Dim, 1)
	switch {
	case !ok:
		return Type{}, &Error{What: "this product has no dimension anyone uses"}
	case scalar(y):
		if scalar(x) {
			return Number, nil
		}
		return scaled(x)
	}
	if x.Kind == Angle {
		x, y = y, x
	}
	if y.Kind == Angle {
		switch x.Kind {
		case Torque:
			return Type{dim, Energy}, nil
		case Frequency:
			return Type{dim, Rotation}, nil
		case Angle:
			return Number, nil
		}
		return Type{dim, natural(dim)}, nil
	}
	if dim == number && (x.Kind == Rotation || y.Kind == Rotation) && (x.Dim == duration || y.Dim == duration) {
		return Type{dim, Angle}, nil
	}
	return Type{dim, natural(dim)}, nil
}

// Div is the type of a quotient.
func Div(x, y Type) (Type, error) {
	if scalar(y) {
		if scalar(x) {
			return Number, nil
		}
		return scaled(x)
	}
	if x.Kind == Point && y.Kind == Point {
		return Type{}, &Error{"two temperatures cannot be divided: 40 °C is not twice 20 °C", "divide differences, as in (t - degC(20.0)) / kelvins(5.0)"}
	}
	if x.Dim == y.Dim && !scalar(x) {
		if x.Kind == Rotation && y.Kind == Frequency {
			return Type{number, Angle}, nil
		}
		if x.Kind == y.Kind || x.Kind == Open || y.Kind == Open || x.Dim == pressure && (x.Kind == Difference || y.Kind == Difference) {
			return Number, nil
		}
		return Type{}, apart(x, y, "divide by")
	}
	dim, ok := combine(x.Dim, y.Dim, -1)
	switch {
	case !ok:
		return Type{}, &Error{What: "this quotient has no dimension anyone uses"}
	case x.Kind == Angle && y.Dim == duration:
		return Type{dim, Rotation}, nil
	case x.Kind == Angle && y.Kind == Rotation:
		return Type{dim, Plain}, nil
	case x.Kind == Energy && y.Kind == Angle:
		return Type{dim, Torque}, nil
	case x.Kind == Rotation && y.Kind == Angle:
		return Type{dim, Frequency}, nil
	}
	return Type{dim, natural(dim)}, nil
}

// scaled is a type times a plain number.
func scaled(t Type) (Type, error) {
	if t.Kind == Point {
		return Type{}, &Error{"a temperature cannot be multiplied: half of 20 °C is not 10 °C", "scale a difference, as in (t - degC(20.0)) * 0.5"}
	}
	return t, nil
}

func combine(x, y Dim, sign int) (Dim, bool) {
	ok := true
	add := func(p, q int8) int8 {
		n := int(p) + sign*int(q)
		ok = ok && -100 < n && n < 100
		return int8(n)
	}
	return Dim{
		add(x.Length, y.Length), add(x.Mass, y.Mass), add(x.Time, y.Time),
		add(x.Temperature, y.Temperature), add(x.Current, y.Current),
	}, ok
}

// Pow is the type of an integer power.
func Pow(t Type, n int) (Type, error) {
	if n == 1 {
		return t, nil
	}
	if n < -20 || n > 20 {
		return Type{}, &Error{What: "a power must lie between -20 and 20"}
	}
	dim, ok := Dim{}, true
	for range max(n, -n) {
		if dim, ok = combine(dim, t.Dim, 1); !ok {
			return Type{}, &Error{What: "this power has no dimension anyone uses"}
		}
	}
	if n < 0 {
		dim, _ = combine(Dim{}, dim, -1)
	}
	return Type{dim, natural(dim)}, nil
}

// Sqrt is the type of a square root.
func Sqrt(t Type) (Type, error) {
	d := t.Dim
	if (d.Length|d.Mass|d.Time|d.Temperature|d.Current)&1 != 0 {
		return Type{}, &Error{What: fmt.Sprintf("%s has no square root", a(t)), Remedy: "take the root of an area, a square of a speed, a plain number"}
	}
	d = Dim{d.Length / 2, d.Mass / 2, d.Time / 2, d.Temperature / 2, d.Current / 2}
	return Type{d, natural(d)}, nil
}

// Neg is the type of -x.
func Neg(t Type) (Type, error) {
	if t.Kind == Point {
		return Type{}, &Error{"a temperature cannot be negated", "put the minus inside, as in degC(-20.0)"}
	}
	return t, nil
}

// Add is the type of x + y: to a temperature or a pressure only a difference is
// added, and a bare `bar(7.0)` on the right is one.
func Add(x, y Type) (Type, error) {
	if t, done, err := literal(x, y, "add to"); done {
		return t, err
	}
	switch {
	case open(y) && x.Dim == pressure:
		return x, nil
	case open(x) && y.Dim == pressure && y.Kind == Difference:
		return x, nil
	case open(x):
		return y, nil
	case open(y):
		return x, nil
	case x.Kind == Difference && (y.Kind == Point || onScale(y)):
		return y, nil
	case y.Kind == Difference && (x.Kind == Point || onScale(x)):
		return x, nil
	case x.Kind != y.Kind:
		return Type{}, apart(x, y, "add to")
	case x.Kind == Point:
		return Type{}, &Error{"two temperatures cannot be added", "add a difference, as in + kelvins(5.0)"}
	case onScale(x):
		return Type{}, &Error{fmt.Sprintf("two %ss cannot be added", x), "add a difference, as in + bar(5.0)"}
	}
	return x, nil
}

// Sub is the type of x - y: two points give a difference, a bare `bar(7.0)` on the
// right is one.
func Sub(x, y Type) (Type, error) {
	if y == Zero {
		return x, nil
	}
	if x == Zero {
		return Neg(y)
	}
	if t, done, err := literal(x, y, "take away from"); done {
		return t, err
	}
	switch {
	case open(y):
		return x, nil
	case open(x) && onScale(y):
		return Type{x.Dim, Difference}, nil
	case open(x):
		if x.Dim == pressure {
			return x, nil
		}
		return y, nil
	case y.Kind == Difference && (x.Kind == Point || onScale(x)):
		return x, nil
	case x.Kind == Difference && (y.Kind == Point || onScale(y)):
		return Type{}, &Error{fmt.Sprintf("%s cannot be taken away from a difference", a(y)), "write it the other way round"}
	case x.Kind != y.Kind:
		return Type{}, apart(y, x, "take away from")
	case x.Kind == Point || onScale(x):
		return Type{x.Dim, Difference}, nil
	}
	return x, nil
}

// Unify is the one type of two values that are compared, chosen between or listed
// together: they must be of one dimension and kind, and an open kind takes the other's.
func Unify(x, y Type) (Type, error) {
	switch {
	case x == Zero && y.Kind == Point, y == Zero && x.Kind == Point:
		return Type{}, &Error{"0 is no temperature: of which scale?", "write degC(0.0)"}
	case x == Zero:
		return y, nil
	case y == Zero:
		return x, nil
	case x.Dim != y.Dim || x.Dim == number && x.Kind != y.Kind:
		return Type{}, unlike(x, y, "compare with")
	case open(x):
		return y, nil
	case open(y), x.Kind == y.Kind:
		return x, nil
	}
	return Type{}, apart(x, y, "compare with")
}

// Compare is nil where x and y may be compared.
func Compare(x, y Type) error {
	_, err := Unify(x, y)
	return err
}

// literal deals with a literal 0 and with different dimensions.
func literal(x, y Type, verb string) (t Type, done bool, err error) {
	switch {
	case x == Zero:
		return y, true, nil
	case y == Zero:
		return x, true, nil
	case x.Dim != y.Dim || x.Dim == number && x.Kind != y.Kind:
		return Type{}, true, unlike(x, y, verb)
	}
	return Type{}, false, nil
}

func open(t Type) bool { return t.Kind == Open }

// onScale says that a pressure is counted from a reference.
func onScale(t Type) bool { return t.Kind == Gauge || t.Kind == Absolute }

// unlike words two values of different dimensions.
func unlike(x, y Type, verb string) error {
	e := &Error{What: fmt.Sprintf("%s does not %s %s", a(x), verb, a(y))}
	if x == Number || y == Number {
		with := x
		if x == Number {
			with = y
		}
		e.Remedy = "give the number a unit"
		if f := exampleFunction(with); f != "" {
			e.Remedy += ", as in " + f + "(3.8)"
		}
	}
	return e
}

// apart words two kinds of one dimension.
func apart(x, y Type, verb string) error {
	other := a(y)
	switch {
	case x.Dim == pressure && y.Kind == Absolute:
		other = "an absolute one"
	case x.Dim == pressure && y.Kind == Gauge:
		other = "a gauge one"
	}
	e := &Error{What: fmt.Sprintf("%s does not %s %s", a(x), verb, other)}
	switch {
	case x.Kind == Point && y.Kind == Difference, x.Kind == Difference && y.Kind == Point:
		e.Remedy = "degC(80.0) is a temperature, kelvins(5.0) a difference"
	case onScale(x) && onScale(y):
		e.Remedy = "going from one to the other takes the station pressure"
	case x.Dim == pressure:
		e.Remedy = "take a difference of two pressures, or compare with a bare bar(3.8)"
	}
	return e
}
