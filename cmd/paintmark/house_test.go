package main

import (
	"go/parser"
	"go/token"
	"io/fs"
	"maps"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

const (
	module = "github.com/paintmark/paintmark/"
	house  = "../.."
)

// mayImport is the package table: what each package may import of this module.
// Growing it is a decision about the design, not a repair of a red test.
var mayImport = map[string][]string{
	"cmd/paintmark":       {"*"},
	"internal/source":     {},
	"internal/units":      {},
	"internal/check":      {"internal/source", "internal/units"},
	"internal/schema":     {"internal/source", "internal/units", "schemas"},
	"internal/trade":      {},
	"internal/kernel":     {},
	"internal/runlog":     {"internal/source", "internal/units", "internal/kernel"},
	"internal/expr":       {"internal/source", "internal/units", "internal/check", "internal/schema", "internal/kernel", "internal/trade"},
	"internal/pack":       {"internal/source", "internal/units", "internal/check", "internal/schema", "internal/kernel", "internal/expr", "rules"},
	"internal/car":        {"internal/source", "internal/units", "internal/schema", "schemas"},
	"internal/life":       {"internal/source", "internal/units", "internal/schema", "internal/car", "internal/trade"},
	"internal/pluginhost": {"internal/check", "internal/source", "schemas/plugin/v1"},
	"internal/readiness":  {"*", "!internal/report"},
	"internal/demo":       {"internal/units", "internal/trade", "testdata/cars"},
	"internal/report":     {"internal/check", "internal/source", "internal/units"},
	"plugins":             {"plugins/sdk", "plugins/classregs", "plugins/failsafe", "plugins/hydraulics", "plugins/partlife", "plugins/sensorhealth"},
	"plugins/sdk":         {"schemas/plugin/v1"},
	"plugins/sdk/sdktest": {"plugins/sdk"},
	// Bundled plugins know the author kit and the trade, nothing else of the house.
	"plugins/classregs":    {"plugins/sdk", "plugins/sdk/sdktest", "internal/trade"},
	"plugins/failsafe":     {"plugins/sdk", "plugins/sdk/sdktest", "internal/trade"},
	"plugins/hydraulics":   {"plugins/sdk", "plugins/sdk/sdktest", "internal/trade"},
	"plugins/partlife":     {"plugins/sdk", "plugins/sdk/sdktest", "internal/trade"},
	"plugins/sensorhealth": {"plugins/sdk", "plugins/sdk/sdktest", "internal/trade"},
	"schemas":              {},
	"schemas/plugin/v1":    {},
	"rules":                {},
	"testdata/cars":        {},
}

// door is the only package that may import a library. The kit has go-plugin's server side, the
// host its client; a kit that an outside program builds with cannot go through a door of ours.
var door = map[string]string{
	"go.yaml.in/yaml/v4":              "internal/source",
	"github.com/google/cel-go":        "internal/expr",
	"github.com/spf13/viper":          "cmd/paintmark",
	"github.com/spf13/cobra":          "cmd/paintmark",
	"github.com/fatih/color":          "internal/report",
	"github.com/hashicorp/go-plugin":  "internal/pluginhost",
	"gonum.org/v1/gonum":              "internal/trade",
	"github.com/google/jsonschema-go": "internal/schema",
}

func TestImportsFollowThePackageTable(t *testing.T) {
	seen := 0
	err := filepath.WalkDir(house, func(file string, entry fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if entry.IsDir() {
			// testdata/bench is a module of its own: a program to compare with, not a part of this one.
			if name := entry.Name(); file != house && strings.HasPrefix(name, ".") || hasFile(file, "go.mod") && file != house {
				return filepath.SkipDir
			}
			return nil
		}
		if !strings.HasSuffix(file, ".go") {
			return nil
		}
		rel, err := filepath.Rel(house, file)
		if err != nil {
			return err
		}
		pkg, test := path.Dir(filepath.ToSlash(rel)), strings.HasSuffix(file, "_test.go")
		allowed, known := mayImport[pkg]
		if !known {
			t.Errorf("%s: package %s is not in the package table", rel, pkg)
			return nil
		}
		parsed, err := parser.ParseFile(token.NewFileSet(), file, nil, parser.ImportsOnly)
		if err != nil {
			return err
		}
		seen++
		for _, spec := range parsed.Imports {
			imported, err := strconv.Unquote(spec.Path.Value)
			if err != nil {
				return err
			}
			if own, ok := strings.CutPrefix(imported, module); ok {
				// A test may look further than its package: it is no part of the program.
				if !test && !may(allowed, own) {
					t.Errorf("%s imports %s; %s may not", rel, own, pkg)
				}
				continue
			}
			for library, only := range door {
				if !test && pkg != only && !(pkg == "plugins/sdk" && library == "github.com/hashicorp/go-plugin") && (imported == library || strings.HasPrefix(imported, library+"/")) {
					t.Errorf("%s imports %s; its only door is %s", rel, imported, only)
				}
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if seen < 10 {
		t.Fatalf("looked at %d files only: the walk is broken", seen)
	}
}

func TestMay(t *testing.T) {
	for _, c := range []struct {
		allowed  []string
		imported string
		want     bool
	}{
		{nil, "internal/units", false},
		{[]string{"internal/units"}, "internal/units", true},
		{[]string{"internal/units"}, "internal/units/x", false},
		{[]string{"*"}, "internal/report", true},
		{[]string{"*", "!internal/report"}, "internal/report", false},
		{[]string{"*", "!internal/report"}, "internal/car", true},
	} {
		if got := may(c.allowed, c.imported); got != c.want {
			t.Errorf("may(%v, %q) = %v, want %v", c.allowed, c.imported, got, c.want)
		}
	}
}

func may(allowed []string, imported string) bool {
	if slices.Contains(allowed, "!"+imported) {
		return false
	}
	return slices.Contains(allowed, "*") || slices.Contains(allowed, imported)
}

func hasFile(dir, name string) bool {
	_, err := os.Stat(filepath.Join(dir, name))
	return err == nil
}

// TestTopLevel keeps the front door tidy: nothing at the top but what the design has there.
func TestTopLevel(t *testing.T) {
	want := map[string]bool{
		"cmd": true, "rules": true, "plugins": true, "internal": true, "testdata": true, "schemas": true,
		"go.mod": false, "go.sum": false, "README.md": false, "DEVELOPERS.md": false, "LICENSE": false,
	}
	entries, err := os.ReadDir(house)
	if err != nil {
		t.Fatal(err)
	}
	found := map[string]bool{}
	for _, e := range entries {
		if strings.HasPrefix(e.Name(), ".") {
			continue
		}
		folder, known := want[e.Name()]
		if !known || folder != e.IsDir() {
			t.Errorf("%s does not belong at the top", e.Name())
		}
		found[e.Name()] = true
	}
	for _, name := range slices.Sorted(maps.Keys(want)) {
		if !found[name] {
			t.Errorf("%s is missing at the top", name)
		}
	}
}
