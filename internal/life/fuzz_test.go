package life

import (
	"os"
	"path/filepath"
	"testing"
	"testing/fstest"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/schema"
)

// FuzzOf: whatever stands in the documents that life is worked out from, there is a sheet, and
// no part has less than nothing.
func FuzzOf(f *testing.F) {
	read := func(pattern string) string {
		files, err := filepath.Glob(filepath.Join(season, pattern))
		if err != nil || len(files) == 0 {
			f.Fatal(pattern, err)
		}
		text, err := os.ReadFile(files[len(files)-1])
		if err != nil {
			f.Fatal(err)
		}
		return string(text)
	}
	f.Add(read("parts.yaml"), read("meters.yaml"), read("fitted/*"), read("runs/*"), read("plan.yaml"))
	f.Add(read("parts.yaml"), read("meters.yaml"), read("fitted/*received*"), read("runs/*dyno*"), read("plan.yaml"))
	f.Add("parts: [{serial: A, kind: x, children: [A]}]", "meters: {m: {unit: '1', by_plan: true}}", "assembled: {serial: A, into: A}", "run: {no: 1, parts: [A]}", "plan: unknown")
	f.Fuzz(func(t *testing.T, parts, meters, fitted, run, plan string) {
		folder, _ := car.OpenFS(fstest.MapFS{
			"car.yaml": {Data: []byte("car: {name: Test}\n")}, "parts.yaml": {Data: []byte(parts)}, "meters.yaml": {Data: []byte(meters)},
			"fitted/1.yaml": {Data: []byte(fitted)}, "runs/1.yaml": {Data: []byte(run)}, "plan.yaml": {Data: []byte(plan)},
			"positions.yaml": {Data: []byte("positions: [{position: engine, needs: engine}, {position: hub.RL, needs: hub}]\n")},
		})
		sheet, _ := Of(folder, folder.AsOf)
		if _, err := schema.JSON(sheet.Value); err != nil {
			t.Error(err)
		}
		for _, p := range sheet.Parts {
			for _, total := range p.Totals {
				if total.Used.Low < 0 || total.Used.High < total.Used.Low {
					t.Errorf("%s %s: %v", p.Serial, total.Meter.Name, total.Used)
				}
			}
			sheet.History(folder, p, folder.AsOf)
		}
		_ = sheet.First.Words()
	})
}
