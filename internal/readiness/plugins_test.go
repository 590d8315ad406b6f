package readiness

import (
	"os"
	"testing"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/pluginhost"
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
