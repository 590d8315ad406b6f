package readiness

import (
	"os"
	"path/filepath"
	"reflect"
	"testing"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/pluginhost"
	"github.com/paintmark/paintmark/internal/runlog"
	"github.com/paintmark/paintmark/plugins"
	"github.com/paintmark/paintmark/plugins/sdk"
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
