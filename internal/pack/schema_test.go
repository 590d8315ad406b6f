package pack

import (
	"encoding/json"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/source"
)

// asJSON is YAML as an editor sees it.
func asJSON(n *source.Node) any {
	switch n.Kind {
	case source.Map:
		out := map[string]any{}
		for _, e := range n.Entries {
			out[e.Key.Text] = asJSON(e.Value)
		}
		return out
	case source.List:
		out := []any{}
		for _, item := range n.Items {
			out = append(out, asJSON(item))
		}
		return out
	}
	if n.Style == source.Plain {
		if v, err := jsonschema.UnmarshalJSON(strings.NewReader(n.Text)); err == nil && n.Text != "null" {
			return v
		}
	}
	return n.Text
}

// What an editor completes from says the same as the loader.
func TestSchemaForEditors(t *testing.T) {
	data, err := os.ReadFile("../../schemas/pack.schema.json")
	if err != nil {
		t.Fatal(err)
	}
	doc, err := jsonschema.UnmarshalJSON(strings.NewReader(string(data)))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("pack.schema.json", doc); err != nil {
		t.Fatal(err)
	}
	whole, err := c.Compile("pack.schema.json")
	if err != nil {
		t.Fatal(err)
	}
	for _, file := range append(bundled(t), File{"yard.yaml", []byte(yard)}) {
		root, faults := source.ParseYAML(file.Name, file.Data)
		if len(faults) > 0 {
			t.Fatal(faults)
		}
		if err := whole.Validate(asJSON(root)); err != nil {
			t.Errorf("%s: %v", file.Name, err)
		}
	}

	var s struct {
		Properties map[string]any
		Defs       map[string]struct {
			Enum       []string
			Properties map[string]struct{ Enum []string }
		} `json:"$defs"`
	}
	if err := json.Unmarshal(data, &s); err != nil {
		t.Fatal(err)
	}
	rule := s.Defs["rule"].Properties
	for _, list := range []struct {
		what      string
		got, want []string
	}{
		{"keys of a pack", keysOf(s.Properties), packKeys},
		{"keys of a rule", keysOf(rule), ruleKeys},
		{"keys of a source", keysOf(s.Defs["source"].Properties), []string{"kind", "text", "confirmed"}},
		{"kinds of source", s.Defs["source"].Properties["kind"].Enum, sourceKinds},
		{"cautions", rule["caution"].Enum, check.Hazards()},
		{"hats", s.Defs["hat"].Enum, hats},
		{"kinds of log", s.Defs["logkind"].Enum, logKinds},
		{"moments", s.Defs["moment"].Enum, moments},
	} {
		slices.Sort(list.got)
		if want := slices.Sorted(slices.Values(list.want)); !slices.Equal(list.got, want) {
			t.Errorf("%s: the schema has %v, the loader %v", list.what, list.got, want)
		}
	}
}

func keysOf[V any](m map[string]V) []string {
	var out []string
	for k := range m {
		out = append(out, k)
	}
	return out
}
