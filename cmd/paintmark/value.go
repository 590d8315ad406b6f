package main

import (
	"fmt"
	"slices"
	"strings"

	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
	"github.com/paintmark/paintmark/internal/units"
)

// corners are the corners of a car, in the order in which everybody says them.
var corners = []string{"FL", "FR", "RL", "RR"}

// axles are the corners of one axle.
var axles = map[string][]string{"front": corners[:2], "rear": corners[2:]}

var bareNumber = source.Form(`^([A-Za-z_][\w.]*=)?[-+]?[0-9.]+$`)

// joined puts numbers and the unit that was typed after them together: 0.29 s is one value,
// and 1.35 1.35 1.30 1.31 bar are four.
func joined(words []string) []string {
	var out []string
	bare := 0 // numbers at the end of out that have no unit yet
	for _, w := range words {
		switch _, err := units.Lookup(w); {
		case bareNumber().MatchString(w):
			out, bare = append(out, w), bare+1
			continue
		case bare > 0 && err == nil:
			for i := len(out) - bare; i < len(out); i++ {
				out[i] += " " + w
			}
		default:
			out = append(out, w)
		}
		bare = 0
	}
	return out
}

// yamlValue writes what somebody typed for a field as YAML: a quantity with a space before its
// unit, yes and no as true and false, text so that it reads back as it was typed. What the
// field cannot hold is left for the schema to refuse.
func yamlValue(t *schema.Type, word string) string {
	switch {
	case word == "unknown":
		return word
	case t.Kind == schema.Text && !t.Measure:
		return yamlText(word)
	case t.Kind == schema.YesNo && strings.EqualFold(word, "yes"):
		return "true"
	case t.Kind == schema.YesNo && strings.EqualFold(word, "no"):
		return "false"
	case t.Kind == schema.Curve:
		return word
	}
	if q, err := units.Parse(word); err == nil && q.Unit != "" && !strings.Contains(word, " ") {
		return strings.TrimSuffix(word, q.Unit) + " " + q.Unit
	}
	if strings.ContainsAny(word, ",:#[]{}\"'\n\\") {
		return fmt.Sprintf("%q", word)
	}
	return word
}

// cornersOf is the corners a value by corner has, in their order; all four where it has none.
func cornersOf(v *schema.Value) []string {
	var out []string
	for _, c := range corners {
		if v.Fields[c] != nil {
			out = append(out, c)
		}
	}
	if len(out) == 0 {
		return corners
	}
	return out
}

// keysOf names what stands under a value, for a remedy.
func keysOf(v *schema.Value) []string {
	if v.Type.Kind == schema.Map {
		return cornersOf(v)
	}
	return slices.DeleteFunc(slices.Clone(v.Type.Order), func(k string) bool { return v.Type.Fields[k].Derived })
}

// lookUp is the value at a path of a root, with the remedy where there is no such path.
func lookUp(root *schema.Value, path string) (*schema.Value, error) {
	at := root
	var walked []string
	for key := range strings.SplitSeq(path, ".") {
		next := at.Get(key)
		if next == nil || key == "" || next.Type.Derived {
			what := strings.Join(append([]string{root.Type.Name}, walked...), ".")
			switch at.Type.Kind {
			case schema.Object, schema.Map:
				return nil, fmt.Errorf("%s has no %q; %s", what, key, nearestOf(key, "it has", keysOf(at)))
			}
			return nil, fmt.Errorf("%s is one value; leave .%s out", what, key)
		}
		at, walked = next, append(walked, key)
	}
	return at, nil
}

// spaced writes a quantity with a space before its unit; "" stays "".
func spaced(word string) string {
	if word == "" {
		return ""
	}
	return yamlValue(&schema.Type{Kind: schema.Quantity}, typed([]string{word})[0])
}
