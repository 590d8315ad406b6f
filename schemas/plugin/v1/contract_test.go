package pluginv1

import (
	"flag"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"

	"google.golang.org/protobuf/reflect/protoreflect"
)

var update = flag.Bool("update", false, "take in what was added to the contract")

const golden = "testdata/contract.txt"

// TestContractOnlyGrows holds that nothing that a plugin may lean on was ever taken out or
// changed: every line that was in the contract is still in it.
func TestContractOnlyGrows(t *testing.T) {
	now := lines(File_plugin_v1_plugin_proto)
	data, err := os.ReadFile(golden)
	if err != nil && !*update {
		t.Fatal(err)
	}
	then := strings.FieldsFunc(string(data), func(r rune) bool { return r == '\n' })
	broken := false
	for _, l := range then {
		if !slices.Contains(now, l) {
			t.Errorf("taken out or changed: %s", l)
			broken = true
		}
	}
	for _, l := range now {
		if !slices.Contains(then, l) && !*update {
			t.Errorf("added: %s; run the test with -update", l)
		}
	}
	if *update && !broken { // a break needs a new version, not a new golden
		if err := os.WriteFile(golden, []byte(strings.Join(now, "\n")+"\n"), 0o666); err != nil {
			t.Fatal(err)
		}
	}
}

// lines says all of a contract that a message on the wire, or code generated from it, depends on.
func lines(file protoreflect.FileDescriptor) []string {
	out := []string{"package " + string(file.Package()) + ", " + file.Syntax().String()}
	for i := range file.Services().Len() {
		s := file.Services().Get(i)
		for k := range s.Methods().Len() {
			m := s.Methods().Get(k)
			out = append(out, fmt.Sprintf("call %s: %s %v -> %s %v", m.FullName(), m.Input().FullName(), m.IsStreamingClient(), m.Output().FullName(), m.IsStreamingServer()))
		}
	}
	for i := range file.Messages().Len() {
		m := file.Messages().Get(i)
		for k := range m.Fields().Len() {
			f := m.Fields().Get(k)
			kind := f.Kind().String()
			switch {
			case f.Message() != nil:
				kind = string(f.Message().FullName())
			case f.Enum() != nil:
				kind = string(f.Enum().FullName())
			}
			line := fmt.Sprintf("field %s = %d: %s %s", f.FullName(), f.Number(), f.Cardinality(), kind)
			if o := f.ContainingOneof(); o != nil {
				line += " in " + string(o.Name())
			}
			out = append(out, line)
		}
	}
	for i := range file.Enums().Len() {
		e := file.Enums().Get(i)
		for k := range e.Values().Len() {
			v := e.Values().Get(k)
			out = append(out, fmt.Sprintf("value %s.%s = %d", e.FullName(), v.Name(), v.Number()))
		}
	}
	return out
}

// TestGoldenNoticesABreak: the listing tells apart what must not change.
func TestGoldenNoticesABreak(t *testing.T) {
	now := lines(File_plugin_v1_plugin_proto)
	for _, must := range []string{
		"call paintmark.plugin.v1.Checks.Inspect: paintmark.plugin.v1.InspectRequest false -> paintmark.plugin.v1.Finding true",
		"field paintmark.plugin.v1.Limit.value = 2: optional double",
		"field paintmark.plugin.v1.Check.moments = 4: repeated string",
		"field paintmark.plugin.v1.Finding.fault = 2: optional paintmark.plugin.v1.Fault in finding",
		"value paintmark.plugin.v1.Outcome.OUTCOME_FAIL = 3",
	} {
		if !slices.Contains(now, must) {
			t.Errorf("the listing does not say %q", must)
		}
	}
}
