package plugins_test

import (
	"slices"
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

// A remedy has the usual caution of what it may do to who carries it out; here is what is done at a desk, on a scale or on
// the wires of a sensor, which hurts nobody.
func TestCautions(t *testing.T) {
	harmless := []string{
		"classregs.class", "classregs.weight", "classregs.bulletins",
		"sensorhealth.electrical", "sensorhealth.reversed", "sensorhealth.rate", "sensorhealth.dropout", "sensorhealth.spikes", "sensorhealth.noise", "sensorhealth.noise-rise",
		"sensorhealth.skew", "sensorhealth.pair-drift", "sensorhealth.pair-shift", "sensorhealth.zero-at-rest", "sensorhealth.zero-drift", "sensorhealth.cold-spread",
	}
	for _, p := range plugins.Bundled() {
		for _, c := range p.Checks {
			if none := slices.Contains(harmless, c.ID); none != (c.Caution == "") {
				t.Errorf("%s: the caution %q, harmless %v", c.ID, c.Caution, none)
			}
		}
	}
}
