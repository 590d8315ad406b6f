package life

import (
	"math"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/trade"
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

// The lives of the register's own parts count beside those that are written: what was retired
// as failed is a failure, what was retired whole, left or still runs is not one, and what
// nobody wrote is said.
func TestLivesOfTheRegister(t *testing.T) {
	sheet := func(parts, retired string) *Sheet {
		t.Helper()
		files := fstest.MapFS{
			"car.yaml":    {Data: []byte("car: {name: Test}\n")},
			"people.yaml": {Data: []byte("people: [{initials: PO, name: P, hats: [lead-engineer]}]\n")},
			"meters.yaml": {Data: []byte("meters:\n  hours: {unit: h, by_hand: true}\n")},
			"plan.yaml":   {Data: []byte("plan: {event: {first_day: 2026-05-16, last_day: 2026-05-16, time_zone: Z}, sessions: [{id: P1, kind: practice, runs: 2}], per_run: {meters: {hours: 0.5 h}}}\n")},
			"parts.yaml": {Data: []byte("parts:\n" +
				"  - {serial: E5, kind: engine, limits: [{meter: hours, life: 30 h}], at_register: {as: counted, used: {hours: 5 h}}}\n" +
				"  - {serial: P1, kind: pump, at_register: {as: counted, used: {hours: 7 h}}, retired: {at: 2026-01-01, by: PO, failed: true}}\n" + parts)},
		}
		if retired != "" {
			files["fitted/20260510T100000Z-PO-e1-retired-000000.yaml"] = &fstest.MapFile{Data: []byte("at: 2026-05-10T10:00Z\nby: PO\nwhy: conrod\nretired: {serial: E1" + retired + "}\n")}
		}
		f, faults := car.OpenFS(files)
		if err := faults.Err(); err != nil {
			t.Fatal(err)
		}
		s, faults := Of(f, f.AsOf)
		if err := faults.Err(); err != nil {
			t.Fatal(err)
		}
		return s
	}
	const e1 = "  - {serial: E1, kind: engine, at_register: {as: counted, used: {hours: 18 h}}}\n"
	const e2 = "  - {serial: E2, kind: engine, at_register: {as: estimated, used: {hours: 22 h}, band: {hours: 2 h}}, retired: {at: 2026-01-01, by: PO, failed: true}}\n"
	const e3 = "  - {serial: E3, kind: engine, at_register: {as: counted, used: {hours: 20 h}}, retired: {at: 2026-01-01, by: PO, failed: false}}\n"

	s := sheet(e1, "")
	if l := s.Parts[0].Limits[0]; l.Lives != nil || l.Risk != nil {
		t.Errorf("no engine has ended, and there are lives: %+v", l.Lives)
	}
	s = sheet(e1+e2+e3, ", failed: true")
	l := s.Parts[0].Limits[0]
	inf := math.Inf(1)
	want := []trade.Lifetime{{Low: 5, High: inf}, {Low: 18, High: 18}, {Low: 20, High: 24}, {Low: 20, High: inf}}
	if !slices.Equal(l.Lives.Known, want) || len(l.Lives.Unclear) > 0 {
		t.Errorf("lives %+v, want %+v", l.Lives, want)
	}
	if total := s.Parts[0].Totals[0]; total.Planned != l.Planned || total.Planned.High != 1 {
		t.Errorf("the plan uses %v, of the limit %v, want 1 h", total.Planned, l.Planned)
	}
	fit, err := trade.FitWeibull(want)
	if err != nil || l.Risk == nil || math.Abs(l.Risk.Chance.High-fit.Risk(5, 1)) > 1e-12 || l.Risk.Failed != 2 || l.Risk.Running != 2 {
		t.Errorf("risk %+v, want %g (%v)", l.Risk, fit.Risk(5, 1), err)
	}
	s = sheet(e1+e2, "")
	if l := s.Parts[0].Limits[0]; l.Risk != nil || l.Lives.Failed() != 1 {
		t.Errorf("one failure gives %+v", l.Risk)
	}
	s = sheet(e1+e2+e3, ", job: unknown")
	if l := s.Parts[0].Limits[0]; l.Risk != nil || !slices.Equal(l.Lives.Unclear, []string{"E1 retired, failed or whole not written"}) {
		t.Errorf("unclear: %+v, risk %+v", l.Lives.Unclear, l.Risk)
	}
	s = sheet(strings.Replace(e1, ", at_register: {as: counted, used: {hours: 18 h}}", "", 1)+e2+e3, ", failed: true")
	if l := s.Parts[0].Limits[0]; l.Risk != nil || !slices.Equal(l.Lives.Unclear, []string{"E1 failed, hours not known"}) {
		t.Errorf("unclear: %+v, risk %+v", l.Lives.Unclear, l.Risk)
	}
}
