package plugins_test

import (
	"encoding/json"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"runtime"
	"strings"
	"testing"
)

// The guide's plugin is a module of its own; what is printed is what is built.
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

// report is what matters here of a JSON report.
type report struct {
	Verdict string
	Faults  []struct{ Message string }
	Items   []struct{ Rule, Position, Outcome, Message string }
}

func (r report) others() (out []string) {
	for _, it := range r.Items {
		if !strings.HasPrefix(it.Rule, "yard.") {
			out = append(out, it.Rule+" "+it.Position+": "+it.Outcome+" "+it.Message)
		}
	}
	return out
}

func (r report) outcome(rule string) string {
	for _, it := range r.Items {
		if it.Rule == rule {
			return it.Outcome
		}
	}
	return ""
}

// TestOutsidePlugin builds a plugin outside this module and takes it through a car's life with
// it: named and not there, admitted, at work, and no longer what was admitted. Whatever becomes of
// it, every other item is there and the same.
func TestOutsidePlugin(t *testing.T) {
	if testing.Short() {
		t.Skip("builds two programs")
	}
	dir := t.TempDir()
	suffix := ""
	if runtime.GOOS == "windows" {
		suffix = ".exe"
	}
	paintmark, plugin, car := filepath.Join(dir, "paintmark"+suffix), filepath.Join(dir, "yard"+suffix), filepath.Join(dir, "car")
	build(t, "..", paintmark, "./cmd/paintmark")
	build(t, yard, plugin, ".")
	run := func(code int, args ...string) string {
		t.Helper()
		c := exec.Command(paintmark, args...)
		c.Dir = dir
		c.Env = append(os.Environ(), "HOME="+dir, "XDG_CACHE_HOME="+filepath.Join(dir, "cache"), "LocalAppData="+filepath.Join(dir, "cache"))
		out, err := c.Output()
		got := 0
		var exit *exec.ExitError
		if errors.As(err, &exit) {
			got = exit.ExitCode()
		} else if err != nil {
			t.Fatal(err)
		}
		if got != code {
			said := ""
			if exit != nil {
				said = string(exit.Stderr)
			}
			t.Fatalf("paintmark %s: exit code %d, want %d\n%s%s", strings.Join(args, " "), got, code, out, said)
		}
		return string(out)
	}
	look := func(code int) (r report) {
		t.Helper()
		if err := json.Unmarshal([]byte(run(code, "check", "car", "--format", "json")), &r); err != nil {
			t.Fatal(err)
		}
		return r
	}
	change := func(file, old, with string) {
		t.Helper()
		path := filepath.Join(car, file)
		text, err := os.ReadFile(path)
		if err != nil || !strings.Contains(string(text), old) {
			t.Fatalf("%s does not say %q: %v", file, old, err)
		}
		if err := os.WriteFile(path, []byte(strings.Replace(string(text), old, with, 1)), 0o644); err != nil {
			t.Fatal(err)
		}
	}

	run(0, "demo", "car", "--healthy")
	before := look(0)
	change("limits.yaml", "hydraulics]\n", "hydraulics, yard]\n")
	absent := look(2)
	if !strings.Contains(run(0, "plugin", "admit", plugin, "--car", car), "yard") {
		t.Error("admitting does not name the plugin")
	}
	admitted := look(0)
	if got := admitted.outcome("yard.oil-swing"); got != "pass" || admitted.Verdict != "ready" {
		t.Errorf("admitted: %q, %s", got, admitted.Verdict)
	}
	change("limits.yaml", "\nlimits:", "\nlimits:\n  yard: {swing_max: {value: 1 bar}}")
	tight := look(1)
	if got := tight.outcome("yard.oil-swing"); got != "fail" {
		t.Errorf("with a limit of 1 bar: %q", got)
	}
	text, err := os.ReadFile(filepath.Join(car, "admitted.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	at := strings.LastIndex(string(text), runtime.GOOS+"-"+runtime.GOARCH+":")
	if at < 0 {
		t.Fatalf("admitted.yaml does not name this platform:\n%s", text)
	}
	digest := strings.Trim(strings.Fields(string(text[at:]))[1], `"},`)
	change("admitted.yaml", digest, strings.Repeat("0", 64))
	other := look(2)
	for what, r := range map[string]report{"not admitted": absent, "admitted": admitted, "tight": tight, "other bytes": other} {
		if !reflect.DeepEqual(r.others(), before.others()) {
			t.Errorf("%s: other items changed", what)
		}
		if faulty := r.Verdict == "no-go" && len(r.Faults) == 1; faulty != (what == "not admitted" || what == "other bytes") {
			t.Errorf("%s: %s, faults %v", what, r.Verdict, r.Faults)
		}
	}
}

func build(t *testing.T, in, to, what string) {
	t.Helper()
	c := exec.Command("go", "build", "-o", to, what)
	c.Dir = in
	if out, err := c.CombinedOutput(); err != nil {
		t.Fatalf("go build %s: %v\n%s", what, err, out)
	}
}
