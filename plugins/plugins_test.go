package plugins_test

import (
	"testing"

	"github.com/paintmark/paintmark/internal/pluginhost"
	"github.com/paintmark/paintmark/plugins"
	"github.com/paintmark/paintmark/plugins/sdk"
)

// TestBundled: the kit and the host both take what is bundled.
func TestBundled(t *testing.T) {
	for _, p := range plugins.Bundled() {
		if err := p.Validate(); err != nil {
			t.Error(err)
		}
	}
	if err := pluginhost.Sound(sdk.Describe(plugins.Bundled()...)); err != nil {
		t.Error(err)
	}
}
