package car

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
)

// A value is written over, or put in, and the rest of the file stays to the byte.
func TestSpliceKeepsTheRest(t *testing.T) {
	for _, c := range []struct{ text, path, value, want string }{
		{"a: 1 # one\nb: 2\n", "a", "3", "a: 3 # one\nb: 2\n"},
		{"a: 'it''s'  # x\n", "a", "no", "a: no  # x\n"},
		{"a: \"q \\\" # x\" # y\n", "a", "no", "a: no # y\n"},
		{"m: {a: 1, b: {c: 2}} # m\n", "m.b.c", "9 mm", "m: {a: 1, b: {c: 9 mm}} # m\n"},
		{"m: {a: 1}\n", "m.b.c", "2", "m: {b: {c: 2}, a: 1}\n"},
		{"m: {a: 1, z: 1}\n", "m.b", "2", "m: {a: 1, b: 2, z: 1}\n"},
		{"m: {}\n", "m.b", "2", "m: {b: 2}\n"},
		{"m:\n  a: 1\n  # on z\n  z: 1\n", "m.b", "2", "m:\n  a: 1\n  # on z\n  b: 2\n  z: 1\n"},
		{"m: unknown # so far\n", "m.b.c", "2", "m: {b: {c: 2}} # so far\n"},
		{"l: [a, 'b]', c] # l\n", "l", "[d]", "l: [d] # l\n"},
		{"l: [a, # one\n  b]\nm: 1\n", "l", "[d]", "l: [d]\nm: 1\n"},
		{"l:\n  - a\n  - b # last\nm: 1\n", "l", "[d]", "l:\n  [d] # last\nm: 1\n"},
		{"ä: {ö: 1 °C, u: 95 °C}\n", "ä.u", "9 °C", "ä: {ö: 1 °C, u: 9 °C}\n"},
		{"\xef\xbb\xbfa: 1\r\nb: 2\r\n", "a", "3", "\xef\xbb\xbfa: 3\r\nb: 2\r\n"},
		{"m:\r\n  a: 1\r\n  z: 1\r\n", "m.b", "2", "m:\r\n  a: 1\r\n  b: 2\r\n  z: 1\r\n"},
	} {
		node, faults := source.ParseYAML("x.yaml", []byte(c.text))
		if len(faults) > 0 {
			t.Fatal(c.text, faults)
		}
		got, err := newSplice([]byte(c.text)).set(node, strings.Split(c.path, "."), c.value)
		if err != nil || string(got) != c.want {
			t.Errorf("%q: %s = %s\n got %q, %v\nwant %q", c.text, c.path, c.value, got, err, c.want)
		}
		if _, faults := source.ParseYAML("x.yaml", got); len(faults) > 0 {
			t.Errorf("%q is no YAML: %v", got, faults)
		}
	}
	for _, c := range []struct{ text, path string }{{"a: one\n  two\n", "a"}, {"a: |\n  one\n", "a"}, {"a: [1]\n", "a.b"}} {
		node, _ := source.ParseYAML("x.yaml", []byte(c.text))
		if got, err := newSplice([]byte(c.text)).set(node, strings.Split(c.path, "."), "1"); err == nil {
			t.Errorf("%q was taken apart: %q", c.text, got)
		}
	}
}

// Whatever lines of a real sheet are changed, these differ, no other, and every remark stays.
func TestSheetLinesAreThoseThatWereSet(t *testing.T) {
	dir := filepath.Join("..", "..", "testdata", "cars", "tern-3")
	f, _ := Open(dir)
	text, err := os.ReadFile(filepath.Join(dir, "setup.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	old, faults := f.ReadSheet("setup.yaml", text)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	values := map[schema.Kind]func(*schema.Value) string{
		schema.Quantity: func(v *schema.Value) string { return "1" + v.Text },
		schema.Integer:  func(v *schema.Value) string { return "1" + v.Text },
		schema.Text:     func(*schema.Value) string { return `"no, not: that # one"` },
	}
	var leaves []string
	var walk func(string, *schema.Value)
	walk = func(at string, v *schema.Value) {
		if values[v.Type.Kind] != nil && !strings.Contains(v.Text, "-") && v.Type.Names == "" && !aside[at] && at != "revision" {
			leaves = append(leaves, at)
		}
		for _, k := range v.Keys {
			walk(strings.TrimPrefix(at+"."+k, "."), v.Fields[k])
		}
	}
	walk("", old.Value)
	if len(leaves) < 40 {
		t.Fatal(leaves)
	}
	rapid.Check(t, func(t *rapid.T) {
		picked := rapid.SliceOfNDistinct(rapid.SampledFrom(leaves), 1, 6, rapid.ID[string]).Draw(t, "lines")
		var settings []Setting
		want := map[string]bool{}
		for _, p := range picked {
			v := old.Value.Get(p)
			settings = append(settings, Setting{p, values[v.Type.Kind](v)})
			want[strings.TrimSuffix(p, ".target")] = true
		}
		now, err := old.With(f, settings...)
		if err != nil {
			t.Fatal(err)
		}
		got := map[string]bool{}
		for _, l := range SheetLines(old.Value, now.Value) {
			got[l.Name] = true
		}
		if fmt.Sprint(got) != fmt.Sprint(want) {
			t.Fatalf("set %v, differ %v", want, got)
		}
		back := make([]Setting, len(settings))
		for i, s := range settings {
			back[i] = Setting{s.Path, old.Value.Get(s.Path).Text}
		}
		if again, err := now.With(f, back...); err != nil || string(again.Text) != string(text) {
			t.Fatalf("set back, the sheet is another: %v\n%s", err, again.Text)
		}
	})
}

// A sheet is written once: the old one is kept first, and a change made meanwhile is not lost.
func TestWriteSheetLosesNothing(t *testing.T) {
	dir := t.TempDir()
	if err := os.CopyFS(dir, os.DirFS(filepath.Join("..", "..", "testdata", "cars", "tern-3"))); err != nil {
		t.Fatal(err)
	}
	f, _ := Open(dir)
	file := filepath.Join(dir, "setup.yaml")
	text, _ := os.ReadFile(file)
	old, _ := f.ReadSheet("setup.yaml", text)
	now, err := old.With(f, Setting{"bars.rear", "P3"}, Setting{"revision", "S15"})
	if err != nil {
		t.Fatal(err)
	}
	meanwhile := append([]byte("# by another hand\n"), text...)
	if err := os.WriteFile(file, meanwhile, 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := WriteSheet(dir, old, now); err == nil {
		t.Error("a sheet changed meanwhile was written over")
	}
	if got, _ := os.ReadFile(file); string(got) != string(meanwhile) {
		t.Error("a sheet changed meanwhile is lost")
	}
	if err := os.WriteFile(file, text, 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := WriteSheet(dir, old, now); err != nil {
		t.Error("the same again, after it broke off half-way:", err)
	}
	if got, _ := os.ReadFile(filepath.Join(dir, "setups", "S14.yaml")); string(got) != string(text) {
		t.Error("the old sheet was not kept")
	}
	other, err := old.With(f, Setting{"bars.rear", "P1"}, Setting{"revision", "S15"})
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(file, text, 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := WriteSheet(dir, old, other); err == nil {
		t.Error("another sheet was written under S15")
	}
	if got, _ := os.ReadFile(filepath.Join(dir, "setups", "S15.yaml")); string(got) != string(now.Text) {
		t.Error("S15 was written over")
	}
}
