package main

import (
	"errors"
	"flag"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
	"github.com/santhosh-tekuri/jsonschema/v6"
)

var update = flag.Bool("update", false, "rewrite the expected output of the scripts and the README")

func TestMain(m *testing.M) {
	if os.Getenv("PAINTMARK_RUN_MAIN") != "" {
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
	testscript.Run(t, testscript.Params{
		Dir:                 filepath.Join(house, "testdata", "scripts"),
		UpdateScripts:       *update,
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		Setup: func(env *testscript.Env) error {
			env.Setenv("CARS", cars)
			env.Setenv("SEASONS", filepath.Join(cars, "..", "seasons"))
			env.Setenv("NO_COLOR", "1")
			return nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){"exits": exits, "validates": validates, "nameless": nameless, "drive": drive, "backto": backTo},
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
