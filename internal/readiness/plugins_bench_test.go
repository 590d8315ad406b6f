package readiness

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"github.com/paintmark/paintmark/plugins"
	"github.com/paintmark/paintmark/plugins/sdk"
)

// BenchmarkPlugins is what the checks of each bundled plugin compute on the demo car's newest run, without
// process and wire: go test ./internal/readiness -run '^$' -bench Plugins
func BenchmarkPlugins(b *testing.B) {
	c := Open(b.Context(), tern3, Options{Logs: "logs", Plugins: served})
	log := c.logs[0].data
	times, values := map[string][]float64{}, map[string][]float64{}
	for name, col := range log.Columns {
		for i, v := range col.Values {
			if col.Bad != nil && col.Bad[i>>6]>>(i&63)&1 != 0 {
				v = math.NaN()
			}
			row := i
			if col.Rows != nil {
				row = int(col.Rows[i])
			}
			values[name], times[name] = append(values[name], v), append(times[name], log.Times[row])
		}
	}
	for _, p := range plugins.Bundled() {
		b.Run(p.Name, func(b *testing.B) {
			for b.Loop() {
				var channels []*sdk.Channel // new ones, for which nothing was worked out
				for name, col := range log.Columns {
					channels = append(channels, &sdk.Channel{Name: name, Times: times[name], Values: values[name], Period: col.Period, Hold: col.Hold, Within: col.Within})
				}
				given := sdk.Given{Documents: map[string]any{}, Run: 57, Log: sdk.NewLog("run", 57, log.End, channels...)}
				for _, k := range p.Checks {
					for _, path := range k.Needs.Documents {
						root, _, _ := strings.Cut(path, ".")
						if _, there := given.Documents[root]; there {
							continue
						}
						d, err := c.handDocument(root)
						if err != nil {
							b.Fatal(err)
						}
						var v any
						if err := json.Unmarshal(d.document.GetJson(), &v); err != nil {
							b.Fatal(err)
						}
						given.Documents[root] = v
					}
					given.Limits = nil
					for _, l := range k.Needs.Limits {
						given.Limits = append(given.Limits, sdk.GivenLimit{Name: l.Name, Value: c.pluginCheck(k.ID).limits[l.Name].si})
					}
					if _, err := k.Inspect(b.Context(), given); err != nil {
						b.Fatal(err)
					}
				}
			}
		})
	}
}
