package readiness

import (
	"slices"
	"testing"

	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/source"
)

// What is said of one place twice is said once, with the most words; what keeps more from being looked at is not lost for it,
// nor what another place or another remedy is about.
func TestFaultsSaidOnce(t *testing.T) {
	fault := func(line int, what, remedy string, systems ...string) check.ToolFault {
		return check.ToolFault{Fault: source.Fault{Pos: source.Pos{File: "limits.yaml", Line: line, Column: 9}, What: what, Remedy: remedy}, Systems: systems}
	}
	for _, c := range []struct {
		name   string
		faults []check.ToolFault
		want   []string
	}{
		{"one with more words", []check.ToolFault{fault(7, "`2 9` is two", "write one"), fault(7, "limit `close`: `2 9` is two", "write one")}, []string{"limit `close`: `2 9` is two"}},
		{"the same twice", []check.ToolFault{fault(7, "a", "b"), fault(7, "a", "b")}, []string{"a"}},
		{"of the whole car, and of the wing", []check.ToolFault{fault(7, "a", "b"), fault(7, "limit: a", "b", "wing")}, []string{"a", "limit: a"}},
		{"of the wing, and of the whole car", []check.ToolFault{fault(7, "a", "b", "wing"), fault(7, "limit: a", "b")}, []string{"limit: a"}},
		{"two remedies", []check.ToolFault{fault(7, "a", "b"), fault(7, "limit: a", "c")}, []string{"a", "limit: a"}},
		{"two places", []check.ToolFault{fault(6, "a", "b"), fault(7, "limit: a", "b")}, []string{"a", "limit: a"}},
		{"no place", []check.ToolFault{fault(0, "a", "b"), fault(0, "limit: a", "b")}, []string{"a", "limit: a"}},
	} {
		var got []string
		for _, f := range sortFaults(c.faults) {
			got = append(got, f.What)
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
}
