package pack

import (
	"context"
	"fmt"
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

// Every example of every bundled rule comes out as it is written.
func TestBundledExamples(t *testing.T) {
	results, faults := Try(context.Background(), bundled(t), roots(t))
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
