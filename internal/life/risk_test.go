package life

import (
	"math"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/paintmark/paintmark/internal/car"
)

// The chance of failing in the planned runs is that of the fitted distribution, for the least
// and the most that the part may have used.
func TestRisk(t *testing.T) {
	folder := func(used, lives string) *Sheet {
		f, faults := car.OpenFS(fstest.MapFS{
			"car.yaml":    {Data: []byte("car: {name: Test}\n")},
			"meters.yaml": {Data: []byte("meters:\n  hours: {unit: h, by_hand: true}\n")},
			"parts.yaml":  {Data: []byte("parts:\n  - {serial: E, kind: engine, limits: [{meter: hours, life: 30 h, lives: " + lives + "}], at_register: " + used + "}\n")},
			"plan.yaml":   {Data: []byte("plan: {event: {first_day: 2026-05-16, last_day: 2026-05-16, time_zone: Z}, sessions: [{id: P1, kind: practice, runs: 2}], per_run: {meters: {hours: 0.5 h}}}\n")},
		})
		if err := faults.Err(); err != nil {
			t.Fatal(err)
		}
		s, faults := Of(f, f.AsOf)
		if err := faults.Err(); err != nil {
			t.Fatal(err)
		}
		return s
	}
	const lives = "{failed: [18 h, 22 h, 25 h], running: [12 h, 20 h], source: invented}"
	s := folder("{as: estimated, used: {hours: 15 h}, band: {hours: 3 h}}", lives)
	r := s.Parts[0].Limits[0].Risk
	at := func(life float64) float64 { return 1 - r.weibull.Survival(life+1)/r.weibull.Survival(life) }
	if math.Abs(r.Chance.Low-at(12)) > 1e-12 || math.Abs(r.Chance.High-at(18)) > 1e-12 || r.Shape < 1 {
		t.Errorf("chance %v to %v, want %v to %v (shape %v)", r.Chance.Low, r.Chance.High, at(12), at(18), r.Shape)
	}
	if !(r.Chance.Low > 0 && r.Chance.High < 0.5) {
		t.Error(r.Chance)
	}
	s = folder("{as: counted, used: {hours: unknown}}", lives)
	if c := s.Parts[0].Limits[0].Risk.Chance; c.Low != 0 || c.High != 1 {
		t.Errorf("an unknown life has the chance %v to %v", c.Low, c.High)
	}
	f, _ := car.OpenFS(fstest.MapFS{
		"car.yaml":    {Data: []byte("car: {name: Test}\n")},
		"meters.yaml": {Data: []byte("meters:\n  hours: {unit: h, by_hand: true}\n")},
		"parts.yaml":  {Data: []byte("parts:\n  - {serial: E, kind: engine, limits: [{meter: hours, life: 30 h, lives: {failed: [18 h], source: x}}]}\n")},
	})
	if _, faults := Of(f, f.AsOf); len(faults) != 1 || !strings.Contains(faults[0].Error(), "these lives give no chance of failing: a fit needs two failures at different lives") {
		t.Error(faults)
	}
}
