package schema

import (
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"github.com/paintmark/paintmark/internal/source"
)

// extendedBy is the bundled schema of a car with a team's own field, the nose.
func extendedBy(field string) (*Set, source.Faults) {
	s := &Set{}
	return s, s.Extend("own.schema.json", []byte(`{"x-extends": "car", "properties": {"car": {"properties": {"nose":
`+field+`}}}}`))
}

// What a team's own field asks for, with keywords that mean something only together, is what another validator takes
// the complete schema for: neither more is refused nor less.
func TestExtensionsAgree(t *testing.T) {
	for field, noses := range map[string][]string{
		`{"type": "object", "properties": {"kind": {"type": "string"}, "bolts": {"type": "integer"}},
  "if": {"properties": {"kind": {"const": "long"}}}, "then": {"required": ["bolts"]}, "else": {"properties": {"bolts": {"maximum": 4}}}}`: {
			"{kind: long}", "{kind: long, bolts: 6}", "{kind: short}", "{kind: short, bolts: 6}",
		},
		`{"type": "array", "items": {"type": "string"}, "contains": {"pattern": "^left"}, "minContains": 2, "maxContains": 3}`: {
			"[left 1]", "[left 1, left 2, right]", "[left 1, left 2, left 3, left 4]",
		},
		`{"type": "array", "items": {"type": "object", "properties": {"torque": {"type": "string", "x-quantity": "torque"}}, "minProperties": 1}}`: {
			"[{torque: 9 N m}]", "[{torque: 9 N m}, {}]", "[]", "[unknown]",
		},
		`{"type": ["object", "string"], "additionalProperties": {"type": "string", "minLength": 4}, "patternProperties": {"^no_": {"maxLength": 2}}}`: {
			"{duct: open}", "{duct: no}", "{no_duct: x}", "{no_duct: open}", "unknown",
		},
		`{"type": ["integer", "string"], "pattern": "^unknown$", "minimum": 2}`:                                    {"3", "1", "unknown", "two"},
		`{"type": ["boolean", "string"], "pattern": "^unknown$"}`:                                                  {"true", "unknown", "perhaps"},
		`{"type": "array", "items": {"type": ["string"]}, "uniqueItems": true, "prefixItems": [{"maxLength": 2}]}`: {"[x, splitter]", "[splitter, x]", "[x, x]"},
	} {
		s, faults := extendedBy(field)
		if len(faults) > 0 {
			t.Errorf("%s: %v", field, faults)
			continue
		}
		typ, err := s.Document("car")
		if err != nil {
			t.Fatal(err)
		}
		c := jsonschema.NewCompiler()
		if err := c.AddResource("paintmark:///car", s.own["car"].keywords.plain()); err != nil {
			t.Fatal(err)
		}
		whole, err := c.Compile("paintmark:///car")
		if err != nil {
			t.Fatal(err)
		}
		refused := 0
		for _, nose := range noses {
			n, faults := source.ParseYAML("car.yaml", []byte("car: {nose: "+nose+"}"))
			if len(faults) > 0 {
				t.Fatal(faults)
			}
			_, faults = Read(n, typ)
			err := whole.Validate(generic(n))
			if (err != nil) != (len(faults) > 0) {
				t.Errorf("nose: %s of %s\nvalidator: %v\nreading: %v", nose, field, err, faults)
			}
			if err != nil {
				refused++
			}
		}
		if refused == 0 || refused == len(noses) {
			t.Errorf("%s refuses %d of %d and proves nothing", field, refused, len(noses))
		}
	}
}

// What of a team's own field is no schema, or refers to one, is said at its place, however deep.
func TestExtensionsRefused(t *testing.T) {
	for field, want := range map[string]string{
		`{"type": "array", "items": {"type": "string", "minLength": "two"}}`:                    `own.schema.json:2:47: this is not JSON Schema (2020-12): minLength: `,
		`{"type": "object", "additionalProperties": {"type": "string", "pattern": "("}}`:        `own.schema.json:2:63: this is not JSON Schema (2020-12): pattern: `,
		`{"type": "string", "$ref": "#"}`:                                                       "own.schema.json:2:20: $ref cannot be used here; write out what it refers to",
		`{"type": "string", "if": {"minLength": 2}, "then": {"allOf": [{"$dynamicRef": "#"}]}}`: "own.schema.json:2:64: $dynamicRef cannot be used here; ",
	} {
		if _, faults := extendedBy(field); len(faults) != 1 || !strings.HasPrefix(faults[0].Error(), want) {
			t.Errorf("%s: %v, want %s", field, faults, want)
		}
	}
}
