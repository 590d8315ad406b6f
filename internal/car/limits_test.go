package car

import (
	"slices"
	"testing"
	"testing/fstest"
)

// Which plugins are in use is told before anybody has looked whether limits.yaml is in order: whatever is in it, nothing breaks.
func TestPluginsNamed(t *testing.T) {
	for text, want := range map[string][]string{
		"plugins: [failsafe, own]":    {"failsafe", "own"},
		"plugins:\n  - failsafe\n":    {"failsafe"},
		"plugins: failsafe":           nil,
		"plugins: null":               nil,
		"plugins:":                    nil,
		"plugins: []":                 nil,
		"plugins: {failsafe: true}":   nil,
		"plugins: [[failsafe], {}, ]": {"", ""},
		"plugins: [failsafe":          nil,
		"packs: [engine]":             nil,
		"- plugins":                   nil,
		"plugins":                     nil,
		"\x00":                        nil,
		"":                            nil,
	} {
		if got := PluginsNamed(fstest.MapFS{"limits.yaml": {Data: []byte(text)}}); !slices.Equal(got, want) {
			t.Errorf("%q: %q, want %q", text, got, want)
		}
	}
	if got := PluginsNamed(fstest.MapFS{}); got != nil {
		t.Errorf("without limits.yaml: %q", got)
	}
}
