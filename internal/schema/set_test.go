package schema

import (
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
)

// Every bundled schema is valid against the 2020-12 metaschema, compiles whole, and gives a type.
func TestBundledSchemas(t *testing.T) {
	for _, name := range Names() {
		t.Run(name, func(t *testing.T) {
			whole(t, name)
			if _, err := Bundled.Document(name); err != nil {
				t.Error(err)
			}
		})
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

func BenchmarkRoots(b *testing.B) {
	for b.Loop() {
		s := &Set{}
		fresh(s)
		if _, err := s.Roots(); err != nil {
			b.Fatal(err)
		}
	}
}

// fresh makes a set compile everything anew instead of sharing the bundled one.
func fresh(s *Set) {
	s.more = map[string][]*keyword{}
	for _, n := range Names() {
		s.more[n] = []*keyword{{under: map[string]*keyword{}}}
	}
}
