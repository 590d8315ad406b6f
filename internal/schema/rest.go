package schema

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/santhosh-tekuri/jsonschema/v6/kind"
	"golang.org/x/text/language"
	"golang.org/x/text/message"

	"github.com/paintmark/paintmark/internal/source"
)

// rest is the part of a document's schema that reading does not already decide: keys
// that must be there, least and greatest numbers, forms of a text, whatever a team's own
// schema asks for. The validator looks at that part only: compiling and walking all of a
// schema costs more than the whole of reading, and would say every fault twice. A test
// holds the two together against the validator on the complete schema.
type rest struct{ schema *jsonschema.Schema }

// decided are the keywords that reading itself decides, or that decide nothing.
var decided = map[string]bool{
	"$schema": true, "$id": true, "$comment": true, "title": true, "description": true, "examples": true, "default": true,
	"type": true, "enum": true, "readOnly": true, "deprecated": true,
}

// restOf cuts a schema down to what reading leaves open; nil when that is nothing.
func restOf(k *keyword) map[string]any {
	out := map[string]any{}
	for _, key := range k.keys {
		v := k.under[key]
		switch {
		case decided[key] || strings.HasPrefix(key, "x-"):
		case key == "pattern" && v.text == unknownPattern:
		case key == "propertyNames" && slices.Equal(v.keys, []string{"enum"}):
		case key == "additionalProperties" && v.value == false:
		case key == "items" && k.at("x-curve") != nil:
		case key == "properties":
			props := map[string]any{}
			for _, f := range v.keys {
				if r := restOf(v.under[f]); r != nil {
					props[f] = r
				}
			}
			if len(props) > 0 {
				out[key] = props
			}
		case (key == "items" || key == "additionalProperties") && v.isMap():
			if r := restOf(v); r != nil {
				out[key] = r
			}
		default:
			out[key] = v.plain()
		}
	}
	if len(out) == 0 {
		return nil
	}
	return out
}

// newRest compiles what restOf left.
func newRest(name string, k *keyword) (*rest, error) {
	left := restOf(k)
	if left == nil {
		return nil, nil
	}
	c := jsonschema.NewCompiler()
	url := "paintmark:///" + name + ".schema.json"
	if err := c.AddResource(url, left); err != nil {
		return nil, err
	}
	s, err := c.Compile(url)
	if err != nil {
		return nil, err
	}
	return &rest{schema: s}, nil
}

// look validates a value that was read and turns what is found into faults at its places.
func (r *rest) look(v *Value) source.Faults {
	if v.faulty {
		return nil
	}
	err := r.schema.Validate(v.plain())
	if err == nil {
		return nil
	}
	var bad *jsonschema.ValidationError
	if !errors.As(err, &bad) {
		return source.Faults{{Pos: v.Pos, What: err.Error(), Remedy: "see the schema"}}
	}
	var faults source.Faults
	collect(bad, v, &faults)
	return faults
}

// collect goes down to the causes. Of alternatives, none of which fits, the choice
// itself is the fault, not each alternative.
func collect(e *jsonschema.ValidationError, root *Value, faults *source.Faults) {
	switch e.ErrorKind.(type) {
	case *kind.OneOf, *kind.AnyOf:
	default:
		if len(e.Causes) > 0 {
			for _, c := range e.Causes {
				collect(c, root, faults)
			}
			return
		}
	}
	at := root.find(e.InstanceLocation)
	if at == nil || at.faulty {
		return
	}
	*faults = append(*faults, explain(e, at)...)
}

func explain(e *jsonschema.ValidationError, at *Value) source.Faults {
	name := place(at.Type.Name)
	one := func(what, remedy string) source.Faults {
		return source.Faults{{Pos: at.Pos, What: what, Remedy: remedy}}
	}
	switch k := e.ErrorKind.(type) {
	case *kind.Required:
		var fs source.Faults
		for _, m := range k.Missing {
			fs = append(fs, source.Fault{Pos: at.Pos, What: fmt.Sprintf("%s is missing", quote(m)) + inside(at), Remedy: missing(at.Type, m)})
		}
		return fs
	case *kind.OneOf, *kind.AnyOf:
		if words := alternatives(e); len(words) > 0 {
			if one, ok := k.(*kind.OneOf); ok && len(one.Subschemas) > 1 {
				return source.Faults{{Pos: at.Pos, What: "more than one of " + few(words) + " is written" + inside(at), Remedy: "write a record for each"}}
			}
			return one("none of "+few(words)+" is written"+inside(at), "write one of them")
		}
		return one(name+" fits none of the forms its schema allows", about(at.Type, "see the schema"))
	case *kind.Pattern:
		return one(fmt.Sprintf("%s is not a form that %s can have", quote(k.Got), name), about(at.Type, "see the schema"))
	case *kind.Minimum:
		return one(fmt.Sprintf("%s is less than %s", quote(at.Text), k.Want.RatString()), fmt.Sprintf("%s is at least that", name))
	case *kind.Maximum:
		return one(fmt.Sprintf("%s is more than %s", quote(at.Text), k.Want.RatString()), fmt.Sprintf("%s is at most that", name))
	case *kind.MinItems:
		return one(fmt.Sprintf("%s has %d elements, fewer than %d", name, k.Got, k.Want), "add what is missing")
	case *kind.MaxItems:
		return one(fmt.Sprintf("%s has %d elements, more than %d", name, k.Got, k.Want), "take out what is too much")
	default:
		return one(name+": "+k.LocalizedString(english), about(at.Type, "see the schema"))
	}
}

var english = message.NewPrinter(language.English)

func inside(at *Value) string {
	if at.Type.Name == "" {
		return ""
	}
	return " in " + at.Type.Name
}

func missing(t *Type, key string) string {
	if f := t.Fields[key]; f != nil && f.About != "" {
		return "write it: " + f.About
	}
	return "write it"
}

func about(t *Type, otherwise string) string {
	if t.About != "" {
		return "it should be: " + t.About
	}
	return otherwise
}

// alternatives are the keys of which one must be there, where that is all the choice is about.
func alternatives(e *jsonschema.ValidationError) []string {
	var words []string
	if one, ok := e.ErrorKind.(*kind.OneOf); ok && len(one.Subschemas) > 1 {
		return []string{"the keys of this record"}
	}
	for _, c := range e.Causes {
		for len(c.Causes) == 1 {
			c = c.Causes[0]
		}
		r, ok := c.ErrorKind.(*kind.Required)
		if !ok {
			return nil
		}
		words = append(words, r.Missing...)
	}
	slices.Sort(words)
	return slices.Compact(words)
}

// find is the value at a JSON location.
func (v *Value) find(path []string) *Value {
	for _, p := range path {
		if v == nil || v.faulty {
			return v
		}
		if v.Type.Kind == List {
			i, err := strconv.Atoi(p)
			if err != nil || i < 0 || i >= len(v.Items) {
				return v
			}
			v = v.Items[i]
			continue
		}
		f := v.Fields[p]
		if f == nil {
			return v
		}
		v = f
	}
	return v
}

// plain is the value as the validator takes it: as it was written.
func (v *Value) plain() any {
	if v.Unknown {
		return unknown
	}
	switch v.Type.Kind {
	case Number:
		return v.Low
	case Integer:
		return v.Int
	case YesNo:
		return v.Bool
	case List:
		out := make([]any, len(v.Items))
		for i, item := range v.Items {
			out[i] = item.plain()
		}
		return out
	case Curve:
		return []any{}
	case Object, Map:
		out := make(map[string]any, len(v.Fields))
		for k, f := range v.Fields {
			out[k] = f.plain()
		}
		return out
	default:
		return v.Text
	}
}
