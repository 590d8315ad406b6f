package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// readme is README.md with the blocks that must be true.
type readme struct{ text string }

func readReadme(t *testing.T) *readme {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(house, "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	return &readme{string(text)}
}

// block finds the fenced block that follows the line starting with after.
func (r *readme) block(t *testing.T, after, kind string) (start, end int) {
	t.Helper()
	at := strings.Index(r.text, after)
	if at < 0 {
		t.Fatalf("README.md no longer says %q", after)
	}
	open := strings.Index(r.text[at:], "\n```"+kind+"\n")
	if open < 0 {
		t.Fatalf("README.md has no %s block after %q", kind, after)
	}
	start = at + open + len("\n```"+kind+"\n")
	return start, start + strings.Index(r.text[start:]+"\n", "\n```") + 1
}

// top is the top of the house wherever a test has gone since.
var top, _ = filepath.Abs(house)

// output runs a command from the top of the house, as a reader would.
func output(t *testing.T, args ...string) string {
	t.Helper()
	t.Chdir(top)
	var out, errs bytes.Buffer
	run(context.Background(), args, &out, &errs)
	return out.String() + errs.String()
}

// TestReadmeShowsWhatIsPrinted: what the README says the commands print, they print.
func TestReadmeShowsWhatIsPrinted(t *testing.T) {
	r := readReadme(t)
	for _, c := range []struct {
		after string
		args  []string
	}{
		{"Bank, and prints:", []string{"check", "testdata/cars/tern-3"}},
		{"dead shift sensor:", []string{"life", "testdata/seasons/lowmoor"}},
	} {
		want := output(t, c.args...)
		start, end := r.block(t, c.after, "text")
		if *update {
			r.text = r.text[:start] + want + r.text[end:]
			if err := os.WriteFile(filepath.Join(top, "README.md"), []byte(r.text), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		if got := r.text[start:end]; !*update && got != want {
			t.Errorf("README.md does not show what %v prints (go test ./cmd/paintmark -update)\n--- README\n%s--- printed\n%s", c.args, got, want)
		}
	}
}

// TestReadmeRuleWorks takes the rule out of the README and tries it.
func TestReadmeRuleWorks(t *testing.T) {
	r := readReadme(t)
	start, end := r.block(t, "## A rule in five minutes", "yaml")
	file := filepath.Join(t.TempDir(), "ours.yaml")
	if err := os.WriteFile(file, []byte(r.text[start:end]), 0o644); err != nil {
		t.Fatal(err)
	}
	if got, want := output(t, "pack", "try", file), "1 rules, 3 examples, all as written\n"; got != want {
		t.Errorf("printed %q, want %q", got, want)
	}
}

// TestReadmeNamesEveryCommand: a command nobody is told of is not there.
func TestReadmeNamesEveryCommand(t *testing.T) {
	r := readReadme(t)
	for _, c := range newRoot().Commands() {
		if c.IsAvailableCommand() && !strings.Contains(r.text, "`"+c.Name()+" ") && c.Name() != "version" {
			t.Errorf("README.md does not name %s", c.Name())
		}
	}
}
