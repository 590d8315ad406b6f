package readiness

import (
	"context"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"testing/fstest"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/demo"
	"github.com/paintmark/paintmark/internal/expr"
	"github.com/paintmark/paintmark/internal/kernel"
	"github.com/paintmark/paintmark/internal/life"
	"github.com/paintmark/paintmark/internal/pack"
	"github.com/paintmark/paintmark/internal/runlog"
	"github.com/paintmark/paintmark/internal/source"
)

// swept is a car in memory while things are taken from it.
type swept struct {
	folder fstest.MapFS
	raw    *runlog.Raw // the newest run's log
	sha256 string
	logs   []string // names in the log folder

	mu     sync.Mutex
	loaded map[string]*sweptPacks
}

type sweptPacks struct {
	once   sync.Once
	opened *opened
	rules  []*pack.Rule
	log    *openedLog
	runner *kernel.Runner
	faults source.Faults
}

// outcomes are the items of one look: by rule and position.
type outcomes map[string]check.Result

// look is what a car comes to; refused says why it comes to nothing (exit code 2).
func (s *swept) look(t *testing.T, folder fstest.MapFS) (items outcomes, verdict check.Verdict, refused string) {
	f, faults := car.OpenFS(folder)
	if len(faults) > 0 {
		return nil, "", faults[0].Error()
	}
	if len(f.Packs) == 0 {
		return nil, "", "no packs in use"
	}
	p := s.packs(folder, f)
	if len(p.faults) > 0 {
		return nil, "", p.faults[0].Error()
	}
	at := f.AsOf
	ev := &pack.Evidence{Roots: f.Roots(at), Run: f.NewestRun(at), Signatures: signatures(f, at), Diary: diary(f, at)}
	for _, w := range newestLogs(f, ev.Run) {
		if w.sha256 != "" && w.sha256 != s.sha256 {
			return nil, "", "the log is not the one the sheet means"
		}
		ev.Logs = append(ev.Logs, pack.Log{Kind: w.kind, Answers: expr.OnLog(p.runner), From: check.From{Kind: "log", Run: w.run}})
	}
	sheet, faults := life.Of(f, at)
	if len(faults) > 0 {
		return nil, "", faults[0].Error()
	}
	sheet.LogsAtHand(f, s.logs)
	ev.Roots["life"] = sheet.Value
	var all []check.Result
	for _, r := range p.rules {
		for _, res := range r.Judge(context.Background(), ev) {
			if res.Fault != nil {
				return nil, "", res.Fault.Error()
			}
			all = append(all, res)
		}
	}
	c := &Car{opened: &opened{files: folder, folder: f, graph: p.opened.graph, parsed: p.opened.parsed, packs: p.opened.packs}, asOf: at, evidence: ev, logs: []*openedLog{p.log}, runners: []*kernel.Runner{p.runner}}
	all = c.hold(context.Background(), p.rules, slices.Concat(all, c.watched(all)))
	items = outcomes{}
	for _, res := range all {
		key := strings.TrimSpace(pair(res.Card.ID) + " " + res.Position)
		if old, twice := items[key]; !twice || old.Outcome == check.NotApplicable {
			items[key] = res
		}
	}
	return items, comesTo(all), ""
}

func comesTo(all []check.Result) check.Verdict { return verdict(weigh(all, nil), 0) }

// packs are the rules of a car with its log cleaned as its channels.yaml has it, made once
// for everything that they rest on.
func (s *swept) packs(folder fstest.MapFS, f *car.Folder) *sweptPacks {
	var key strings.Builder
	for _, name := range []string{"channels.yaml", "derived.yaml", "limits.yaml"} {
		if file := folder[name]; file != nil {
			key.Write(file.Data)
		}
		key.WriteByte(0)
	}
	s.mu.Lock()
	p := s.loaded[key.String()]
	if p == nil {
		p = &sweptPacks{}
		s.loaded[key.String()] = p
	}
	s.mu.Unlock()
	p.once.Do(func() { p.load(s, folder, f) })
	return p
}

func (p *sweptPacks) load(s *swept, folder fstest.MapFS, f *car.Folder) {
	o := &opened{files: folder, folder: f, graph: kernel.NewGraph()}
	o.take(o.parse()())
	for _, fault := range o.faults {
		p.faults = append(p.faults, fault.Fault)
	}
	log, faults := cleanLog(s.raw, wantedLog{kind: "run"}, logChannels(f))
	p.faults = append(p.faults, faults...)
	if len(p.faults) > 0 {
		return
	}
	p.opened, p.log, p.runner = o, log, kernel.NewRunner(o.graph, log.data, kernel.Options{})
	for _, pk := range o.packs {
		p.rules = append(p.rules, pk.Rules...)
	}
}

// sweptCar is the demo car, its newest run taken in, with its log read.
func sweptCar(t *testing.T, healthy bool) *swept {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "car")
	if err := demo.Write(dir, healthy); err != nil {
		t.Fatal(err)
	}
	withOutcomes(t, dir)
	s := &swept{folder: fstest.MapFS{}, loaded: map[string]*sweptPacks{}}
	err := fs.WalkDir(os.DirFS(dir), ".", func(p string, d fs.DirEntry, err error) error {
		switch {
		case err != nil || d.IsDir():
			return err
		case path.Dir(p) == "logs":
			s.logs = append(s.logs, path.Base(p))
			return nil
		}
		data, err := os.ReadFile(filepath.Join(dir, filepath.FromSlash(p)))
		s.folder[p] = &fstest.MapFile{Data: data}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	log := filepath.Join(dir, "logs", "t3-057.csv.gz")
	if s.sha256, err = runlog.Digest(log); err != nil {
		t.Fatal(err)
	}
	raw, faults := runlog.Read(t.Context(), log, runlog.Options{Name: "t3-057.csv.gz"})
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	s.raw = raw
	return s
}

// withdrawal is one thing taken from a car.
type withdrawal struct {
	file string
	path string   // of the value in the file, "" for the whole file
	how  string   // "removed" or "unknown"
	text string   // what the file then holds; nothing where it is gone
	gone []string // every word of what was taken away
	// serial is the part of the register that the value is of, "" elsewhere.
	serial string
}

func (w withdrawal) String() string { return strings.TrimSpace(w.file + " " + w.path + " " + w.how) }

// withdrawals are the whole file, and each value in it with all that is under it, removed
// and set unknown.
func withdrawals(t *testing.T, name string, data []byte) []withdrawal {
	t.Helper()
	root, faults := source.ParseYAML(name, data)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	out := []withdrawal{{file: name, how: "removed", gone: wordsOf(root)}}
	unknown := &source.Node{Kind: source.Scalar, Text: "unknown"}
	serial := ""
	var walk func(n *source.Node, at string)
	walk = func(n *source.Node, at string) {
		if s := n.Get("serial"); s != nil && name == "parts.yaml" {
			serial = s.Text
		}
		try := func(put func(*source.Node), old *source.Node, at string) {
			put(nil)
			out = append(out, withdrawal{name, at, "removed", yamlOf(root), wordsOf(old), serial})
			put(unknown)
			out = append(out, withdrawal{name, at, "unknown", yamlOf(root), wordsOf(old), serial})
			put(old)
		}
		for i := range n.Entries {
			e := n.Entries[i]
			p := strings.TrimPrefix(at+"."+e.Key.Text, ".")
			try(func(v *source.Node) { n.Entries[i].Value = v }, e.Value, p)
			walk(e.Value, p)
		}
		for i, item := range n.Items {
			p := at + "[" + strconv.Itoa(i) + "]"
			try(func(v *source.Node) { n.Items[i] = v }, item, p)
			walk(item, p)
		}
	}
	walk(root, "")
	return out
}

func wordsOf(n *source.Node) []string {
	out := []string{n.Text}
	for _, e := range n.Entries {
		out = append(append(out, e.Key.Text), wordsOf(e.Value)...)
	}
	for _, i := range n.Items {
		out = append(out, wordsOf(i)...)
	}
	return out
}

// yamlOf writes a tree; nil values are left out.
func yamlOf(n *source.Node) string {
	var b strings.Builder
	var write func(n *source.Node, indent string)
	write = func(n *source.Node, indent string) {
		switch n.Kind {
		case source.Map:
			any := false
			for _, e := range n.Entries {
				if e.Value == nil {
					continue
				}
				any = true
				b.WriteString("\n" + indent + scalar(e.Key) + ":")
				write(e.Value, indent+"  ")
			}
			if !any {
				b.WriteString(" {}")
			}
		case source.List:
			any := false
			for _, i := range n.Items {
				if i == nil {
					continue
				}
				any = true
				b.WriteString("\n" + indent + "-")
				write(i, indent+"  ")
			}
			if !any {
				b.WriteString(" []")
			}
		default:
			b.WriteString(" " + scalar(n))
		}
	}
	write(n, "")
	return strings.TrimPrefix(b.String(), "\n") + "\n"
}

func scalar(n *source.Node) string {
	if n.Style == source.Plain && !strings.Contains(n.Text, "\n") {
		return n.Text
	}
	return strconv.Quote(n.Text)
}

// sampled: every so many-th value is taken away, and every whole document. .ci/run sets
// PAINTMARK_SWEEP=whole, which takes every value from the car with the planted faults; the
// healthy car, the same but for a few values, stays sampled, and what the rules are compiled with and
// the log is cleaned by once more one in eight: each then takes a quarter of a second.
const sampled = 16

// TestNothingTakenAwayHelps takes each value and each document from the demo car, one at a
// time, and sets it unknown: no item passes that did not, none goes without its element, and
// NO-GO stays. It looks at the items of the rules and the protections, held against the newest run sheet.
// Joints that work opened are items of the look itself, and have tests of their own.
func TestNothingTakenAwayHelps(t *testing.T) {
	for _, healthy := range []bool{false, true} {
		t.Run(map[bool]string{false: "planted", true: "healthy"}[healthy], func(t *testing.T) {
			if healthy && testing.Short() {
				t.Skip("the other car takes the same ways")
			}
			s := sweptCar(t, healthy)
			base, verdict, refused := s.look(t, s.folder)
			if refused != "" {
				t.Fatal(refused)
			}
			var all []withdrawal
			for _, name := range slices.Sorted(keysOf(s.folder)) {
				if !strings.HasSuffix(name, ".yaml") || name == "paintmark.yaml" || path.Dir(name) == "packs" {
					continue
				}
				all = append(all, withdrawals(t, name, s.folder[name].Data)...)
			}
			switch only := os.Getenv("PAINTMARK_SWEEP"); only {
			case "", "whole":
				each := sampled
				switch {
				case only == "whole" && !healthy:
					each = 1
				case testing.Short():
					each = len(all)
				}
				kept := all[:0]
				for i, w := range all {
					slow := w.file == "channels.yaml" || w.file == "derived.yaml" || w.file == "limits.yaml"
					if w.path == "" || i%each == 0 && (!slow || each == 1 || i%8 == 0) {
						kept = append(kept, w)
					}
				}
				all = kept
			default: // a file or a value, to look into
				all = slices.DeleteFunc(all, func(w withdrawal) bool { return !strings.Contains(w.String(), only) })
			}
			t.Logf("%d withdrawals, %d items", len(all), len(base))
			bad := make([]string, len(all))
			var refusals atomic.Int32
			onAllProcessors(len(all), func(i int) {
				items, v, refused := s.look(t, s.without(all[i]))
				if refused != "" {
					refusals.Add(1)
					return
				}
				bad[i] = all[i].helps(base, items, verdict, v)
			})
			t.Logf("%d refused", refusals.Load())
			for i, b := range bad {
				if b != "" {
					t.Errorf("%s: %s", all[i], b)
				}
			}
		})
	}
}

// without is the car's folder once a thing was taken from it.
func (s *swept) without(w withdrawal) fstest.MapFS {
	folder := maps.Clone(s.folder)
	delete(folder, w.file)
	if w.text != "" {
		folder[w.file] = &fstest.MapFile{Data: []byte(w.text)}
	}
	return folder
}

// onAllProcessors does something n times, on all processors.
func onAllProcessors(n int, do func(i int)) {
	var next atomic.Int64
	var workers sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		workers.Go(func() {
			for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
				do(i)
			}
		})
	}
	workers.Wait()
}

func keysOf(m fstest.MapFS) func(func(string) bool) {
	return func(yield func(string) bool) {
		for k := range m {
			if !yield(k) {
				return
			}
		}
	}
}

// helps says what a withdrawal made better, "" if nothing.
func (w withdrawal) helps(before, after outcomes, was, is check.Verdict) string {
	var out []string
	for _, key := range sortedItems(before) {
		b := before[key]
		a, there := after[key]
		switch {
		case !there:
			if b.Outcome != check.NotApplicable && !w.takes(b, after) {
				out = append(out, fmt.Sprintf("%s (%s) vanishes", key, b.Outcome))
			}
		case a.Outcome == b.Outcome:
		case a.Outcome == check.Pass || a.Outcome == check.NotApplicable:
			out = append(out, fmt.Sprintf("%s: %s becomes %s (%s)", key, b.Outcome, a.Outcome, a.Message))
		}
	}
	if was == check.NoGo && is != check.NoGo {
		out = append(out, "NO-GO becomes "+string(is))
	}
	if was != check.Ready && is == check.Ready {
		out = append(out, "becomes READY")
	}
	return strings.Join(out, "; ")
}

// takes says that an item went with its element: the value that names it was taken away; what
// hangs on a part of the register was; the whole list is not known, and an item says so; or
// the part is on the car no longer, and its place stands empty.
func (w withdrawal) takes(b check.Result, after outcomes) bool {
	if slices.Contains(w.gone, b.Position) {
		return true
	}
	if list, ok := after[pair(b.Card.ID)]; ok && list.Outcome != check.Pass && list.Outcome != check.NotApplicable {
		return true
	}
	serial, _, _ := strings.Cut(b.Position, " ")
	if !strings.HasPrefix(b.Card.ID, "parts.") {
		return false
	}
	return w.how == "removed" && (w.serial == serial || slices.Contains(w.gone, serial)) || after["parts.places"].Outcome == check.Fail
}

// pair is the rule's name without what tells the two halves of one question apart: of any part
// one applies, as the part is a no-go part or not.
func pair(rule string) string { return strings.TrimSuffix(rule, "-no-go") }

func sortedItems(o outcomes) []string {
	var out []string
	for k := range o {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}
