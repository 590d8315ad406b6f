package plugins_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// The guide's plugin is a module of its own; what is printed is what is built, and what
// testdata/scripts/admit.txtar takes through a car's life.
const yard = "../testdata/yard"

func TestGuideIsTheProgram(t *testing.T) {
	guide, err := os.ReadFile("README.md")
	if err != nil {
		t.Fatal(err)
	}
	program, err := os.ReadFile(filepath.Join(yard, "main.go"))
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(string(guide), "```go\n"+string(program)+"```") {
		t.Error("the guide does not print testdata/yard/main.go")
	}
}
