package schema

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"pgregory.net/rapid"

	"github.com/paintmark/paintmark/internal/source"
)

// Reading decides most of a schema itself, for places and speed. Here it is held against
// the validator on the complete schema: what that refuses, reading must refuse too.

var (
	wholes   = map[string]*jsonschema.Schema{}
	wholesMu sync.Mutex
)

func wholeOf(t testing.TB, name string) *jsonschema.Schema {
	wholesMu.Lock()
	defer wholesMu.Unlock()
	if wholes[name] == nil {
		wholes[name] = whole(t, name)
	}
	return wholes[name]
}

// generic is a node as any YAML reader would hand it to a validator.
func generic(n *source.Node) any {
	switch n.Kind {
	case source.Map:
		m := map[string]any{}
		for _, e := range n.Entries {
			m[e.Key.Text] = generic(e.Value)
		}
		return m
	case source.List:
		l := []any{}
		for _, i := range n.Items {
			l = append(l, generic(i))
		}
		return l
	}
	switch {
	case n.Style != source.Plain:
		return n.Text
	case n.Text == "true" || n.Text == "false":
		return n.Text == "true"
	case n.Text == "":
		return nil
	case numberForm().MatchString(n.Text):
		return json.Number(n.Text)
	}
	return n.Text
}

type sample struct {
	file, schema string
	data         []byte
}

var folders = map[string]string{
	"runs": "run", "measured": "measured", "fitted": "fitted", "jobs": "job", "faults": "fault", "signed": "signed", "done": "done",
	"weather": "weather", "baselines": "baseline", "trips": "trips",
}

// samples are the documents and records of the demonstration cars.
func samples(t testing.TB) []sample {
	t.Helper()
	var out []sample
	for _, pattern := range []string{"*/*.yaml", "*/*/*.yaml"} {
		files, err := filepath.Glob("../../testdata/cars/" + pattern)
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range files {
			name := folders[filepath.Base(filepath.Dir(f))]
			if name == "" {
				name = strings.TrimSuffix(filepath.Base(f), ".yaml")
			}
			if _, err := bundled(name); err != nil {
				continue // settings, packs
			}
			data, err := os.ReadFile(f)
			if err != nil {
				t.Fatal(err)
			}
			out = append(out, sample{f, name, data})
		}
	}
	if len(out) < 40 {
		t.Fatal("too few samples: ", len(out))
	}
	return out
}

func TestSamplesAgree(t *testing.T) {
	for _, s := range samples(t) {
		n, faults := source.ParseYAML(s.file, s.data)
		if len(faults) > 0 {
			t.Fatal(faults)
		}
		typ, err := Bundled.Document(s.schema)
		if err != nil {
			t.Fatal(err)
		}
		_, faults = Read(n, typ)
		if err := wholeOf(t, s.schema).Validate(generic(n)); err != nil || len(faults) > 0 {
			t.Errorf("%s: validator: %v, reading: %v", s.file, err, faults)
		}
	}
}

func TestMutationsAgree(t *testing.T) {
	all := samples(t)
	for _, s := range all {
		wholeOf(t, s.schema)
	}
	var refused, accepted int
	rapid.Check(t, func(t *rapid.T) {
		s := all[rapid.IntRange(0, len(all)-1).Draw(t, "sample")]
		n, _ := source.ParseYAML(s.file, s.data)
		for range rapid.IntRange(1, 3).Draw(t, "changes") {
			mutate(t, n)
		}
		typ, err := Bundled.Document(s.schema)
		if err != nil {
			t.Fatal(err)
		}
		v, faults := Read(n, typ)
		err = wholes[s.schema].Validate(generic(n))
		if err != nil {
			refused++
		} else {
			accepted++
		}
		if err != nil && len(faults) == 0 {
			got, _ := JSON(v)
			t.Fatalf("%s: the validator refuses what reading takes: %v\n%s", s.file, err, got)
		}
		doubled(t, faults)
	})
	if refused == 0 || accepted == 0 {
		t.Errorf("changes prove nothing: %d refused, %d accepted", refused, accepted)
	}
}

// doubled refuses two faults at one place; keys that are not there have none of their own.
func doubled(t interface{ Fatalf(string, ...any) }, faults source.Faults) {
	at := map[source.Pos]string{}
	for _, f := range faults {
		if strings.Contains(f.What, "is missing") || strings.Contains(f.What, "is written") {
			continue
		}
		if first, twice := at[f.Pos]; twice {
			t.Fatalf("%s is refused twice: %s, and %s", f.Pos, first, f.What)
		}
		at[f.Pos] = f.What
	}
}

var words = []string{"unknown", "true", "3", "-1", "0", "4.5 bar", "95 °C", "x", "2026-05-16", "2026-05-16T08:00Z", "S14", "12 mo", "1.5"}

// mutate makes one slip somewhere in a document.
func mutate(t *rapid.T, root *source.Node) {
	var nodes []*source.Node
	var walk func(*source.Node)
	walk = func(n *source.Node) {
		nodes = append(nodes, n)
		for _, e := range n.Entries {
			walk(e.Value)
		}
		for _, i := range n.Items {
			walk(i)
		}
	}
	walk(root)
	n := nodes[rapid.IntRange(0, len(nodes)-1).Draw(t, "node")]
	switch kind := rapid.IntRange(0, 5).Draw(t, "kind"); {
	case n.Kind == source.Map && len(n.Entries) > 0 && kind < 2: // a key left out
		i := rapid.IntRange(0, len(n.Entries)-1).Draw(t, "entry")
		n.Entries = append(append([]source.Entry(nil), n.Entries[:i]...), n.Entries[i+1:]...)
	case n.Kind == source.Map && len(n.Entries) > 0 && kind < 4: // a key misspelt
		i := rapid.IntRange(0, len(n.Entries)-1).Draw(t, "entry")
		key := *n.Entries[i].Key
		key.Text += "x"
		n.Entries = append([]source.Entry(nil), n.Entries...)
		n.Entries[i].Key = &key
	case n.Kind == source.List && kind < 3: // a list emptied
		n.Items = nil
	case kind == 4: // the wrong shape
		n.Kind, n.Items, n.Entries, n.Text = source.List, nil, nil, ""
	default:
		n.Kind, n.Items, n.Entries = source.Scalar, nil, nil
		n.Text = rapid.SampledFrom(words).Draw(t, "word")
		n.Style = rapid.SampledFrom([]source.Style{source.Plain, source.DoubleQuoted}).Draw(t, "style")
	}
}

// FuzzRead: whatever a file holds, reading neither panics nor takes what the validator
// refuses, every fault has a place in the file, and what was read can be written as JSON.
func FuzzRead(f *testing.F) {
	names := append(append([]string(nil), Documents...), Records...)
	index := map[string]byte{}
	for i, n := range names {
		index[n] = byte(i)
	}
	for _, s := range samples(f) {
		f.Add(index[s.schema], s.data)
	}
	f.Add(index["car"], []byte("car: {engine: unknown, corners: [{position: FL}], wing: [1, 2]}"))
	f.Fuzz(func(t *testing.T, which byte, data []byte) {
		if len(data) > 1<<14 {
			return
		}
		n, faults := source.ParseYAML("a.yaml", data)
		if n == nil || len(faults) > 0 {
			return
		}
		name := names[int(which)%len(names)]
		typ, err := Bundled.Document(name)
		if err != nil {
			t.Fatal(err)
		}
		v, faults := Read(n, typ)
		for _, x := range faults {
			if x.Pos.File != "a.yaml" || x.Pos.Line < 1 || x.Pos.Column < 1 || x.What == "" || x.Remedy == "" || strings.Contains(x.Error(), "\n") {
				t.Fatalf("a fault without its place or remedy: %+v", x)
			}
		}
		out, err := JSON(v)
		if err != nil || !json.Valid(out) {
			t.Fatalf("%v: %s", err, out)
		}
		if err := wholeOf(t, name).Validate(generic(n)); err != nil && len(faults) == 0 {
			t.Fatalf("the validator refuses what reading takes: %v", err)
		}
	})
}
