package schema

import (
	"fmt"
	"slices"

	"github.com/paintmark/paintmark/internal/source"
	"github.com/paintmark/paintmark/internal/units"
)

// A schema says what a field is with standard keywords and these of our own:
//
//	x-quantity   what a number is a number of ("gauge pressure"); "any" where another field decides its unit
//	x-time       date | instant
//	x-curve      [x, y], each as x-quantity
//	x-absent     not-fitted: absence is a fact, not a gap
//	x-key        the field that names the elements of a list
//	x-names      what a text names: initials, serial, ...
//	x-cel        the text is an expression
//	x-apart      the parts of an object are read each by itself
//	x-label, x-plausible, x-extends
//
// readOnly marks what is worked out and never written. The word `unknown` is legal
// wherever the schema allows the string.

// typer derives types and collects what it cannot understand.
type typer struct {
	faults source.Faults
}

// typeOf gives the type of one schema. Nil, with a fault, when it says nothing usable.
func (tr *typer) typeOf(k *keyword, name string) *Type {
	t := &Type{
		Name: name, Label: k.str("x-label"), About: k.str("description"),
		NotFitted: k.str("x-absent") == "not-fitted", Apart: k.at("x-apart").isTrue(), Derived: k.at("readOnly").isTrue(),
	}
	kinds := k.texts("type")
	for _, w := range kinds {
		if !slices.Contains(jsonTypes, w) {
			remedy := "write one of " + few(jsonTypes)
			if n := source.Nearest(w, jsonTypes); n != "" {
				remedy = fmt.Sprintf("did you mean %q", n)
			}
			tr.faults.Add(k.at("type").pos, fmt.Sprintf("%q is not a type of JSON Schema", w), remedy)
			return nil
		}
	}
	switch {
	case k.at("x-curve") != nil:
		t.Kind = Curve
		axes := k.texts("x-curve")
		if len(axes) != 2 {
			tr.faults.Add(k.at("x-curve").pos, "a curve has two axes", `write "x-curve": ["rotation", "gauge pressure"]`)
			return nil
		}
		t.XUnit, t.Unit = tr.unit(axes[0], k.at("x-curve").pos), tr.unit(axes[1], k.at("x-curve").pos)
	case k.str("x-quantity") == "any":
		t.Kind, t.Measure = Text, true
	case k.at("x-quantity") != nil:
		t.Kind = Quantity
		t.Unit = tr.unit(k.str("x-quantity"), k.at("x-quantity").pos)
		t.Plausible = tr.band(k.at("x-plausible"), t.Unit)
	case k.str("x-time") == "date":
		t.Kind = Date
	case k.str("x-time") == "instant":
		t.Kind = Instant
	case k.at("enum") != nil && len(k.at("enum").items) > 0:
		tr.enum(k.at("enum"), t)
	case k.at("items").isMap():
		t.Kind, t.Key = List, k.str("x-key")
		t.Elem = tr.typeOf(k.at("items"), name+"[]")
		if t.Elem == nil {
			return nil
		}
	case k.at("properties").isMap():
		tr.object(k, t, name)
		t.firm = !slices.Contains(kinds, "string")
	case k.at("additionalProperties").isMap():
		t.Kind = Map
		t.keys = k.at("propertyNames").texts("enum")
		t.firm = !slices.Contains(kinds, "string")
		t.Elem = tr.typeOf(k.at("additionalProperties"), name+"[]")
		if t.Elem == nil {
			return nil
		}
	case slices.Contains(kinds, "integer"):
		t.Kind = Integer
	case slices.Contains(kinds, "number") && !textual(k):
		t.Kind = Number
	case slices.Contains(kinds, "boolean") && !textual(k):
		t.Kind = YesNo
	case slices.Contains(kinds, "string"):
		t.Kind, t.Names, t.Expression = Text, k.str("x-names"), k.at("x-cel").isTrue()
	default:
		tr.faults.Add(k.pos, fmt.Sprintf("the schema does not say what %s is", place(name)), "give it a type, an enum, x-quantity or x-time")
		return nil
	}
	return t
}

var jsonTypes = []string{"array", "boolean", "integer", "null", "number", "object", "string"}

// textual tells `["string", "number"]`, a text that may look like a number, from
// `["number", "string"]` with the pattern of unknown, a number. So it is with yes or no.
func textual(k *keyword) bool {
	kinds := k.texts("type")
	return slices.Contains(kinds, "string") && k.str("pattern") != unknownPattern
}

const unknownPattern = "^unknown$"

func (tr *typer) object(k *keyword, t *Type, name string) {
	t.Kind = Object
	props := k.at("properties")
	t.Fields = make(map[string]*Type, len(props.keys))
	t.Order = make([]string, 0, len(props.keys))
	for _, f := range props.keys {
		if ft := tr.typeOf(props.under[f], join(name, f)); ft != nil {
			t.Fields[f] = ft
			t.Order = append(t.Order, f)
		}
	}
}

func (tr *typer) enum(k *keyword, t *Type) {
	t.Kind = Enum
	for _, v := range k.items {
		switch {
		case v.value == true || v.value == false:
			t.Kind = YesNo
		case v.text != "unknown":
			t.Enum = append(t.Enum, v.text)
		}
	}
	if t.Kind == YesNo {
		t.Enum = nil
	}
}

func (tr *typer) unit(name string, pos source.Pos) units.Type {
	u, ok := NamedQuantity(name)
	if !ok {
		remedy := "see the list of quantities in the schema documentation"
		if n := source.Nearest(name, NamedQuantities()); n != "" {
			remedy = fmt.Sprintf("did you mean %q", n)
		}
		tr.faults.Add(pos, fmt.Sprintf("%q is not a quantity", name), remedy)
	}
	return u
}

func (tr *typer) band(k *keyword, t units.Type) *Band {
	if k == nil {
		return nil
	}
	var ends []float64
	for _, i := range k.items {
		v, err := parseQuantity(i.text, t)
		if err != nil {
			tr.faults.Add(k.pos, err.Error(), "write both ends as quantities")
			return nil
		}
		ends = append(ends, v)
	}
	if len(ends) != 2 || ends[0] >= ends[1] {
		tr.faults.Add(k.pos, "a plausible band has a low and a high end", `write ["0.5 bar", "3.5 bar"]`)
		return nil
	}
	return &Band{Low: ends[0], High: ends[1]}
}
