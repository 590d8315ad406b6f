package expr

import (
	"flag"
	"os"
	"strings"
	"testing"

	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
)

var update = flag.Bool("update", false, "write testdata/faults.txt anew; read every line of the difference")

// testdata/faults.txt holds expressions, each followed by the faults it must give where
// a yes or no is wanted: `line:column: message`, indented.
func TestFaultsAtTheirPlace(t *testing.T) {
	const file = "testdata/faults.txt"
	data, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	e := testEnv(t)
	var fresh strings.Builder
	expressions := 0
	lines := strings.Split(strings.TrimSuffix(string(data), "\n"), "\n")
	for i := 0; i < len(lines); {
		expression := lines[i]
		var want []string
		for i++; i < len(lines) && strings.HasPrefix(lines[i], "\t"); i++ {
			want = append(want, strings.TrimPrefix(lines[i], "\t"))
		}
		expressions++
		_, faults := e.Compile(plain(expression), Truth)
		var got []string
		for _, f := range faults {
			got = append(got, strings.TrimPrefix(f.Error(), "rules.yaml:"))
		}
		if len(got) == 0 {
			t.Errorf("%s: no fault", expression)
		}
		fresh.WriteString(expression + "\n")
		for _, g := range got {
			fresh.WriteString("\t" + g + "\n")
		}
		if !*update && strings.Join(got, "\n") != strings.Join(want, "\n") {
			t.Errorf("%s\n got %s\nwant %s", expression, strings.Join(got, "\n     "), strings.Join(want, "\n     "))
		}
	}
	if *update {
		if err := os.WriteFile(file, []byte(fresh.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if expressions < 60 {
		t.Errorf("only %d expressions", expressions)
	}
}

// An expression's places are those in the file, whatever way it is written there.
func TestPlacesInYAML(t *testing.T) {
	const doc = `rules:
  - measure: log.min(oil_presure)
  - measure: 'log.min(oil_presure)'
  - measure: "log.min(oil_presure)"
  - measure: |
      log.min(oil_pressure -
        at(limits.oil_lin, rpm))
  - {measure: log.min(oil_presure), unit: bar}
  - measure: car.name == "é" && log.min(oil_presure) > bar(3.0)
  - measure: |
      car.name == "°°" ||
        car.nme == "x"
  - measure: >
      log.min(oil_pressure)
  - measure: [1, 2]
`
	want := []string{
		"rules.yaml:2:22: there is no name `oil_presure`; did you mean oil_pressure?",
		"rules.yaml:3:23: there is no name `oil_presure`; did you mean oil_pressure?",
		"rules.yaml:4:23: there is no name `oil_presure`; did you mean oil_pressure?",
		"rules.yaml:7:19: limits has no `oil_lin`; did you mean oil_line?",
		"rules.yaml:8:23: there is no name `oil_presure`; did you mean oil_pressure?",
		"rules.yaml:9:41: there is no name `oil_presure`; did you mean oil_pressure?",
		"rules.yaml:12:13: car has no `nme`; did you mean name?",
		"rules.yaml:13:14: an expression cannot be folded with >; use | instead of >",
		"rules.yaml:15:14: an expression that starts with [ is a list here; quote it",
	}
	root, faults := source.ParseYAML("rules.yaml", []byte(doc))
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	e := testEnv(t)
	for i, rule := range root.Get("rules").Items {
		_, faults := e.Compile(rule.Get("measure"), Value)
		if len(faults) != 1 || faults[0].Error() != want[i] {
			t.Errorf("got %v\nwant %s", faults, want[i])
		}
	}
}

func TestWants(t *testing.T) {
	e := testEnv(t)
	for _, c := range []struct {
		text string
		want Want
		is   string
	}{
		{"limits.ratio > 1.0", Value, "a number is wanted here, not a yes or no"},
		{"car.name", Value, "a number is wanted here, not a text"},
		{"3u", Value, "a number is wanted here, not a whole number"},
		{"limits.ratio", TextOf, "a text is wanted here, not a number"},
		{"car.name", ListOf, "a list is wanted here, not a text"},
		{"car", ListOf, "a list is wanted here, not car"},
		{"[]", ListOf, "what is in this list is not one kind of value; list objects, texts, numbers or dates"},
		{"limits.ratio", Truth, "a yes or no is wanted here, not a number; compare it with something"},
	} {
		_, faults := e.Compile(plain(c.text), c.want)
		if len(faults) != 1 || faults[0].Error() != "rules.yaml:1:1: "+c.is {
			t.Errorf("%s: %v", c.text, faults)
		}
	}
}

func TestScopeFaults(t *testing.T) {
	derived := func(name, text string) Derived {
		n := plain(text)
		n.Pos = source.Pos{File: "derived.yaml", Line: len(name), Column: 10}
		return Derived{name, n}
	}
	s := testScope()
	s.Channels["car"] = Channel{}
	s.Channels["in"] = Channel{}
	s.Derived = []Derived{
		derived("a", "b || rpm > rpm(1.0)"),
		derived("bb", "rpm > bar(3.0)"),
		derived("b", "c && shift_active"),
		derived("c", "a"),
		derived("ddd", "limits.ratio > 1.0"),
		derived("eeee", "log.max(rpm) > rpm(1.0) && shift_active"),
		derived("fffff", `shift_active ? car.name : "x"`),
		derived("plan", "shift_active"),
		derived("hhhhhhhh", "rmp > rpm(3.0)"),
	}
	e, faults := NewEnv(s)
	want := []string{
		"channel `car` has the name of a document; give it another name",
		"channel `in` has the name of a CEL word; give it another name",
		"derived.yaml:1:10: derived `c` comes back to itself through a -> b -> c -> a; write one of them out in channels",
		"derived.yaml:2:16: a speed of rotation does not compare with a pressure",
		"derived.yaml:3:10: derived `ddd` reads no channel; a value that is the same all through a log goes into limits",
		"derived.yaml:4:10: a derived name is worked out sample by sample and cannot ask log.max; put that into the rule",
		"derived.yaml:4:10: derived `plan` has the name of a document; give it another name",
		"derived.yaml:5:23: this cannot be worked out for each sample; inside log.* use + - * /, comparisons, && || !, ?:, abs, least, greatest, at and the functions of samples",
		"derived.yaml:8:10: there is no name `rmp`; did you mean rpm?",
	}
	if got := faults.Sorted().Error(); got != strings.Join(want, "\n") {
		t.Errorf("got\n%s\nwant\n%s", got, strings.Join(want, "\n"))
	}
	_, faults = e.Compile(plain("log.ever(b)"), Truth)
	if got := faults.Error(); got != "rules.yaml:1:10: derived `b` has a fault of its own; put that right first" {
		t.Error(got)
	}
}

// A name that Derived takes over from Channels is the derived one.
func TestDerivedBeforeChannel(t *testing.T) {
	s := testScope()
	s.Channels["fast"] = Channel{Shape: YesNo}
	e, faults := NewEnv(s)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	x := compile(t, e, "log.ever(fast)", Truth)
	if got := strings.Join(x.Channels(), " "); got != "rpm" {
		t.Errorf("reads %q", got)
	}
}

func TestWith(t *testing.T) {
	e := testEnv(t)
	x := compile(t, e, "car.corners", ListOf)
	in := e.With(map[string]*schema.Type{"corner": x.Type()})
	if got := in.Taken("corner") + e.Taken("corner") + e.Taken("car") + e.Taken("rpm") + e.Taken("fast") + e.Taken("for"); got != "another elementa documenta channela derived namea CEL word" {
		t.Errorf("taken: %s", got)
	}
	compile(t, in, `measured.pad[corner.position] > mm(3.0) && corner.camber < deg(0.0)`, Truth)
	_, faults := in.Compile(plain("corner.positon == 'FL'"), Truth)
	if len(faults) != 1 || faults[0].Error() != "rules.yaml:1:8: car.corners has no `positon`; did you mean position?" {
		t.Error(faults)
	}
	if _, faults := e.Compile(plain("corner.position == 'FL'"), Truth); len(faults) != 1 {
		t.Errorf("the scope without the element knows it: %v", faults)
	}
}

// Whoever writes rules finds every function in the guide, as it is written.
func TestGuideNamesEveryFunction(t *testing.T) {
	guide, err := os.ReadFile("../../rules/README.md")
	if err != nil {
		t.Fatal(err)
	}
	units := map[string]bool{}
	for _, f := range unitFunctions() {
		units[f.name] = true
	}
	for name, f := range functionsByName() {
		if units[name] {
			continue
		}
		form, _, _ := strings.Cut(f.words, " or ")
		if !strings.Contains(string(guide), "`"+form+"`") {
			t.Errorf("rules/README.md does not name `%s`", form)
		}
	}
}
