package readiness

import (
	"maps"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/expr"
	"github.com/paintmark/paintmark/internal/pluginhost"
	"github.com/paintmark/paintmark/internal/runlog"
	"github.com/paintmark/paintmark/internal/source"
	"github.com/paintmark/paintmark/plugins"
	"github.com/paintmark/paintmark/plugins/sdk"
	pluginv1 "github.com/paintmark/paintmark/schemas/plugin/v1"
)

// served are the bundled plugins. All tests ask one process of this test program.
var served *Plugins

func TestMain(m *testing.M) {
	if sdk.Asked() {
		sdk.Main(plugins.Bundled()...)
	}
	served = &Plugins{Host: pluginhost.New(pluginhost.DefaultLimits), Bundled: sdk.Describe(plugins.Bundled()...)}
	code := m.Run()
	served.Host.Close()
	os.Exit(code)
}

// A team's limit of a plugin that is called as a pack in use is: no name may be a limit of both.
func TestNoLimitOfPackAndPlugin(t *testing.T) {
	c := Open(t.Context(), tern3, Options{Logs: "logs", Plugins: served})
	shared := 0
	for _, p := range c.packs {
		for _, w := range describedAs(served.Bundled, p.Name).GetChecks() {
			shared++
			for _, name := range limitNames(w) {
				if c.packHas(car.Override{Pack: car.Text{Text: p.Name}, Limit: car.Text{Text: name}}) {
					t.Errorf("%s is a limit of the pack and of %s", name, w.GetId())
				}
			}
		}
	}
	if shared == 0 {
		t.Error("no plugin has a pack's name")
	}
}

// A team's own rule that is called as a check of a plugin in use takes its place: the check is a fault, as two items would
// have one name, and the rule is asked.
func TestRuleCalledAsCheckOfPlugin(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "car")
	if err := os.CopyFS(dir, os.DirFS(tern3)); err != nil {
		t.Fatal(err)
	}
	const id = "failsafe.wing-losses"
	edit(t, filepath.Join(dir, "packs/ashgill-house.yaml"), func(s string) string { return strings.Replace(s, "id: house.warm-up\n", "id: "+id+"\n", 1) })
	look := Open(t.Context(), dir, Options{Logs: "logs", Plugins: served, Part: []string{id, "failsafe.trips"}}).Look(t.Context())
	if want := "limits.yaml:3:22: " + id + ": the pack ashgill-house has a rule of that name"; len(look.Faults) != 1 || !strings.HasPrefix(look.Faults[0].Error(), want) {
		t.Errorf("faults %v, want %s", look.Faults, want)
	}
	others := 0
	for _, it := range look.Items {
		if it.Card.ID == "failsafe.trips" {
			others++
		} else if it.Card.Item != "Warm-up reached before the last run" {
			t.Errorf("%s is %s", it.Name(), it.Card.Item)
		}
	}
	if others == 0 || others == len(look.Items) {
		t.Errorf("%d of %d items are of failsafe.trips", others, len(look.Items))
	}
}

// A plugin that limits.yaml names twice is asked once, and that is said.
func TestPluginNamedTwice(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "car")
	if err := os.CopyFS(dir, os.DirFS(tern3)); err != nil {
		t.Fatal(err)
	}
	edit(t, filepath.Join(dir, "limits.yaml"), func(s string) string { return strings.Replace(s, "plugins: [", "plugins: [failsafe, ", 1) })
	c := Open(t.Context(), dir, Options{Logs: "nowhere", Plugins: served})
	const says = "limits.yaml:3:32: failsafe is named twice; take one out"
	if !slices.ContainsFunc(c.faults, func(f check.ToolFault) bool { return f.Error() == says }) {
		t.Errorf("faults %v, want %s", c.faults, says)
	}
	asked := map[string]int{}
	for _, k := range c.plugins {
		if asked[k.card.ID]++; asked[k.card.ID] > 1 {
			t.Errorf("%s is there twice", k.card.ID)
		}
	}
}

// Plugins map the columns as the cache keeps them, in logger units; what they say is the same as of
// columns written for them in SI.
func TestColumnsKeptOrWritten(t *testing.T) {
	var before []check.Item
	for _, cache := range []*runlog.Cache{nil, runlog.NewCache(t.TempDir(), 0)} {
		c := Open(t.Context(), tern3, Options{Logs: "logs", Plugins: served, Cache: cache})
		look := c.Look(t.Context())
		if len(look.Faults) > 0 || len(c.columns) == 0 {
			t.Fatalf("faults %v, %d logs handed over", look.Faults, len(c.columns))
		}
		for _, files := range c.columns {
			for name, column := range files.done {
				if kept := column.Scale != 1 || column.Offset != 0; kept && cache == nil || name == "hyd_pressure" && kept != (cache != nil) {
					t.Errorf("with a cache %v, %s is handed over as %v", cache != nil, name, column)
				}
			}
		}
		if before != nil && !reflect.DeepEqual(look.Items, before) {
			t.Error("the items differ")
		}
		before = look.Items
	}
}

// Another process may make room in the cache before a plugin opens what it was handed: it is handed over again, written.
func TestColumnsLostOnTheWay(t *testing.T) {
	folder := filepath.Join(t.TempDir(), "cache")
	c := Open(t.Context(), tern3, Options{Logs: "logs", Plugins: served, Cache: runlog.NewCache(folder, 0), Part: []string{"failsafe.wing-losses"}})
	files := c.columnsOf(0)
	if _, err := files.hand("run", 57, channelNames(c.logs[0].data)); err != nil || len(files.kept) < 20 {
		t.Fatalf("%d files of the cache handed over: %v", len(files.kept), err)
	}
	for path := range files.kept { // under names that no plugin has opened yet
		files.kept[path+".new"] = files.kept[path]
		delete(files.kept, path)
	}
	for _, column := range files.done {
		column.Path += ".new"
	}
	files.times += ".new"
	look := c.Look(t.Context())
	if len(look.Faults) > 0 {
		t.Fatalf("faults %v", look.Faults)
	}
	if it := itemOf(t, look, "failsafe.wing-losses command off"); it.Outcome != check.Fail {
		t.Errorf("%s: %s", it.Outcome, it.Message)
	}
}

// Of what a check says of several logs the worst counts, whichever comes first, at each position by itself.
func TestWorstOfLogs(t *testing.T) {
	c := Open(t.Context(), tern3, Options{Logs: "logs", Plugins: served})
	k := c.pluginCheck("failsafe.wing-losses")
	of := func(position string, outcome pluginv1.Outcome) *pluginv1.Result {
		return &pluginv1.Result{Check: k.card.ID, Position: position, Outcome: outcome, Message: "said"}
	}
	const pass, warn, fail = pluginv1.Outcome_OUTCOME_PASS, pluginv1.Outcome_OUTCOME_WARN, pluginv1.Outcome_OUTCOME_FAIL
	k.said = &said{logs: []int{0, 0, 0}, found: [][]*pluginv1.Result{
		{of("a", warn), of("b", fail), of("c", pass)},
		{of("a", fail), of("b", warn), of("d", warn)},
		{of("a", pass), of("b", pass), of("c", pass)},
	}}
	got := map[string]check.Outcome{}
	for _, r := range c.inspect(t.Context(), k) {
		if _, twice := got[r.Position]; twice {
			t.Errorf("%s is there twice", r.Position)
		}
		got[r.Position] = r.Outcome
	}
	if k.said != nil {
		t.Error("another look would take it for its answer")
	}
	if want := (map[string]check.Outcome{"a": check.Fail, "b": check.Fail, "c": check.Pass, "d": check.Warn}); !maps.Equal(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
}

// Checks that say the same of which cars they are for share what was compiled of it, others do not.
func TestConditions(t *testing.T) {
	c := Open(t.Context(), tern3, Options{Logs: "logs", Plugins: served})
	types, err := c.folder.Types()
	if err != nil {
		t.Fatal(err)
	}
	env, faults := expr.NewEnv(expr.Scope{Roots: types})
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	applies := conditions(env, source.Pos{})
	const turbo, atmospheric = `car.engine.aspiration == "turbo"`, `car.engine.aspiration != "turbo"`
	before := map[string]*expr.Expr{}
	for _, text := range []string{turbo, atmospheric, turbo, "car.engin", atmospheric} {
		e, err := applies(text)
		if text == "car.engin" {
			if err == nil {
				t.Errorf("%s was taken", text)
			}
			continue
		}
		if err != nil || before[text] != nil && e != before[text] {
			t.Fatalf("%s is compiled anew, or not at all: %v", text, err)
		}
		before[text] = e
		want := map[string]expr.Truthness{turbo: expr.True, atmospheric: expr.False}[text]
		if ans := e.Eval(t.Context(), expr.Inputs{Roots: c.evidence.Roots}); ans.Truth != want {
			t.Errorf("%s is %v", text, ans.Truth)
		}
	}
}

// A check that must have a channel is not asked without a log, nor without the channel; one that can do without is.
func TestLacks(t *testing.T) {
	need := func(name string, optional bool) *pluginv1.ChannelNeed {
		return &pluginv1.ChannelNeed{Name: name, Optional: optional}
	}
	for _, c := range []struct {
		logs  string
		needs *pluginv1.Needs
		want  string
	}{
		{"logs", &pluginv1.Needs{Channels: []*pluginv1.ChannelNeed{need("rpm", false), need("no_such", true)}}, ""},
		{"logs", &pluginv1.Needs{Channels: []*pluginv1.ChannelNeed{need("rpm", false), need("no_such", false)}}, "no_such is not in the log"},
		{"logs", &pluginv1.Needs{AllChannels: true}, ""},
		{"nowhere", &pluginv1.Needs{Channels: []*pluginv1.ChannelNeed{need("rpm", false)}}, "no log at hand; bring the run's log"},
		{"nowhere", &pluginv1.Needs{Channels: []*pluginv1.ChannelNeed{need("rpm", true)}}, ""},
		{"nowhere", &pluginv1.Needs{AllChannels: true}, "no log at hand; bring the run's log"},
		{"nowhere", &pluginv1.Needs{}, ""},
	} {
		car := Open(t.Context(), tern3, Options{Logs: c.logs})
		if got := car.lacks(&pluginCheck{wire: &pluginv1.Check{Needs: c.needs}}); got != c.want {
			t.Errorf("%s, %v: %q, want %q", c.logs, c.needs, got, c.want)
		}
	}
}
