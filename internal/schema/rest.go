package schema

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"sync"

	"github.com/google/jsonschema-go/jsonschema"

	"github.com/paintmark/paintmark/internal/source"
)

// rest is what of a schema reading does not already decide: keys that must be there, least and greatest numbers, forms of
// a text, whatever a team's own schema asks for. It is asked place by place, for the validator says where a document is
// wrong in words only, and stops at the first. A test holds the two together against another validator on the complete
// schema.
type rest struct {
	asks   []*ask
	fields map[string]*rest // of a map, by name
	others *rest            // of its other fields
	items  *rest            // of a list
}

// ask is a keyword, or several that mean something only together.
type ask struct {
	keyword string
	says    *keyword // its value
	valid   func() (*jsonschema.Resolved, error)
}

// decided are the keywords that reading itself decides, or that decide nothing.
var decided = map[string]bool{
	"$schema": true, "$id": true, "$comment": true, "title": true, "description": true, "examples": true, "default": true,
	"type": true, "enum": true, "readOnly": true, "deprecated": true, "$defs": true, "format": true,
}

// together are keywords that mean something only with others, which are asked as one.
var together = map[string][]string{
	"patternProperties": {"properties", "additionalProperties"},
	"prefixItems":       {"items"},
	"contains":          {"minContains", "maxContains"},
	"if":                {"then", "else"},

	"unevaluatedProperties": {"properties", "additionalProperties", "patternProperties", "allOf", "anyOf", "oneOf", "if", "then", "else"},
	"unevaluatedItems":      {"items", "prefixItems", "contains", "allOf", "anyOf", "oneOf", "if", "then", "else"},
}

// restOf cuts a schema down to what reading leaves open; nil when that is nothing.
func restOf(k *keyword) *rest {
	r := &rest{}
	taken := map[string]bool{}
	for with, others := range together {
		if k.at(with) != nil {
			for _, o := range others {
				taken[o] = true
			}
		}
	}
	for _, key := range k.keys {
		v := k.under[key]
		switch {
		case decided[key] || taken[key] || strings.HasPrefix(key, "x-"):
		case key == "pattern" && v.text == unknownPattern:
		case key == "propertyNames" && slices.Equal(v.keys, []string{"enum"}):
		case key == "additionalProperties" && v.value == false:
		case key == "items" && k.at("x-curve") != nil:
		case key == "properties":
			for _, f := range v.keys {
				if under := restOf(v.under[f]); under != nil {
					if r.fields == nil {
						r.fields = map[string]*rest{}
					}
					r.fields[f] = under
				}
			}
		case key == "items" && v.isMap():
			r.items = restOf(v)
		case key == "additionalProperties" && v.isMap():
			r.others = restOf(v)
		default:
			r.asks = append(r.asks, newAsk(key, k))
		}
	}
	if r.asks == nil && r.fields == nil && r.others == nil && r.items == nil {
		return nil
	}
	return r
}

func newAsk(key string, k *keyword) *ask {
	a := &ask{keyword: key, says: k.under[key]}
	a.valid = sync.OnceValues(func() (*jsonschema.Resolved, error) {
		alone := map[string]any{key: a.says.plain()}
		for _, with := range together[key] {
			if v := k.at(with); v != nil {
				alone[with] = v.plain()
			}
		}
		return compile(alone)
	})
	return a
}

// compile makes a schema of its own of some keywords.
func compile(keywords map[string]any) (*jsonschema.Resolved, error) {
	text, err := json.Marshal(keywords)
	if err != nil {
		return nil, err
	}
	var s jsonschema.Schema
	if err := json.Unmarshal(text, &s); err != nil {
		return nil, err
	}
	return s.Resolve(nil)
}

// notSchema gives what the validator does not take, at each keyword it stumbles over.
func (r *rest) notSchema() (faults source.Faults) {
	if r == nil {
		return nil
	}
	for _, a := range r.asks {
		if _, err := a.valid(); err != nil {
			faults.Add(a.says.pos, "this is not JSON Schema (2020-12): "+a.keyword+": "+strings.TrimPrefix(inWords(err), a.keyword+": "), "see the bundled schemas for the form")
		}
	}
	for _, under := range r.fields {
		faults = append(faults, under.notSchema()...)
	}
	return slices.Concat(faults, r.others.notSchema(), r.items.notSchema())
}

// inWords is an error of the validator on one line, without the types of its own program.
func inWords(err error) string {
	text := strings.Join(strings.Fields(err.Error()), " ")
	if wrong := "json: cannot unmarshal "; strings.HasPrefix(text, wrong) {
		got, _, _ := strings.Cut(strings.TrimPrefix(text, wrong), " into ")
		return "it cannot be a " + got
	}
	if _, own, ok := strings.Cut(text, "<anonymous schema>: "); ok {
		text = own
	}
	return text
}

// look asks a value that was read, and what is under it.
func (r *rest) look(v *Value) source.Faults {
	if r == nil || v.faulty {
		return nil
	}
	var faults source.Faults
	for _, a := range r.asks {
		faults = append(faults, a.look(v)...)
	}
	for i := range v.Items {
		faults = append(faults, r.items.look(v.Items[i])...)
	}
	for name, f := range v.Fields {
		under := r.others
		if v.Type.Kind == Object && v.Type.Fields[name] != nil || r.fields[name] != nil {
			under = r.fields[name]
		}
		faults = append(faults, under.look(f)...)
	}
	return faults
}

func (a *ask) look(v *Value) source.Faults {
	if a.keyword == "required" {
		return requires(v, a.says)
	}
	valid, err := a.valid()
	if err != nil {
		panic(err) // a bundled schema that does not compile is found by its test, another is refused
	}
	if valid.Validate(v.plain()) == nil {
		return nil
	}
	return source.Faults{a.explain(v)}
}

// lacking are the keys that must be there and are not.
func lacking(v *Value, must *keyword) (missing []string) {
	if v.Unknown || v.Type.Kind != Object && v.Type.Kind != Map {
		return nil
	}
	for _, i := range must.items {
		if v.Fields[i.text] == nil {
			missing = append(missing, i.text)
		}
	}
	return missing
}

func requires(v *Value, must *keyword) (faults source.Faults) {
	for _, m := range lacking(v, must) {
		faults.Add(v.Pos, fmt.Sprintf("%s is missing", quote(m))+inside(v), missing(v.Type, m))
	}
	return faults
}

// explain says what is wrong with a value that a keyword does not let through.
func (a *ask) explain(v *Value) source.Fault {
	name := place(v.Type.Name)
	says := func(what, remedy string) source.Fault { return source.Fault{Pos: v.Pos, What: what, Remedy: remedy} }
	limit := fmt.Sprint(a.says.value)
	switch a.keyword {
	case "oneOf", "anyOf":
		words, several := a.alternatives(v)
		switch {
		case several:
			return says("more than one of the keys of this record is written"+inside(v), "write a record for each")
		case len(words) > 0:
			return says("none of "+few(words)+" is written"+inside(v), "write one of them")
		}
		return says(name+" fits none of the forms its schema allows", about(v.Type, "see the schema"))
	case "pattern":
		return says(fmt.Sprintf("%s is not a form that %s can have", quote(fmt.Sprint(v.plain())), name), about(v.Type, "see the schema"))
	case "minimum":
		return says(fmt.Sprintf("%s is less than %s", quote(v.Text), limit), name+" is at least that")
	case "maximum":
		return says(fmt.Sprintf("%s is more than %s", quote(v.Text), limit), name+" is at most that")
	case "minItems":
		return says(fmt.Sprintf("%s has %d elements, fewer than %s", name, len(v.Items), limit), "add what is missing")
	case "maxItems":
		return says(fmt.Sprintf("%s has %d elements, more than %s", name, len(v.Items), limit), "take out what is too much")
	case "minProperties":
		return says(fmt.Sprintf("%s has %d keys, fewer than %s", name, len(v.Fields), limit), "add what is missing")
	case "maxProperties":
		return says(fmt.Sprintf("%s has %d keys, more than %s", name, len(v.Fields), limit), "take out what is too much")
	case "minLength":
		return says(fmt.Sprintf("%s is shorter than %s letters", name, limit), about(v.Type, "write it out"))
	case "maxLength":
		return says(fmt.Sprintf("%s is longer than %s letters", name, limit), about(v.Type, "shorten it"))
	default:
		return says(fmt.Sprintf("%s does not hold to %s of its schema", name, a.keyword), about(v.Type, "see the schema"))
	}
}

// alternatives are the keys of which one must be there, where that is all the choice is about; several says that more
// than one alternative fits.
func (a *ask) alternatives(v *Value) (words []string, several bool) {
	fit, choice := 0, true
	for _, k := range a.says.items {
		one := map[string]any{"anyOf": []any{k.plain()}}
		if s, err := compile(one); err == nil && s.Validate(v.plain()) == nil {
			fit++
		}
		keys := []string{}
		if must := k.at("required"); must != nil {
			keys = lacking(v, must)
		}
		choice = choice && len(keys) > 0
		words = append(words, keys...)
	}
	if fit > 1 {
		return nil, true
	}
	if !choice {
		return nil, false
	}
	slices.Sort(words)
	return slices.Compact(words), false
}

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
