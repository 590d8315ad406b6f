// Package plugins lists the plugins that are part of Paintmark. They are served by the program
// itself, in a process of its own, as any other plugin is.
package plugins

import (
	"github.com/paintmark/paintmark/plugins/classregs"
	"github.com/paintmark/paintmark/plugins/failsafe"
	"github.com/paintmark/paintmark/plugins/hydraulics"
	"github.com/paintmark/paintmark/plugins/partlife"
	"github.com/paintmark/paintmark/plugins/sdk"
	"github.com/paintmark/paintmark/plugins/sensorhealth"
)

// Bundled are the plugins of this program, by name.
func Bundled() []*sdk.Plugin {
	return []*sdk.Plugin{new(classregs.Plugin()), new(failsafe.Plugin()), new(hydraulics.Plugin()), new(partlife.Plugin()), new(sensorhealth.Plugin())}
}
