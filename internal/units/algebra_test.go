package units

import (
	"testing"

	"pgregory.net/rapid"
)

var (
	dPressure    = Type{pressure, Difference}
	dTemperature = Type{temperature, Difference}
	openEnergy   = Type{energy, Open}
	openRate     = Type{rate, Open}
)

func TestArithmetic(t *testing.T) {
	type two struct {
		op   func(x, y Type) (Type, error)
		x, y Type
		want Type
		err  string
	}
	for i, tt := range []two{
		{Sub, point, point, dTemperature, ""},
		{Add, point, dTemperature, point, ""},
		{Add, dTemperature, point, point, ""},
		{Sub, point, dTemperature, point, ""},
		{Add, point, point, Type{}, "two temperatures cannot be added; add a difference, as in + kelvins(5.0)"},
		{Sub, dTemperature, point, Type{}, "a temperature cannot be taken away from a difference; write it the other way round"},
		{Add, dTemperature, dTemperature, dTemperature, ""},
		{Sub, gauge, gauge, dPressure, ""},
		{Sub, absolute, absolute, dPressure, ""},
		{Add, gauge, dPressure, gauge, ""},
		{Sub, gauge, dPressure, gauge, ""},
		{Add, gauge, bare, gauge, ""},
		{Sub, gauge, bare, gauge, ""},
		{Sub, bare, gauge, dPressure, ""},
		{Add, bare, gauge, gauge, ""},
		{Add, bare, bare, bare, ""},
		{Sub, bare, bare, bare, ""},
		{Add, dPressure, bare, dPressure, ""},
		{Add, bare, dPressure, bare, ""},
		{Sub, bare, dPressure, bare, ""},
		{Add, gauge, absolute, Type{}, "a gauge pressure does not add to an absolute one; going from one to the other takes the station pressure"},
		{Sub, absolute, gauge, Type{}, "a gauge pressure does not take away from an absolute one; going from one to the other takes the station pressure"},
		{Add, gauge, gauge, Type{}, "two gauge pressures cannot be added; add a difference, as in + bar(5.0)"},
		{Sub, dPressure, gauge, Type{}, "a gauge pressure cannot be taken away from a difference; write it the other way round"},
		{Add, torque, openEnergy, torque, ""},
		{Sub, openEnergy, work, work, ""},
		{Add, torque, work, Type{}, "a torque does not add to an energy"},
		{Add, plain(length), plain(mass), Type{}, "a length does not add to a mass"},
		{Add, plain(length), Number, Type{}, "a length does not add to a plain number; give the number a unit, as in mm(3.8)"},
		{Add, angle, Number, Type{}, "an angle does not add to a plain number; give the number a unit, as in deg(3.8)"},
		{Add, point, Zero, point, ""},
		{Sub, Zero, gauge, gauge, ""},
		{Sub, Zero, point, Type{}, "a temperature cannot be negated; put the minus inside, as in degC(-20.0)"},
		{Mul, Number, gauge, gauge, ""},
		{Mul, gauge, Number, gauge, ""},
		{Mul, Number, point, Type{}, "a temperature cannot be multiplied: half of 20 °C is not 10 °C; scale a difference, as in (t - degC(20.0)) * 0.5"},
		{Div, point, Number, Type{}, "a temperature cannot be multiplied: half of 20 °C is not 10 °C; scale a difference, as in (t - degC(20.0)) * 0.5"},
		{Div, point, point, Type{}, "two temperatures cannot be divided: 40 °C is not twice 20 °C; divide differences, as in (t - degC(20.0)) / kelvins(5.0)"},
		{Mul, point, plain(Dim{Length: 2, Time: -2, Temperature: -1}), plain(Dim{Length: 2, Time: -2}), ""},
		{Mul, Number, dTemperature, dTemperature, ""},
		{Mul, plain(force), plain(length), openEnergy, ""},
		{Mul, gauge, plain(area), plain(force), ""},
		{Div, plain(force), plain(area), bare, ""},
		{Mul, turning, plain(duration), angle, ""},
		{Mul, cycles, plain(duration), Number, ""},
		{Mul, torque, turning, plain(power), ""},
		{Mul, torque, angle, work, ""},
		{Div, work, angle, torque, ""},
		{Div, torque, plain(length), plain(force), ""},
		{Mul, turning, plain(length), plain(speed), ""},
		{Div, plain(speed), plain(length), openRate, ""},
		{Div, angle, plain(duration), turning, ""},
		{Div, angle, turning, plain(duration), ""},
		{Mul, angle, plain(length), plain(length), ""},
		{Mul, angle, Number, angle, ""},
		{Div, angle, angle, Number, ""},
		{Mul, angle, cycles, turning, ""},
		{Div, turning, cycles, angle, ""},
		{Div, Number, plain(duration), openRate, ""},
		{Div, gauge, gauge, Number, ""},
		{Div, gauge, bare, Number, ""},
		{Div, dPressure, gauge, Number, ""},
		{Div, gauge, absolute, Type{}, "a gauge pressure does not divide by an absolute one; going from one to the other takes the station pressure"},
		{Div, torque, work, Type{}, "a torque does not divide by an energy"},
		{Div, plain(length), plain(duration), plain(speed), ""},
		{Mul, Zero, plain(speed), plain(speed), ""},
		{Div, Number, Number, Number, ""},
		{Unify, bare, gauge, gauge, ""},
		{Unify, absolute, bare, absolute, ""},
		{Unify, openRate, turning, turning, ""},
		{Unify, Zero, gauge, gauge, ""},
		{Unify, plain(speed), Zero, plain(speed), ""},
		{Unify, Zero, Zero, Zero, ""},
		{Unify, Zero, Number, Number, ""},
		{Unify, point, Zero, Type{}, "0 is no temperature: of which scale?; write degC(0.0)"},
		{Unify, gauge, absolute, Type{}, "a gauge pressure does not compare with an absolute one; going from one to the other takes the station pressure"},
		{Unify, gauge, dPressure, Type{}, "a gauge pressure does not compare with a difference of pressures; take a difference of two pressures, or compare with a bare bar(3.8)"},
		{Unify, point, dTemperature, Type{}, "a temperature does not compare with a difference of temperatures; degC(80.0) is a temperature, kelvins(5.0) a difference"},
		{Unify, bare, point, Type{}, "a pressure does not compare with a temperature"},
		{Unify, gauge, Number, Type{}, "a gauge pressure does not compare with a plain number; give the number a unit, as in bar(3.8)"},
		{Unify, turning, cycles, Type{}, "a speed of rotation does not compare with a frequency"},
		{Unify, plain(Dim{Length: 2, Temperature: -1}), Number, Type{}, "a m^2/K does not compare with a plain number; give the number a unit"},
	} {
		got, err := tt.op(tt.x, tt.y)
		text := ""
		if err != nil {
			text = err.Error()
		}
		if got != tt.want || text != tt.err {
			t.Errorf("%d: %v and %v\n got %v, %s\nwant %v, %s", i, tt.x, tt.y, got, text, tt.want, tt.err)
		}
	}
}

func TestPowers(t *testing.T) {
	if got, err := Pow(plain(speed), 2); err != nil || got != plain(Dim{Length: 2, Time: -2}) {
		t.Error(got, err)
	}
	if got, err := Pow(plain(duration), -1); err != nil || got != openRate {
		t.Error(got, err)
	}
	if got, err := Pow(gauge, 1); err != nil || got != gauge {
		t.Error(got, err)
	}
	if got, err := Pow(plain(length), 0); err != nil || got != Number {
		t.Error(got, err)
	}
	if _, err := Pow(plain(length), 21); err == nil {
		t.Error("a power of 21")
	}
	if _, err := Pow(plain(Dim{Length: 10}), 20); err == nil {
		t.Error("an exponent of 200")
	}
	if got, err := Sqrt(plain(area)); err != nil || got != plain(length) {
		t.Error(got, err)
	}
	if got, err := Sqrt(Number); err != nil || got != Number {
		t.Error(got, err)
	}
	if _, err := Sqrt(plain(length)); err == nil || err.Error() != "a length has no square root; take the root of an area, a square of a speed, a plain number" {
		t.Error(err)
	}
}

// Whatever is combined, the dimension is the one physics gives, and what may be
// compared may be compared either way round.
func TestDimensionsHold(t *testing.T) {
	draw := rapid.Custom(func(t *rapid.T) Type { return rapid.SampledFrom(rows).Draw(t, "unit").typ })
	rapid.Check(t, func(t *rapid.T) {
		x, y := draw.Draw(t, "x"), draw.Draw(t, "y")
		if p, err := Mul(x, y); err == nil {
			if want, _ := combine(x.Dim, y.Dim, 1); p.Dim != want {
				t.Errorf("%v times %v is %v", x, y, p)
			}
			other, err := Mul(y, x)
			if err != nil || other != p {
				t.Errorf("%v times %v is %v, the other way round %v, %v", x, y, p, other, err)
			}
		}
		if q, err := Div(x, y); err == nil {
			if want, _ := combine(x.Dim, y.Dim, -1); q.Dim != want {
				t.Errorf("%v over %v is %v", x, y, q)
			}
		}
		for _, op := range []func(x, y Type) (Type, error){Add, Sub, Unify} {
			if s, err := op(x, y); err == nil && (s.Dim != x.Dim || s.Dim != y.Dim) {
				t.Errorf("%v with %v is %v", x, y, s)
			}
		}
		if there, back := Compare(x, y), Compare(y, x); (there == nil) != (back == nil) {
			t.Errorf("%v and %v: %v, %v", x, y, there, back)
		}
	})
}
