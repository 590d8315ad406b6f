package main

import (
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
	"github.com/santhosh-tekuri/jsonschema/v6"

	"github.com/paintmark/paintmark/plugins/sdk"
)

var update = flag.Bool("update", false, "rewrite the expected output of the scripts and the README")

func TestMain(m *testing.M) {
	if os.Getenv("PAINTMARK_RUN_MAIN") != "" || sdk.Asked() {
		main()
	}
	testscript.Main(m, map[string]func(){"paintmark": main})
}

// TestScripts runs whole commands and compares all they print. `exits N COMMAND...` runs
// a command that must end with exit code N.
func TestScripts(t *testing.T) {
	cars, err := filepath.Abs(filepath.Join(house, "testdata", "cars"))
	if err != nil {
		t.Fatal(err)
	}
	dir, files := filepath.Join(house, "testdata", "scripts"), []string(nil)
	if testing.Short() {
		// Under the race detector a command takes ten times as long: those that look, write and start
		// plugins, and not the whole day of commands one after the other.
		for _, name := range []string{"check", "in", "plugins"} {
			files = append(files, filepath.Join(dir, name+".txtar"))
		}
		dir = ""
	}
	testscript.Run(t, testscript.Params{
		Dir:                 dir,
		Files:               files,
		UpdateScripts:       *update,
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		Condition:           condition,
		Setup: func(env *testscript.Env) error {
			env.Setenv("CARS", cars)
			env.Setenv("SEASONS", filepath.Join(cars, "..", "seasons"))
			env.Setenv("NO_COLOR", "1")
			for _, place := range []string{"XDG_CACHE_HOME", "HOME", "LocalAppData"} { // of the cache of logs, by system
				env.Setenv(place, filepath.Join(env.WorkDir, ".cache"))
			}
			return nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){"exits": exits, "validates": validates, "nameless": nameless, "agree": agree, "drive": drive, "backto": backTo, "builds": builds},
	})
}

func exits(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: exits CODE COMMAND [ARGUMENT...]")
	}
	want, err := strconv.Atoi(args[0])
	if err != nil {
		ts.Fatalf("exits: %v", err)
	}
	err = ts.Exec(args[1], args[2:]...)
	got := 0
	if failed := new(exec.ExitError); errors.As(err, &failed) {
		got = failed.ExitCode()
	} else if err != nil {
		ts.Fatalf("%s: %v", args[1], err)
	}
	if got != want {
		ts.Fatalf("%s: exit code %d, want %d", args[1], got, want)
	}
}

var recordDigest = regexp.MustCompile(`-[0-9a-f]{6}\.yaml`)

// nameless copies a file, such as stdout, with the digest in the names of records blotted out:
// a run sheet holds what every rule came to, and so changes its name with any rule.
func nameless(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: nameless FROM TO")
	}
	text := recordDigest.ReplaceAllString(ts.ReadFile(args[0]), "-......yaml")
	ts.Check(os.WriteFile(ts.MkAbs(args[1]), []byte(text), 0o666))
}

// agree holds what two JSON reports find of every item against one another; the second must
// have answered some of them from a run sheet.
func agree(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: agree REPORT REPORT")
	}
	type item struct {
		Rule, Position, Outcome  string
		Open                     bool
		Measured, Limit, At, Due any
		Margin                   *float64
		Unseen                   []any
	}
	read := func(name string) (items []item, fromSheet int) {
		var report struct{ Items []json.RawMessage }
		ts.Check(json.Unmarshal([]byte(ts.ReadFile(name)), &report))
		for _, raw := range report.Items {
			var it item
			var from struct{ From struct{ Kind string } }
			ts.Check(errors.Join(json.Unmarshal(raw, &it), json.Unmarshal(raw, &from)))
			items = append(items, it)
			if from.From.Kind == "run sheet" {
				fromSheet++
			}
		}
		return items, fromSheet
	}
	a, _ := read(args[0])
	b, fromSheet := read(args[1])
	if len(a) == 0 || len(a) != len(b) || fromSheet == 0 {
		ts.Fatalf("%d items and %d, %d of them from a run sheet", len(a), len(b), fromSheet)
	}
	for i := range a {
		if !reflect.DeepEqual(a[i], b[i]) {
			ts.Fatalf("%s %s differs:\n%+v\n%+v", a[i].Rule, a[i].Position, a[i], b[i])
		}
	}
}

// builds builds a program of testdata/yard, which is a module of its own, to a file. It is built with
// the caches of whoever tests, not the script's.
func builds(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: builds FOLDER FILE")
	}
	c := exec.Command("go", "build", "-o", ts.MkAbs(args[1]), ".")
	if args[0] == yardNode {
		c = exec.Command("npm", "run", "--silent", "build", "--", "--outfile="+ts.MkAbs(args[1]))
	}
	c.Dir = filepath.Join(house, "testdata", args[0])
	if out, err := c.CombinedOutput(); err != nil {
		ts.Fatalf("%v: %v\n%s", c, err, out)
	}
}

// yardNode is the plugin in JavaScript. What it needs is installed by .ci/run, which says so.
const yardNode = "yard-node"

// condition: [node] holds where the plugin in JavaScript can be built and run. Where .ci/run tests, it
// must be.
func condition(name string) (bool, error) {
	if name != "node" {
		return false, fmt.Errorf("no condition %q", name)
	}
	_, noNode := exec.LookPath("node")
	_, noModules := os.Stat(filepath.Join(house, "testdata", yardNode, "node_modules"))
	err := errors.Join(noNode, noModules)
	if os.Getenv("PAINTMARK_NODE") == "must" {
		return true, err
	}
	return err == nil, nil
}

// validates holds a file against the schema of the JSON report.
func validates(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: validates FILE")
	}
	compiler := jsonschema.NewCompiler()
	compiler.AssertFormat()
	schema, err := compiler.Compile(filepath.Join(house, "schemas", "report.schema.json"))
	ts.Check(err)
	report, err := jsonschema.UnmarshalJSON(strings.NewReader(ts.ReadFile(args[0])))
	ts.Check(err)
	ts.Check(schema.Validate(report))
}
