package source

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// Each broken text with the faults it must give, as line:column: words; remedy.
func TestParseYAMLRefuses(t *testing.T) {
	tests := []struct {
		name, text string
		want       string
	}{
		{"colon in a plain value", "measure: a ? b : c\n", "1:16: `: ` inside a plain value starts a value of its own; use a | block or quotes"},
		{"not sign is a tag", "holds: !car.wing.locked\n", "1:8: !car.wing.locked is a tag here, not an expression; quote it"},
		{"not sign with more", "holds: !car.wing && b\n", "1:8: !car.wing is a tag here, not an expression; quote it"},
		{"two not signs", "h: !a!b\n", "1:4: a plain value cannot start with `!`: that is a tag; quote it"},
		{"lone not sign", "h: ! a\n", "1:4: ! is a tag here, not an expression; quote it"},
		{"standard tag", "a: !!str 12\n", "1:4: !!str is a tag; delete it; every value is kept as the text written, and quotes do the rest"},
		{"space after the minus", "toe: - 0.10 deg\n", "1:6: `- ` starts a list item here; no space after the minus; a list goes on lines of its own or in [ ]"},
		{"at sign", "a: @x\n", "1:4: a plain value cannot start with `@`; quote it"},
		{"per cent sign", "a: %x\n", "1:4: a plain value cannot start with `%`; quote it"},
		{"backtick", "a: `x\n", "1:4: a plain value cannot start with a backtick; quote it"},
		{"star", "a: *a\n", "1:4: *a is an alias here; quote it, or write the repeated value out"},
		{"star and more", "a: *a * b\n", "1:4: a plain value cannot start with `*`; quote it"},
		{"quote and more", `a: "x" + y`, "1:8: there is more after the closing quote; quote the whole value, or use a | block"},
		{"list and more", "a: [1] + 2\n", "1:8: there is more after the closing ]; quote the whole value, or use a | block"},
		{"map and more", "a: {b: 1} + 2\n", "1:11: there is more after the closing }; quote the whole value, or use a | block"},
		{"quote and more in a map", "a: {b: 'x' + y}\n", "1:12: a value inside { was already at its end here; put the whole value in quotes"},
		{"comma first", "a: ,\n", "1:4: a value cannot start with `,`; quote it, or write the missing value"},
		{"two texts", "'x' + y\n", "1:5: this does not belong to what stands above; indent it like its neighbours, or quote the whole value"},
		{"quote that ends at the next, indented", "a:\n  b: 'c\n  d: e's\n", "2:6: the quote that opens here ends only in line 3; close it on its own line"},
		{"colon in a map value", "a: {text: sheet: rev B}\n", "1:16: `: ` inside a plain value starts a value of its own; put the whole value in quotes"},
		{"choice in a map value", "a: {b: x ? y : z}\n", "1:14: `: ` inside a plain value starts a value of its own; put the whole value in quotes"},
		{"comma left out", "a: {\n  b: 1\n  c: 2\n}\nd: @\n", "3:3: inside { there is no comma before this line; end the line above with one\n5:4: a plain value cannot start with `@`; quote it"},
		{"comparison first", "a: >= 5\n", "1:4: a plain value cannot start with `>`; quote it"},
		{"dash without space", "k:\n- a\n-b\n", "3:1: there is no space after this dash; write `- item`"},
		{"apostrophe", "said: 'pedal's long'\nb: 1\n", "1:14: there is more after the closing quote; quote the whole value, or use a | block"},
		{"wrong bracket", "a: {b: [1, 2}\n", "1:13: a value inside [ was already at its end here; put the whole value in quotes"},
		{"bracket too many", "a: {b}\nc: {d: 1}}\n", "2:10: there is more after the closing }; quote the whole value, or use a | block"},
		{"item in the line of its key", "a: - b\n  - c\n", "1:4: `- ` starts a list item here; no space after the minus; a list goes on lines of its own or in [ ]"},
		{"ends too soon", "a: [b,", "1:7: the file ends where a value was to come; write the value, or close what is open"},
		{"tab first", "\ta: 1\n", "1:1: a tab is used as indentation; use spaces"},
		{"tab under a key", "a:\n\tb: 1\n", "2:1: a tab is used as indentation; use spaces"},
		{"tab after spaces", "a:\n  b: 1\n\tc: 2\n", "3:1: a tab is used as indentation; use spaces"},
		{"tab in a list", "a: [1,\n\t2]\n", "2:1: a tab is used as indentation; use spaces"},
		{"list as key", "? [a, b]\n: c\n", "1:3: a key must be text; write `name: value`; quote an expression that starts with [ or {"},
		{"no key", ": c\n", "1:1: there is no key before this value; write `name: value`, or quote the text"},
		{"anchors", "a: &x 1\nb: &y\n  c: 1\n", "1:4: &x is an anchor here; quote it, or write the repeated value out\n2:4: &y is an anchor here; quote it, or write the repeated value out"},
		{"merge", "<<: {a: 1}\n", "1:1: << would merge another map into this one; write the keys out"},
		{"empty", "", "1:1: there is nothing in this file; write its keys, or delete the file"},
		{"only a comment", "# x\n", "1:1: there is nothing in this file; write its keys, or delete the file"},
		{"open quote", "a: 'x\n", "1:4: a quote opens here and is not closed; close it; for one quote sign in the text use the other kind around it"},
		{"quote that ends at the next", "a: \"b\nc: d\ne: \"f\"\n", "1:4: the quote that opens here ends only in line 3; close it on its own line"},
		{"open map", "a: {b: 1\nc: 2\n", "1:4: the map that { opens here is not closed; close it; put text with brackets, commas or ` #` in quotes"},
		{"comment in a map", "a: {text: a #b}\nc: 1\n", "1:4: the map that { opens here is not closed: ` #` starts a comment; put text with ` #` in quotes"},
		{"indented too far", "a: 1\n b: 2\n", "2:2: this line is indented under one that already has a value; indent it like its neighbours"},
		{"list among keys", "a: b\n- c\n", "2:1: a list item stands among the keys of a map; indent it under its key"},
		{"key among items", "- a\nb: 1\n", "2:1: this line does not line up with those above; indent it like its neighbours"},
		{"unknown escape", `a: "x\qy"`, "1:6: this \\ is no escape that YAML knows; use single quotes, or write \\\\"},
		{"text after the bar", "a: |x\n  foo\n", "1:5: there is more on the line of the `|`; start the text on the next line, indented"},
		{"question mark", "a: ? b\n", "1:4: `? ` starts a key here; quote it"},
		{"no space after the colon", "a:b\nc: 1\n", "1:2: there is no space after this colon; write `name: value`"},
		{"no colon", "a: 1\nfoo\nb: 2\n", "2:1: this line has no `: `; write `name: value`; indent text that goes on under a |"},
		{"no colon in the first line", "a\nc: 1\n", "1:1: this line has no `: `; write `name: value`; indent text that goes on under a |"},
		{"directive", "%YAML 1.2\n---\na: 1\n", "1:1: a line that starts with `%` is an order to the YAML reader; delete it, or quote the text"},
		{"second document", "a: 1\n---\nb: 2\n", "2:1: a second document starts here; delete the --- line, or put the rest in a file of its own"},
		{"same key", "a: 1\nb: {x: 1, y: 2, x: 3}\na: 2\n", "2:17: key \"x\" was already written in line 2; keep one of the two\n3:1: key \"a\" was already written in line 1; keep one of the two"},
		{"same key in quotes", "a: 1\n'a': 2\n", "2:1: key \"a\" was already written in line 1; keep one of the two"},
		{"latin 1", "t: 95 \xb0C\n", "1:7: byte 0xb0 is not UTF-8; save the file as UTF-8; look at signs such as ° or ·"},
		{"unseen characters", "°: x\x01\u0085\n\u2028\n", "1:5: character U+0001 cannot be seen here; delete it\n1:6: character U+0085 cannot be seen here; delete it\n2:1: character U+2028 cannot be seen here; delete it"},
		{"lone carriage return", "a: 1\rb: 2\n", "1:5: a carriage return stands alone; save the file with LF or CRLF line ends"},
		{"too deep", "a: " + strings.Repeat("[", 100) + strings.Repeat("]", 100), "1:68: more than 64 lists or maps inside each other; write it flatter"},
		{
			"all at once", "a: @x\nb: [1, 2\nc: x: y\nd: *d\ne:\n  f: `g`\n  h: ok\ni: 1\ni: 2\n",
			"1:4: a plain value cannot start with `@`; quote it\n" +
				"2:4: the list that [ opens here is not closed; close it; put text with brackets, commas or ` #` in quotes\n" +
				"3:5: `: ` inside a plain value starts a value of its own; use a | block or quotes\n" +
				"4:4: *d is an alias here; quote it, or write the repeated value out\n" +
				"6:6: a plain value cannot start with a backtick; quote it\n" +
				"9:1: key \"i\" was already written in line 8; keep one of the two",
		},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			for _, text := range []string{tt.text, strings.ReplaceAll(tt.text, "\n", "\r\n")} {
				_, fs := ParseYAML("f.yaml", []byte(text))
				if got := strings.ReplaceAll(fs.Error(), "f.yaml:", ""); got != tt.want {
					t.Errorf("%q\n got %s\nwant %s", text, got, tt.want)
				}
			}
		})
	}
	t.Run("UTF-16", func(t *testing.T) {
		_, fs := ParseYAML("f.yaml", []byte("\xff\xfea\x00:\x00"))
		if got, want := fs.Error(), "f.yaml: the file is UTF-16 text; save it as UTF-8"; got != want {
			t.Errorf("got %s, want %s", got, want)
		}
	})
}

// Nothing is read as a number, a date, a truth or a null.
func TestScalarsStayText(t *testing.T) {
	for _, text := range []string{"0412", "12E4", "0x1F", "2026-05-16", "2026-05-16T08:15+01:00", "yes", "no", "null", "~", "1_000", "0o17", ".inf", "3:25", "true", "417", "=", "-0.10 deg", "95 °C"} {
		n, fs := ParseYAML("f.yaml", []byte("a: "+text+"\nb: ["+text+"]\n"))
		if len(fs) > 0 {
			t.Errorf("%s: %v", text, fs)
			continue
		}
		if got := n.Get("a").Text; got != text {
			t.Errorf("%s was read as %s", text, got)
		}
		if got := n.Get("b").Items[0].Text; got != text {
			t.Errorf("[%s] was read as %s", text, got)
		}
	}
}

func TestPositions(t *testing.T) {
	const text = "a: 1\nb: °C µ\nc: {é·: 1, x: [p, q]}\nd:\n  - i\n  -  j: k\n  - |\n    t\n"
	want := map[string][2]int{
		"a": {1, 1}, "1": {1, 4}, "b": {2, 1}, "c": {3, 1}, "°C µ": {2, 4}, "é·": {3, 5}, "x": {3, 12}, "p": {3, 16}, "q": {3, 19},
		"d": {4, 1}, "i": {5, 5}, "j": {6, 6}, "k": {6, 9}, "t\n": {7, 5},
	}
	for name, data := range map[string]string{
		"LF": text, "CRLF": strings.ReplaceAll(text, "\n", "\r\n"), "byte order mark": "\ufeff" + text,
	} {
		n, fs := ParseYAML("f.yaml", []byte(data))
		if len(fs) > 0 {
			t.Fatal(name, fs)
		}
		seen := 0
		walk(n, func(n *Node) {
			if n.Kind != Scalar {
				return
			}
			w, ok := want[n.Text]
			if n.Text == "1" && n.Pos.Line == 3 {
				w = [2]int{3, 9}
			}
			if !ok || n.Pos != (Pos{"f.yaml", w[0], w[1]}) {
				t.Errorf("%s: %q at %v, want %v", name, n.Text, n.Pos, w)
			}
			seen++
		})
		if seen != len(want)+1 {
			t.Errorf("%s: %d scalars", name, seen)
		}
	}
}

func walk(n *Node, visit func(*Node)) {
	visit(n)
	for _, i := range n.Items {
		walk(i, visit)
	}
	for _, e := range n.Entries {
		walk(e.Key, visit)
		walk(e.Value, visit)
	}
}

func TestComment(t *testing.T) {
	n, fs := ParseYAML("f.yaml", []byte("said: long pedal #2 again \nb: x#y\nc: 'x' # z\nd: [1, 2 # k\n  ]\ne: 3.90   # note\n"))
	if len(fs) > 0 {
		t.Fatal(fs)
	}
	for key, want := range map[string]string{"said": "#2 again", "b": "", "c": "", "e": "# note"} {
		if got := n.Get(key).Comment; got != want {
			t.Errorf("%s: comment %q, want %q", key, got, want)
		}
	}
	if got := n.Get("d").Items[1].Comment; got != "# k" {
		t.Errorf("comment in a list: %q", got)
	}
}

func TestCommaHint(t *testing.T) {
	tests := []struct{ text, want string }{
		{"{below: least(limits.a, bar(3.0))}", "a comma inside { } starts a new key: put the value of `below` in quotes"},
		{"{kind: supplier, text: data sheet, rev B}", "a comma inside { } starts a new key: put the value of `text` in quotes"},
		{"{value: 1,5 bar}", "a comma is not a decimal point: write `1.5 bar`"},
		{"{life: 20,000 km}", "a comma does not group digits: write `20000 km`, or `20.000 km` if it is a decimal one"},
		{"[1 s, 1,5 bar]", "a comma is not a decimal point: write `1.5 bar`"},
		{"[least(a, b), c]", "a comma inside [ ] starts a new item: put each expression in quotes"},
		{"[1 s, 1.5 bar]", ""},
		{"[bar(-0.03), bar(0.03)]", ""},
		{"{a: 1, b: 2}", ""},
		{"{a: , b: 2}", ""},
		{"x", ""},
	}
	for _, tt := range tests {
		n, fs := ParseYAML("f.yaml", []byte("k: "+tt.text+"\n"))
		if len(fs) > 0 {
			t.Fatal(fs)
		}
		if got := n.Get("k").CommaHint(); got != tt.want {
			t.Errorf("%s: got %q, want %q", tt.text, got, tt.want)
		}
	}
	n, _ := ParseYAML("f.yaml", []byte("k:\n  b:\n"))
	if got := n.Get("k").CommaHint(); got != "" {
		t.Errorf("block map: %q", got)
	}
}

func TestNearest(t *testing.T) {
	names := []string{"shift", "gearbox", "oil_pressure", "oil_temp", "FL", "FR", "no-data"}
	for name, want := range map[string]string{
		"shfit": "shift", "gear_box": "gearbox", "oil_presure": "oil_pressure", "Oil-Temp": "oil_temp",
		"no_data": "no-data", "RL": "FL", "x": "", "": "", "brake": "", "fl": "FL",
	} {
		if got := Nearest(name, names); got != want {
			t.Errorf("%s: got %q, want %q", name, got, want)
		}
	}
}

func TestFaultsSortAndSpeak(t *testing.T) {
	var fs Faults
	if fs.Err() != nil {
		t.Error("no faults are an error")
	}
	fs.Add(Pos{File: "b", Line: 1, Column: 1}, "x", "y")
	fs.Add(Pos{File: "a", Line: 2, Column: 1}, "x", "")
	fs.Add(Pos{File: "b", Line: 1, Column: 1}, "x", "y")
	fs.Add(Pos{}, "z", "")
	fs.Add(Pos{File: "a"}, "w", "v")
	if got, want := fs.Err().Error(), "z\na: w; v\na:2:1: x\nb:1:1: x; y"; got != want {
		t.Errorf("got %q", got)
	}
	var nobody *Node
	if nobody.Get("x") != nil || !nobody.Empty() || nobody.CommaHint() != "" {
		t.Error("no node holds something")
	}
}

func TestFirstOfRepeatedKeysStays(t *testing.T) {
	n, fs := ParseYAML("f.yaml", []byte("a: 1\na: 2\nb: 3\n"))
	if len(fs) != 1 || n == nil || len(n.Entries) != 2 || n.Get("a").Text != "1" {
		t.Errorf("got %+v, %v", n, fs)
	}
}

func TestLargeMapsFindRepeats(t *testing.T) {
	var b strings.Builder
	for i := range 200 {
		b.WriteString(strings.Repeat("k", i+1) + ": x\n")
	}
	b.WriteString("kkk: y\n")
	_, fs := ParseYAML("f.yaml", []byte(b.String()))
	if got, want := fs.Error(), `f.yaml:201:1: key "kkk" was already written in line 3; keep one of the two`; got != want {
		t.Errorf("got %s", got)
	}
}

func TestLimits(t *testing.T) {
	_, fs := ParseYAML("f.yaml", []byte(strings.Repeat("# x\n", MaxYAML/4+1)))
	if len(fs) != 1 || !strings.Contains(fs[0].What, "bytes") {
		t.Errorf("size: %v", fs)
	}
	if _, fs = ParseYAML("f.yaml", []byte(strings.Repeat("a: 1\n", 1000))); len(fs) != maxFaults {
		t.Errorf("%d faults", len(fs))
	}
	_, fs = ParseYAML("f.yaml", []byte("["+strings.Repeat("1,", maxValues)+"]"))
	if len(fs) != 1 || !strings.Contains(fs[0].What, "values") {
		t.Errorf("values: %v", fs)
	}
}

func FuzzParseYAML(f *testing.F) {
	for _, s := range []string{"a: 1\n", "a: {b: [c, 'd''e', \"f\\n\"]}\n", "a: |2\n    x\n\n  y\n", "a: >\n  x\n", "a: &b 1\nc: *b\n", "\ta: !x y\n", "? [a]\n: b\n", "a: 'x\n  y'\r\nb: p\r\n  q\r\n", "a: °C # µ\n---\nb: @\n"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		n, fs := ParseYAML("f.yaml", data)
		if n == nil && len(fs) == 0 {
			t.Fatal("neither a node nor a fault")
		}
		lines := strings.Split(strings.ReplaceAll(strings.TrimPrefix(string(data), "\ufeff"), "\r\n", "\n"), "\n")
		for _, fault := range fs {
			if fault.What == "" || fault.Remedy == "" {
				t.Errorf("no words: %+v", fault)
			}
			if p := fault.Pos; p.Line > len(lines)+1 || p.Line > 0 && p.Column < 1 {
				t.Errorf("no such place: %v", p)
			}
		}
		if n == nil {
			return
		}
		walk(n, func(n *Node) {
			text, fault := n.CELText()
			if fault != nil {
				return
			}
			// Every character of the expression is where At says it is.
			for i, line := range strings.Split(text, "\n") {
				column := 0
				for _, r := range line {
					p := n.At(i+1, column)
					if p.Line > len(lines) {
						t.Fatalf("%q: line %d of %d", text, p.Line, len(lines))
					}
					got := []rune(lines[p.Line-1])
					if p.Column > len(got) || got[p.Column-1] != r {
						t.Fatalf("%q: character %d of line %d is not at %v", text, column, i+1, p)
					}
					column++
				}
			}
		})
	})
}

// A car folder as large as they come: about 300 rules.
func BenchmarkParseYAML(b *testing.B) {
	data := rulePack(300)
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	for b.Loop() {
		if _, fs := ParseYAML("f.yaml", data); len(fs) > 0 {
			b.Fatal(fs)
		}
	}
}

func rulePack(rules int) []byte {
	var s strings.Builder
	s.WriteString("pack: bench\nrules:\n")
	for i := range rules {
		s.WriteString("  - id: hydraulics.shift-" + strings.Repeat("x", i%7) + `
    item: Hydraulic pressure in a shift   # in words
    moments: [run]
    applies: car.gearbox.shift == "hydraulic"
    measure: |
      log.min(hyd_pressure, shift_active)
        - bar(3.0)
    unit: °C
    fail: {below: limits.shift_pressure_min}
    accept: {warn: {hats: [lead-engineer, gearbox], runs: 2}, fail: nobody, no-data: nobody}
    do: Precharge, pump duty, filter indicator; then leaks, with card, never a hand.
    source: {kind: practice, text: 'common practice'}
`)
	}
	return []byte(s.String())
}

// The corpus the fuzzer found stays in testdata; this names what it holds.
func TestFuzzCorpusIsRead(t *testing.T) {
	files, _ := filepath.Glob("testdata/fuzz/FuzzParseYAML/*")
	for _, f := range files {
		if b, err := os.ReadFile(f); err != nil || !strings.HasPrefix(string(b), "go test fuzz v1") {
			t.Errorf("%s: %v", f, err)
		}
	}
}
