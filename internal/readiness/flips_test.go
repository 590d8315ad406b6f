package readiness

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
	"github.com/paintmark/paintmark/internal/kernel"
	"github.com/paintmark/paintmark/internal/life"
	"github.com/paintmark/paintmark/internal/pack"
	"github.com/paintmark/paintmark/internal/runlog"
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

// fitted is a set of packs loaded for one car, with what answers of each log.
type fitted struct {
	rules    map[string]*pack.Rule
	graph    *kernel.Graph
	channels []runlog.Channel
	logs     map[string][]pack.Log
}

// looked is a car with its log, ready to be judged.
type looked struct {
	*fitted
	ev *pack.Evidence
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
	out := looked{b.loaded[key], &pack.Evidence{Roots: f.Roots(f.AsOf), Run: 57, Signatures: signatures(f, f.AsOf), Diary: diary(f, f.AsOf)}}
	out.ev.Logs = out.answers(t, b, faults)
	sheet, wrong := life.Of(f, f.AsOf)
	for _, w := range wrong {
		t.Error(w)
	}
	sheet.LogsAtHand(f, []string{"t3-055.csv", "t3-056.csv", "t3-057.csv.gz"})
	out.ev.Roots["life"] = sheet.Value
	return out
}

// load loads the packs a folder names, for its channels and limits.
func load(t *testing.T, folder fs.FS, f *car.Folder) *fitted {
	t.Helper()
	o := &opened{files: folder, folder: f, graph: kernel.NewGraph()}
	o.take(o.parse()())
	for _, wrong := range o.faults {
		t.Error(wrong)
	}
	out := &fitted{rules: map[string]*pack.Rule{}, graph: o.graph, channels: logChannels(f), logs: map[string][]pack.Log{}}
	for _, p := range o.packs {
		for _, r := range p.Rules {
			out.rules[r.ID] = r
		}
	}
	return out
}

// answers are those of the log of run 57 with these faults in the model.
func (x *fitted) answers(t *testing.T, b *bench, faults []demo.Fault) []pack.Log {
	t.Helper()
	key := fmt.Sprint(faults)
	if x.logs[key] != nil {
		return x.logs[key]
	}
	x.logs[key] = x.over(t, b.log(t, faults))
	return x.logs[key]
}

// over is what a log answers once it is cleaned.
func (x *fitted) over(t *testing.T, raw *runlog.Raw) []pack.Log {
	t.Helper()
	log, wrong := cleanLog(raw, wantedLog{kind: "run", run: 57}, x.channels)
	if len(wrong) > 0 {
		t.Error(wrong)
		return nil
	}
	c := &Car{opened: &opened{graph: x.graph}, evidence: &pack.Evidence{}}
	c.letAnswer(log)
	return c.evidence.Logs
}

// log is run 57 of the model with these faults.
func (b *bench) log(t *testing.T, faults []demo.Fault) *runlog.Raw {
	t.Helper()
	key := fmt.Sprint(faults)
	if b.logs[key] == nil {
		run := demo.HealthyRun57()
		run.Faults = faults
		raw, wrong := runlog.ReadFrom(context.Background(), bytes.NewReader(run.Record().CSV()), runlog.Options{Name: "t3-057.csv"})
		if len(wrong) > 0 {
			t.Fatal(wrong)
		}
		b.logs[key] = raw
	}
	return b.logs[key]
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
		if says == "" || res.Outcome.WorseThan(worst) {
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
				faults = f.faults()
			} else {
				folder = f.change(t, healthy)
			}
			if outcome, says := b.look(t, folder, faults).worstOf(t, f.rule); outcome != f.answer {
				t.Errorf("%s: came to %s (%s), want %s", f.pos, outcome, says, f.answer)
			}
		})
	}
	t.Run("still", func(t *testing.T) { stillHidesNothing(t, b, healthy, flips) })
}

// faults is the one planted.
func (f flip) faults() []demo.Fault {
	return []demo.Fault{{Kind: demo.Kind(f.fault), At: f.at, Size: f.size, For: f.lasts}}
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
