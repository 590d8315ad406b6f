package pack

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/paintmark/paintmark/internal/expr"
	"github.com/paintmark/paintmark/internal/source"
)

// A refusal is written beside the line it is about: `#! COLUMN: what; remedy`, or, where
// the line is inside a block, above it with the number of lines below: `#! +2 COLUMN: ..`.
// Several on one line are parted by ` #! `.
var refusal = regexp.MustCompile(`^(?:\+(\d+) )?(\d+): (.*)$`)

func refusals(t *testing.T, name, text string) []string {
	t.Helper()
	var out []string
	for i, line := range strings.Split(text, "\n") {
		parts := strings.Split(line, "#! ")
		for _, part := range parts[1:] {
			m := refusal.FindStringSubmatch(strings.TrimSpace(part))
			if m == nil {
				t.Fatalf("%s:%d: cannot read the refusal %q", name, i+1, part)
			}
			below, _ := strconv.Atoi(m[1])
			out = append(out, fmt.Sprintf("%s:%d:%s: %s", name, i+1+below, m[2], m[3]))
		}
	}
	return out
}

// Each broken pack is refused as is written in it, all at once, and its good rule comes out.
func TestBrokenPacks(t *testing.T) {
	names, err := filepath.Glob("../../testdata/packs/broken/*.yaml")
	if err != nil || len(names) < 20 {
		t.Fatalf("%d broken packs, %v", len(names), err)
	}
	scope := expr.Scope{Roots: roots(t)}
	for _, path := range names {
		name := filepath.Base(path)
		t.Run(name, func(t *testing.T) {
			data, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			want := refusals(t, name, string(data))
			if len(want) == 0 {
				t.Fatal("no refusal is written in it")
			}
			packs, faults := Load([]File{{Name: name, Data: data}}, scope, nil)
			var got []string
			for _, f := range faults {
				got = append(got, f.Error())
			}
			if !slices.Equal(got, want) {
				t.Errorf("refused with\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
			}
			if strings.Contains(string(data), "# not YAML") {
				return
			}
			if len(packs) != 1 || !slices.ContainsFunc(packs[0].Rules, func(r *Rule) bool { return r.ID == "engine.oil-hot" || r.ID == "engine.oil-pressure" }) {
				t.Errorf("the good rule did not come out")
			}
			for _, p := range packs {
				for _, r := range p.Rules {
					if at := r.Where.Line; slices.ContainsFunc(faults, func(f source.Fault) bool { return f.Pos.Line == at }) {
						t.Errorf("%s came out although it is at fault", r.ID)
					}
				}
			}
		})
	}
}
