package report

import (
	"bytes"
	"encoding/json"
	"math"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"github.com/paintmark/paintmark/internal/check"
)

func schema(t *testing.T) *jsonschema.Schema {
	t.Helper()
	compiler := jsonschema.NewCompiler()
	compiler.AssertFormat()
	s, err := compiler.Compile("../../schemas/report.schema.json")
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func validate(t *testing.T, s *jsonschema.Schema, text []byte) error {
	t.Helper()
	v, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	return s.Validate(v)
}

func TestJSONKeepsItsSchema(t *testing.T) {
	s := schema(t)
	for _, c := range looks {
		t.Run(c.name, func(t *testing.T) {
			var out bytes.Buffer
			if err := JSON(&out, c.look(), "0.0.0-test"); err != nil {
				t.Fatal(err)
			}
			if err := validate(t, s, out.Bytes()); err != nil {
				t.Error(err)
			}
			if !c.opt.All {
				golden(t, c.name+".json", out.Bytes())
			}
		})
	}
}

// TestInfinityIsNull: JSON has no infinity, and a report must come out all the same.
func TestInfinityIsNull(t *testing.T) {
	look := turnaround()
	look.Items[0].Measured = &check.Measured{Value: math.NaN(), Low: 0.4, High: math.Inf(1), Unit: "s"}
	look.Items[0].At = &check.At{Time: math.NaN()}
	var out bytes.Buffer
	if err := JSON(&out, look, "0.0.0-test"); err != nil {
		t.Fatal(err)
	}
	if err := validate(t, schema(t), out.Bytes()); err != nil {
		t.Error(err)
	}
	var back struct {
		Items []struct{ Measured map[string]any }
	}
	if err := json.Unmarshal(out.Bytes(), &back); err != nil {
		t.Fatal(err)
	}
	m := back.Items[0].Measured
	if m["value"] != nil || m["low"] != 0.4 || m["high"] != nil {
		t.Errorf("measured = %v", m)
	}
}

// TestSchemaRefuses keeps the schema from being one that lets everything through.
func TestSchemaRefuses(t *testing.T) {
	s := schema(t)
	var out bytes.Buffer
	if err := JSON(&out, turnaround(), "0.0.0-test"); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ old, new string }{
		{`"verdict": "no-go"`, `"verdict": "go"`},
		{`"verdict": "no-go"`, `"verdict": "part look"`}, // without saying which part
		{`"outcome": "warn"`, `"outcome": "ok"`},
		{`"as_of": "2026-05-16T09:49:00+01:00"`, `"as_of": "16 May"`},
		{`"kind": "max"`, `"kind": "<="`},
		{`"open": true`, `"opened": true`},
		{strings.Repeat("0a", 32), "0a0a"},
	} {
		broken := strings.Replace(out.String(), c.old, c.new, 1)
		if broken == out.String() {
			t.Fatalf("%s is not in the report", c.old)
		}
		if validate(t, s, []byte(broken)) == nil {
			t.Errorf("the schema lets %s through", c.new)
		}
	}
}
