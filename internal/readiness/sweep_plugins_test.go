package readiness

import (
	"fmt"
	"os"
	"path"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/fstest"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/expr"
	"github.com/paintmark/paintmark/internal/kernel"
	"github.com/paintmark/paintmark/internal/life"
	"github.com/paintmark/paintmark/internal/pack"
)

// TestNothingTakenAwayHelpsPlugins is TestNothingTakenAwayHelps for the items of the bundled plugins: each
// is asked over its wire with a value of a document gone or unknown, and none passes that did not, nor
// goes without its element.
func TestNothingTakenAwayHelpsPlugins(t *testing.T) {
	s := sweptCar(t, true)
	files := &sync.Map{} // columns of the one log, written once
	ask := func(folder fstest.MapFS) (outcomes, string) { return s.askPlugins(t, folder, files) }
	base, refused := ask(s.folder)
	if refused != "" || len(base) < 40 {
		t.Fatalf("%d items; %s", len(base), refused)
	}
	var all []withdrawal
	for _, name := range slices.Sorted(keysOf(s.folder)) {
		with := []string{"car.yaml", "plan.yaml", "setup.yaml", "parts.yaml", "trips", "measured", "fitted", "baselines"}
		if strings.HasSuffix(name, ".yaml") && (slices.Contains(with, name) || slices.Contains(with, path.Dir(name))) {
			all = append(all, withdrawals(t, name, s.folder[name].Data)...)
		}
	}
	each := map[bool]int{true: 10, false: 48}[os.Getenv("PAINTMARK_SWEEP") == "whole"] // one in four was gone through by hand once
	if testing.Short() {
		each = 200
	}
	onAllProcessors((len(all)+each-1)/each, func(i int) {
		w := all[i*each]
		if after, refused := ask(s.without(w)); refused == "" {
			if bad := w.helpsPlugins(base, after); bad != "" {
				t.Errorf("%s: %s", w, bad)
			}
		}
	})
	t.Logf("%d withdrawals, one in %d; %d items", len(all), each, len(base))
}

// askPlugins is what the plugins in use say of a car; refused says why nobody is asked.
func (s *swept) askPlugins(t *testing.T, folder fstest.MapFS, files *sync.Map) (items outcomes, refused string) {
	f, faults := car.OpenFS(folder)
	if len(faults) > 0 {
		return nil, faults[0].Error()
	}
	sheet, faults := life.Of(f, f.AsOf)
	if len(faults) > 0 {
		return nil, faults[0].Error()
	}
	sheet.LogsAtHand(f, s.logs)
	p := s.packs(folder, f)
	if len(p.faults) > 0 {
		return nil, p.faults[0].Error()
	}
	c := &Car{
		opened:  &opened{files: folder, folder: f, graph: p.opened.graph, parsed: p.opened.parsed, packs: p.opened.packs},
		options: Options{Plugins: served}, asOf: f.AsOf, handing: new(sync.Mutex),
		evidence: &pack.Evidence{Roots: f.Roots(f.AsOf), Run: f.NewestRun(f.AsOf)}, logs: []*openedLog{p.log}, runners: []*kernel.Runner{p.runner},
	}
	c.evidence.Roots["life"] = sheet.Value
	c.evidence.Logs = []pack.Log{{Kind: "run", Answers: expr.OnLog(p.runner), From: check.From{Kind: "log", Run: 57}}}
	c.openPlugins(t.Context())
	if len(c.faults) > 0 {
		return nil, c.faults[0].Error()
	}
	if kept, ok := files.Load(0); ok {
		c.columns = map[int]*columnFiles{0: kept.(*columnFiles)}
	}
	items = outcomes{}
	for _, r := range c.hold(t.Context(), p.rules, runChecks(t.Context(), c.pluginChecks(), deadline)) {
		if c.pluginCheck(r.Card.ID) == nil {
			continue // of a rule, which is not asked here
		}
		if r.Fault != nil {
			t.Errorf("%s: %v", r.Card.ID, r.Fault)
		}
		items[strings.TrimSpace(r.Card.ID+" "+r.Position)] = r
	}
	if c.columns[0] != nil {
		files.LoadOrStore(0, c.columns[0])
	}
	return items, ""
}

// helpsPlugins says what a withdrawal made better, "" if nothing.
func (w withdrawal) helpsPlugins(before, after outcomes) string {
	var out []string
	for _, key := range sortedItems(before) {
		b := before[key]
		a, there := after[key]
		switch {
		case !there:
			whole := after[b.Card.ID] // the list is not known, and the check says so
			named := slices.ContainsFunc(w.gone, func(word string) bool { return len(word) > 1 && strings.Contains(b.Position, word) })
			if w.how == "removed" && (strings.HasSuffix(w.path, ".noise."+b.Position) || strings.HasSuffix(w.path, ".apart."+b.Position)) {
				named = true // what only that record said is gone
			}
			if !named && (whole.Card == nil || whole.Outcome == check.Pass) {
				out = append(out, fmt.Sprintf("%s (%s) vanishes", key, b.Outcome))
			}
		case a.Outcome == b.Outcome:
		case a.Outcome == check.Pass || a.Outcome == check.NotApplicable:
			out = append(out, fmt.Sprintf("%s: %s becomes %s (%s)", key, b.Outcome, a.Outcome, a.Message))
		}
	}
	return strings.Join(out, "; ")
}
