package pack

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/paintmark/paintmark/internal/schema"
)

func bundled(t testing.TB) []File {
	t.Helper()
	var files []File
	for _, name := range Bundled() {
		f, ok := BundledFile(name)
		if !ok {
			t.Fatalf("no pack in rules/%s", name)
		}
		files = append(files, f)
	}
	return files
}

func roots(t testing.TB) map[string]*schema.Type {
	t.Helper()
	var set schema.Set
	all, err := set.Roots()
	if err != nil {
		t.Fatal(err)
	}
	return all
}

// Every example of every bundled rule, and of the demonstration team's own, comes out as
// it is written.
func TestExamples(t *testing.T) {
	files := bundled(t)
	for _, name := range []string{"cars/tern-3/packs/ashgill-house.yaml"} {
		data, err := os.ReadFile(filepath.Join("../../testdata", filepath.FromSlash(name)))
		if err != nil {
			t.Fatal(err)
		}
		files = append(files, File{Name: name, Data: data})
	}
	results, faults := Try(context.Background(), files, roots(t))
	for _, f := range faults {
		t.Error(f)
	}
	for _, e := range results {
		t.Run(fmt.Sprintf("%s/%d", e.Rule, e.Number), func(t *testing.T) {
			for _, f := range e.Faults {
				t.Error(f)
			}
			if e.Wrong != "" {
				t.Errorf("%s: %s", e.Where, e.Wrong)
			}
		})
	}
}

// The pack shown in the page for those who write packs is one.
func TestPackInReadme(t *testing.T) {
	page, err := os.ReadFile("../../rules/README.md")
	if err != nil {
		t.Fatal(err)
	}
	_, rest, ok := strings.Cut(string(page), "```yaml\n")
	text, _, closed := strings.Cut(rest, "```")
	if !ok || !closed {
		t.Fatal("no pack in the page")
	}
	results, faults := Try(context.Background(), []File{{"README.md", []byte(text)}}, roots(t))
	if len(faults) > 0 || len(results) != 3 {
		t.Fatalf("%d examples, %v", len(results), faults)
	}
	for _, e := range results {
		if !e.OK() {
			t.Errorf("example %d: %s %v", e.Number, e.Wrong, e.Faults)
		}
	}
}
