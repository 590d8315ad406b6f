package sdk

import (
	"testing"

	pluginv1 "github.com/paintmark/paintmark/schemas/plugin/v1"
)

// A document is read once for all checks. One that has changed is read again, and what one check mounts below a path
// does not get into another's.
func TestDocumentsAreShared(t *testing.T) {
	ask := func(documents ...string) map[string]any {
		in := &pluginv1.InspectRequest{}
		for i := 0; i < len(documents); i += 2 {
			in.Documents = append(in.Documents, &pluginv1.Document{Path: documents[i], Json: []byte(documents[i+1])})
		}
		g, err := given(in)
		if err != nil {
			t.Fatal(err)
		}
		return g.Documents
	}
	car := func(d map[string]any) map[string]any { return d["car"].(map[string]any) }
	if mass := car(ask("car", `{"mass": 1}`))["mass"]; mass != 1.0 {
		t.Errorf("mass %v", mass)
	}
	if mass := car(ask("car", `{"mass": 2}`))["mass"]; mass != 2.0 {
		t.Errorf("mass %v after it changed", mass)
	}
	if both := car(ask("car", `{"mass": 2}`, "car.wing", `{"span": 3}`)); both["wing"] == nil || both["mass"] != 2.0 {
		t.Errorf("both: %v", both)
	}
	if alone := car(ask("car", `{"mass": 2}`)); alone["wing"] != nil {
		t.Errorf("another check's wing got in: %v", alone)
	}
}
