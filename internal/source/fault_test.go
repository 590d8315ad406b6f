package source

import "testing"

// A fault is one line, whatever the value that it names was written over.
func TestFaultOnOneLine(t *testing.T) {
	for what, want := range map[string]string{
		"`4.5 baar` is no unit":    "parts.yaml:8:51: `4.5 baar` is no unit; write bar",
		"`1\n\n\t 900 mi` is two":  "parts.yaml:8:51: `1 900 mi` is two; write bar",
		"two  blanks are the same": "parts.yaml:8:51: two  blanks are the same; write bar",
	} {
		f := Fault{Pos: Pos{"parts.yaml", 8, 51}, What: what, Remedy: "write bar"}
		if got := f.Error(); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}
