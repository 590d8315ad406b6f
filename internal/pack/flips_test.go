package pack

import (
	"bytes"
	"context"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/demo"
	"github.com/paintmark/paintmark/internal/expr"
	"github.com/paintmark/paintmark/internal/kernel"
	"github.com/paintmark/paintmark/internal/life"
	"github.com/paintmark/paintmark/internal/runlog"
	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
)

// flip is one line of testdata/packs/flips.yaml.
type flip struct {
	rule, file, old, new string
	fault                string
	at, size, lasts      float64
	answer               check.Outcome
	pos                  source.Pos
}

func readFlips(t *testing.T) []flip {
	t.Helper()
	data, err := os.ReadFile("../../testdata/packs/flips.yaml")
	if err != nil {
		t.Fatal(err)
	}
	root, faults := source.ParseYAML("flips.yaml", data)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	var out []flip
	for _, n := range root.Items {
		text := func(key string) string {
			if v := n.Get(key); v != nil {
				return v.Text
			}
			return ""
		}
		number := func(key string) float64 {
			if text(key) == "" {
				return 0
			}
			v, err := strconv.ParseFloat(text(key), 64)
			if err != nil {
				t.Fatal(err)
			}
			return v
		}
		out = append(out, flip{
			rule: text("rule"), file: text("file"), old: text("old"), new: text("new"), fault: text("fault"),
			at: number("at"), size: number("size"), lasts: number("for"), answer: check.Outcome(text("answer")), pos: n.Pos,
		})
	}
	return out
}

// bench keeps what many flips share: packs by what they are loaded with, logs by faults.
type bench struct {
	loaded map[string]*fitted
	logs   map[string]*runlog.Raw
}

// fitted is a set of packs loaded for one car, with a runner per log.
type fitted struct {
	rules    map[string]*Rule
	graph    *kernel.Graph
	channels []runlog.Channel
	runners  map[string]*kernel.Runner
}

// looked is a car with its log, ready to be judged.
type looked struct {
	*fitted
	ev *Evidence
}

// look loads a car folder and its packs; its log is run 57 of the model with these faults.
func (b *bench) look(t *testing.T, folder fstest.MapFS, faults []demo.Fault) looked {
	t.Helper()
	f, wrong := car.OpenFS(folder)
	for _, w := range wrong {
		t.Error(w)
	}
	key := string(folder["channels.yaml"].Data) + string(folder["limits.yaml"].Data)
	if b.loaded[key] == nil {
		b.loaded[key] = load(t, folder, f)
	}
	out := looked{b.loaded[key], &Evidence{Roots: f.Roots(f.AsOf), Run: 57, Signatures: map[string][]Signature{}}}
	out.ev.Logs = []Log{{Kind: "run", Answers: expr.OnLog(out.runner(t, b, faults)), From: check.From{Kind: "log", Run: 57}}}
	sheet, wrong := life.Of(f, f.AsOf)
	for _, w := range wrong {
		t.Error(w)
	}
	sheet.LogsAtHand(f, []string{"t3-055.csv", "t3-056.csv", "t3-057.csv.gz"})
	out.ev.Roots["life"] = sheet.Value
	for _, i := range slices.Backward(f.Initials(f.AsOf)) {
		s := Signature{Second: i.Place == "second", By: i.By, Torque: i.Torque, ToolKind: toolKind(out.ev.Roots["tools"], i.Tool), Void: i.Void, Record: i.Record.File}
		if i.Retained != nil && !i.Retained.Unknown {
			s.Retained = map[bool]expr.Truthness{true: expr.True, false: expr.False}[i.Retained.Bool]
		}
		joint := strings.TrimSpace(i.Joint + " " + i.Position)
		out.ev.Signatures[joint] = append(out.ev.Signatures[joint], s)
	}
	return out
}

// load loads the packs a folder names, for its channels and limits.
func load(t *testing.T, folder fs.FS, f *car.Folder) *fitted {
	t.Helper()
	types, err := f.Types()
	if err != nil {
		t.Fatal(err)
	}
	out := &fitted{rules: map[string]*Rule{}, graph: kernel.NewGraph(), runners: map[string]*kernel.Runner{}}
	scope := expr.Scope{Roots: types, Channels: map[string]expr.Channel{}, Graph: out.graph}
	for _, c := range f.Channels {
		own := runlog.Channel{Name: c.Name, InLog: c.InLog, Unit: c.Unit, Reads: c.Reads, Rate: c.Rate, Hold: c.Hold, FaultValue: c.Fault}
		channel := expr.Channel{Unit: c.Type}
		switch {
		case c.YesNo:
			own.Shape, channel = runlog.YesNo, expr.Channel{Shape: expr.YesNo}
		case c.Count:
			own.Shape, channel = runlog.Count, expr.Channel{Shape: expr.Count}
		}
		if c.Range != nil {
			own.Range, own.Low, own.High = true, c.Range.Low, c.Range.High
		}
		scope.Channels[c.Name] = channel
		out.channels = append(out.channels, own)
	}
	for _, d := range f.Derived {
		scope.Derived = append(scope.Derived, expr.Derived{Name: d.Name, Text: d.Text})
	}
	var files []File
	for _, p := range f.Packs {
		file, ok := BundledFile(p.Text)
		if !ok {
			data, err := fs.ReadFile(folder, p.Text)
			if err != nil {
				t.Fatal(err)
			}
			file = File{p.Text, data}
		}
		files = append(files, file)
	}
	var overrides []Override
	for _, o := range f.Overrides {
		overrides = append(overrides, Override{Pack: o.Pack.Text, Limit: o.Limit.Text, Node: o.Node, Where: o.Limit.Pos})
	}
	packs, wrong := Load(files, scope, overrides)
	for _, w := range wrong {
		t.Error(w)
	}
	for _, p := range packs {
		for _, r := range p.Rules {
			out.rules[r.ID] = r
		}
	}
	return out
}

// runner is ready over the log of run 57 with these faults in the model.
func (x *fitted) runner(t *testing.T, b *bench, faults []demo.Fault) *kernel.Runner {
	t.Helper()
	key := fmt.Sprint(faults)
	if x.runners[key] != nil {
		return x.runners[key]
	}
	if b.logs[key] == nil {
		run := demo.HealthyRun57()
		run.Faults = faults
		raw, wrong := runlog.ReadFrom(context.Background(), bytes.NewReader(run.Record().CSV()), runlog.Options{Name: "t3-057.csv"})
		if len(wrong) > 0 {
			t.Fatal(wrong)
		}
		b.logs[key] = raw
	}
	data, wrong := runlog.Clean(b.logs[key], x.channels)
	if len(wrong) > 0 {
		t.Fatal(wrong)
	}
	x.runners[key] = kernel.NewRunner(x.graph, data, kernel.Options{})
	return x.runners[key]
}

func toolKind(tools *schema.Value, name string) string {
	for _, tool := range tools.Items {
		if tool.Fields["tool"].Text == name {
			return tool.Fields["kind"].Text
		}
	}
	return ""
}

// worstOf is the worst outcome of a rule's items, and what that item says.
func (l looked) worstOf(t *testing.T, id string) (check.Outcome, string) {
	t.Helper()
	r := l.rules[id]
	if r == nil {
		t.Fatalf("there is no rule %s", id)
	}
	worst, says := check.NotApplicable, ""
	for _, res := range r.Judge(context.Background(), l.ev) {
		if res.Fault != nil {
			t.Errorf("%s: %v", id, res.Fault)
		}
		if says == "" || rank(res.Outcome) > rank(worst) {
			worst, says = res.Outcome, strings.TrimSpace(res.Position+" "+res.Message)
		}
	}
	return worst, says
}

// The healthy Tern 3 passes every rule that applies to it, and the one change written down for a rule turns it.
func TestEveryRuleTurns(t *testing.T) {
	if testing.Short() {
		t.Skip("runs the vehicle model many times")
	}
	dir := filepath.Join(t.TempDir(), "tern-3")
	if err := demo.Write(dir, true); err != nil {
		t.Fatal(err)
	}
	healthy := fstest.MapFS{}
	err := fs.WalkDir(os.DirFS(dir), ".", func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || path.Dir(p) == "logs" {
			return err
		}
		data, err := os.ReadFile(filepath.Join(dir, filepath.FromSlash(p)))
		healthy[p] = &fstest.MapFile{Data: data}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	b := &bench{loaded: map[string]*fitted{}, logs: map[string]*runlog.Raw{}}
	well := b.look(t, healthy, nil)
	flips := readFlips(t)
	for id := range well.rules {
		if outcome, says := well.worstOf(t, id); outcome != check.Pass && outcome != check.NotApplicable {
			t.Errorf("%s on the healthy car: %s (%s)", id, outcome, says)
		}
		if !slices.ContainsFunc(flips, func(f flip) bool { return f.rule == id }) {
			t.Errorf("nothing is written down that turns %s", id)
		}
	}
	for _, f := range flips {
		t.Run(f.rule, func(t *testing.T) {
			folder, faults := healthy, []demo.Fault(nil)
			if f.fault != "" {
				faults = []demo.Fault{{Kind: demo.Kind(f.fault), At: f.at, Size: f.size, For: f.lasts}}
			} else {
				folder = f.change(t, healthy)
			}
			if outcome, says := b.look(t, folder, faults).worstOf(t, f.rule); outcome != f.answer {
				t.Errorf("%s: came to %s (%s), want %s", f.pos, outcome, says, f.answer)
			}
		})
	}
}

// change is the folder with one line of one file changed.
func (f flip) change(t *testing.T, folder fstest.MapFS) fstest.MapFS {
	t.Helper()
	var names []string
	out := fstest.MapFS{}
	for name, file := range folder {
		out[name] = file
		if ok, _ := path.Match(f.file, name); ok || strings.HasSuffix(f.file, "*") && strings.HasPrefix(name, strings.TrimSuffix(f.file, "*")) {
			names = append(names, name)
		}
	}
	if len(names) != 1 {
		t.Fatalf("%s: %s is %v", f.pos, f.file, names)
	}
	text := string(folder[names[0]].Data)
	if n := strings.Count(text, f.old); n != 1 {
		t.Fatalf("%s: %q stands %d times in %s", f.pos, f.old, n, names[0])
	}
	out[names[0]] = &fstest.MapFile{Data: []byte(strings.Replace(text, f.old, f.new, 1))}
	return out
}
