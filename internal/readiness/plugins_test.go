package readiness

import (
	"os"
	"testing"

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
