package schema

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
)

// Every bundled schema is valid against the 2020-12 metaschema, compiles whole, and gives a type.
func TestBundledSchemas(t *testing.T) {
	for _, name := range Names() {
		t.Run(name, func(t *testing.T) {
			whole(t, name)
			typ, err := Bundled.Document(name)
			if err != nil {
				t.Fatal(err)
			}
			for _, f := range typ.rest.notSchema() {
				t.Error(f)
			}
		})
	}
}

// An editor shows the description of every field, and every name can be looked up.
func TestEveryFieldIsDescribed(t *testing.T) {
	lookups := []string{"", "initials", "serial", "position", "place", "tool", "job", "fault", "meter", "channel", "record"}
	var walk func(*Type)
	walk = func(typ *Type) {
		if typ.About == "" && typ.Name != "" {
			t.Errorf("%s has no description", typ.Name)
		}
		if !slices.Contains(lookups, typ.Names) {
			t.Errorf("%s names a %q, which nothing looks up", typ.Name, typ.Names)
		}
		if typ.Key != "" && typ.Elem.Fields[typ.Key] == nil {
			t.Errorf("%s is keyed by %q, which its elements do not have", typ.Name, typ.Key)
		}
		if typ.Elem != nil {
			walk(typ.Elem)
		}
		for _, f := range typ.Order {
			walk(typ.Fields[f])
		}
	}
	for _, name := range Names() {
		typ, err := Bundled.Document(name)
		if err != nil {
			t.Fatal(err)
		}
		walk(typ)
	}
}

// whole compiles a bundled schema as it stands; compiling validates it against its metaschema.
func whole(t testing.TB, name string) *jsonschema.Schema {
	t.Helper()
	k, err := bundled(name)
	if err != nil {
		t.Fatal(err)
	}
	if s := k.str("$schema"); s != "https://json-schema.org/draft/2020-12/schema" {
		t.Errorf("$schema is %q", s)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("paintmark:///"+name, k.plain()); err != nil {
		t.Fatal(err)
	}
	s, err := c.Compile("paintmark:///" + name)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// BenchmarkTypes makes the types of all roots, as one look over a car does.
func BenchmarkTypes(b *testing.B) {
	for b.Loop() {
		for _, name := range RootNames() {
			if d, ok := rootIn[name]; ok {
				name = d
			}
			if _, err := makeType(name); err != nil {
				b.Fatal(err)
			}
		}
	}
}

// BenchmarkExtend adds 400 fields of a team's own.
func BenchmarkExtend(b *testing.B) {
	var schema strings.Builder
	schema.WriteString(`{"x-extends": "car", "properties": {"car": {"properties": {`)
	for i := range 400 {
		fmt.Fprintf(&schema, "\"f%d\": {\"type\": \"string\", \"x-quantity\": \"length\", \"description\": \"a field\"},\n", i)
	}
	schema.WriteString(`"end": {"type": "string"}}}}}`)
	for b.Loop() {
		if err := (&Set{}).Extend("car.schema.json", []byte(schema.String())).Err(); err != nil {
			b.Fatal(err)
		}
	}
}
