package pack

import (
	"errors"
	"strings"

	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
	"github.com/paintmark/paintmark/internal/units"
)

// readLimits reads the named limits of a pack. bad are the names of those it could not.
func readLimits(f *form, n *source.Node) (out []*Limit, bad []string) {
	if n.Kind != source.Map {
		f.fault(n.Pos, "limits is not a map of names", "write NAME: {value: 105 bar, source: {kind: practice}}")
		return nil, nil
	}
	for _, e := range n.Entries {
		name := e.Key.Text
		if !nameRule().MatchString(name) {
			f.fault(e.Key.Pos, quoted(name)+" is not a name for a limit", "small letters, figures and underscores, such as shift_pressure_min")
			continue
		}
		if l := f.limit(name, e.Key.Pos, e.Value); l != nil {
			out = append(out, l)
		} else {
			bad = append(bad, name)
		}
	}
	return out, bad
}

func (f *form) limit(name string, pos source.Pos, n *source.Node) *Limit {
	what := "limit " + quoted(name)
	keys := f.fields(n, what, "value", "curve", "outside", "tighten", "source")
	if keys == nil {
		return nil
	}
	l := &Limit{Name: name, Where: pos}
	if t := keys["tighten"]; t != nil {
		l.Tighten = f.word(t, "tighten", []string{"up", "down"})
	}
	if s := keys["source"]; s != nil {
		l.Source = f.source(s)
	} else {
		f.fault(pos, what+" does not say where it comes from", "add `source: {kind: practice}` or the sheet it is from")
	}
	switch value, curve := keys["value"], keys["curve"]; {
	case (value == nil) == (curve == nil):
		f.fault(pos, what+" needs one of value and curve", "write `value: 105 bar`")
		return nil
	case value != nil:
		if keys["outside"] != nil {
			f.fault(keys["outside"].Pos, "outside belongs to a curve", "take it out")
		}
		l.Value = f.value(value, what)
	default:
		l.Value = f.curve(curve, what)
		if o := keys["outside"]; o == nil {
			f.fault(pos, what+" does not say what holds outside its points", "add `outside: no data`; a curve is never carried on past its ends")
		} else {
			f.word(o, "outside", []string{"no data"})
		}
		if l.Tighten != "" {
			f.fault(keys["tighten"].Pos, "a curve cannot be overridden, so tighten says nothing", "take it out")
		}
	}
	if l.Value == nil {
		return nil
	}
	l.Value.Pos = posOf(keys["value"])
	if l.Value.Type.Kind == schema.Curve {
		l.Value.Pos = posOf(keys["curve"])
	}
	return l
}

// value is a quantity with its unit, or a bare number. As in expressions, K is a
// difference of temperatures and °C a temperature.
func (f *form) value(n *source.Node, what string) *schema.Value {
	q, ok := f.quantity(n, what)
	if !ok {
		return nil
	}
	t := &schema.Type{Kind: schema.Quantity, Unit: q.Type}
	if q.Unit == "K" {
		t.Unit.Kind = units.Difference
	}
	if q.Unit == "" {
		t = &schema.Type{Kind: schema.Number}
	}
	return &schema.Value{Type: t, Pos: n.Pos, Low: q.SI, High: q.SI, Text: n.Text}
}

func (f *form) quantity(n *source.Node, what string) (units.Quantity, bool) {
	t := f.text(n, what)
	if t == "" {
		return units.Quantity{}, false
	}
	q, err := units.Parse(t)
	if err != nil {
		f.unitFault(n.Pos, what+": ", err)
		return q, false
	}
	return q, true
}

// unitFault puts a place to what the units say.
func (f *form) unitFault(pos source.Pos, before string, err error) {
	var e *units.Error
	if errors.As(err, &e) {
		f.fault(pos, before+e.What, e.Remedy)
		return
	}
	f.fault(pos, before+err.Error(), "")
}

// curve is a list of points [x, y] with rising x, straight between them.
func (f *form) curve(n *source.Node, what string) *schema.Value {
	const shape = "write curve: [[1000 rpm, 1.0 bar], [7000 rpm, 4.2 bar]]"
	if n.Kind != source.List || len(n.Items) < 2 {
		f.fault(n.Pos, what+" is not a curve of two or more points", shape)
		return nil
	}
	v := &schema.Value{Type: &schema.Type{Kind: schema.Curve}, Pos: n.Pos}
	for i, item := range n.Items {
		if item.Kind != source.List || len(item.Items) != 2 {
			hint := item.CommaHint()
			if hint == "" {
				hint = shape
			}
			f.fault(item.Pos, "a point of "+what+" is not two values", hint)
			return nil
		}
		x, okX := f.quantity(item.Items[0], what)
		y, okY := f.quantity(item.Items[1], what)
		if !okX || !okY {
			return nil
		}
		if i == 0 {
			v.Type.XUnit, v.Type.Unit = x.Type, y.Type
		}
		if x.Type != v.Type.XUnit || y.Type != v.Type.Unit {
			f.fault(item.Pos, "a point of "+what+" is in other quantities than the first", "write every point as ["+v.Type.XUnit.String()+", "+v.Type.Unit.String()+"]")
			return nil
		}
		if i > 0 && x.SI <= v.Points[i-1].X {
			f.fault(item.Pos, "the points of "+what+" do not rise", "put them in order, each once")
			return nil
		}
		v.Points = append(v.Points, schema.Point{X: x.SI, Y: y.SI})
		v.Text += item.Items[0].Text + ": " + item.Items[1].Text + ", "
	}
	v.Text = strings.TrimSuffix(v.Text, ", ")
	return v
}

// limitsRoot makes the root `limits` of a pack: its type and its value.
func limitsRoot(p *Pack) (*schema.Type, *schema.Value) {
	t := &schema.Type{Name: "limits", Kind: schema.Object, Fields: map[string]*schema.Type{}}
	v := &schema.Value{Type: t, Pos: source.Pos{File: p.File}, Fields: map[string]*schema.Value{}}
	for _, l := range p.Limits {
		t.Fields[l.Name], v.Fields[l.Name] = l.Value.Type, l.Value
		t.Order, v.Keys = append(t.Order, l.Name), append(v.Keys, l.Name)
	}
	return t, v
}
