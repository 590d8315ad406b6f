package life

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/paintmark/paintmark/internal/car"
)

// Events open inspections and weigh a run; only a job or a look that passed closes them. What
// may have happened leaves both open.
func TestEvents(t *testing.T) {
	const (
		fitted   = "fitted: {serial: E-1, position: engine}"
		calm     = "run: {no: %d, meters: {hours: 1 h, over_rev: 0}}"
		over     = "run: {no: %d, meters: {hours: 1 h, over_rev: 2}}"
		perhaps  = "run: {no: %d, meters: {hours: 1 h, over_rev: unknown}, filled: {over_rev: {low: 0, high: 3, source: rpm lost}}}"
		told     = "run: {no: %d, meters: {hours: 1 h, over_rev: 0}, events: [fire]}"
		opened   = "job: {no: HW-1, opened: {what: over-rev, system: engine, before: next run}}"
		closed   = "job: {no: HW-1, closed: {did: leak-down, inspected: [{serial: E-1, what: leak-down}]}}"
		looked   = "inspected: {serial: E-1, what: leak-down, result: fit}"
		notFit   = "inspected: {serial: E-1, what: leak-down, result: not fit}"
		rebuilt  = "overhauled: {serial: E-1}"
		offBench = "removed: {serial: E-1, from: engine}"
	)
	for _, c := range []struct {
		steps           []string
		opened          string
		maybe           bool
		low, high       float64 // share of the inspection by event
		since           string  // hours since the leak-down
		weighed         string  // hours by the limit that counts an over-rev twice
		total, overhaul string
	}{
		{[]string{fitted, calm, calm}, "", false, 0, 0, "2", "2", "2", "2"},
		{[]string{fitted, calm, over, calm}, "over-rev on run 2", false, 2, 2, "3", "4", "3", "3"},
		{[]string{fitted, over, over}, "over-rev on run 1", false, 2, 2, "2", "4", "2", "2"},
		{[]string{fitted, over, opened, closed, calm}, "", false, 0, 0, "1", "3", "2", "2"},
		{[]string{fitted, over, looked, calm}, "", false, 0, 0, "1", "3", "2", "2"},
		{[]string{fitted, over, notFit, calm}, "not fit on 2026-05-16", false, 2, 2, "2", "3", "2", "2"},
		{[]string{fitted, looked, over}, "over-rev on run 1", false, 2, 2, "1", "2", "1", "1"},
		{[]string{fitted, perhaps}, "over-rev on run 1", true, 0, 2, "1", "1 to 2", "1", "1"},
		{[]string{fitted, perhaps, over}, "over-rev on run 2", false, 2, 2, "2", "3 to 4", "2", "2"},
		{[]string{fitted, told}, "fire on run 1", false, 2, 2, "1", "1", "1", "1"},
		{[]string{over, fitted, calm}, "", false, 0, 0, "1", "1", "1", "1"}, // it was on the shelf
		{[]string{fitted, offBench, over}, "", false, 0, 0, "0", "0", "0", "0"},
		{[]string{fitted, over, rebuilt, calm}, "over-rev on run 1", false, 2, 2, "2", "3", "2", "1"},
	} {
		fsys := fstest.MapFS{
			"car.yaml":       {Data: []byte("car: {name: Test}\n")},
			"people.yaml":    {Data: []byte("people: [{initials: HW, name: Hanne Wulfram, hats: [lead-engineer]}]\n")},
			"positions.yaml": {Data: []byte("positions: [{position: engine, needs: engine}]\n")},
			"meters.yaml":    {Data: []byte("meters:\n  hours: {unit: h, by_hand: true}\n  over_rev: {unit: \"1\", by_hand: true, event: over-rev}\nevents: [fire]\n")},
			"parts.yaml": {Data: []byte(`parts:
  - serial: E-1
    kind: engine
    limits: [{meter: hours, life: 30 h, weigh: {over-rev: 2}}, {meter: hours, life: 20 h, since: overhaul}]
    inspect: [{what: leak-down, every: {hours: 4 h}, last: {at: 2026-05-15, used: {hours: 0 h}}, after: [over-rev, fire]}]
    at_register: {as: counted, used: {hours: 0 h}}
`)},
		}
		runs := 0
		for i, step := range c.steps {
			folder := "fitted"
			switch {
			case strings.HasPrefix(step, "run"):
				folder = "runs"
				runs++
				step = fmt.Sprintf(step, runs)
			case strings.HasPrefix(step, "job"):
				folder = "jobs"
			}
			fsys[fmt.Sprintf("%s/%d.yaml", folder, i)] = &fstest.MapFile{Data: fmt.Appendf(nil, "at: 2026-05-16T10:%02dZ\nby: HW\n%s\n", i, step)}
		}
		f, faults := car.OpenFS(fsys)
		s, more := Of(f, f.AsOf)
		if err := append(faults, more...).Err(); err != nil {
			t.Errorf("%v: %v", c.steps, err)
			continue
		}
		p := s.Part("E-1")
		ins := p.Inspections[0]
		m := p.Totals[0].Meter
		var share [2]float64
		for _, i := range s.Value.Get("parts[0].inspections").Items {
			if i.Get("due_by").Text == "over-rev and fire" {
				share = [2]float64{i.Get("share").Low, i.Get("share").High}
			}
		}
		got := fmt.Sprint(ins.Opened, ins.Maybe, share, m.Number(ins.Every[0].Used), m.Number(p.Limits[0].Used), m.Number(p.Totals[0].Used), m.Number(p.Limits[1].Used))
		want := fmt.Sprint(c.opened, c.maybe, [2]float64{c.low, c.high}, c.since, c.weighed, c.total, c.overhaul)
		if got != want {
			t.Errorf("%q\ngot  %s\nwant %s", c.steps, got, want)
		}
		if math.IsNaN(share[0]) {
			t.Error("no share")
		}
	}
}
