package readiness

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
)

// TestDeviation writes one deviation at a time into the demo car and looks whether it covers
// the item it names. What it does not cover stays open, and the item says why.
func TestDeviation(t *testing.T) {
	if testing.Short() {
		t.Skip("looks at many cars, one after the other")
	}
	logs, err := filepath.Abs(filepath.Join(tern3, "logs"))
	if err != nil {
		t.Fatal(err)
	}
	const (
		gearbox = "rule: gearbox.oil-temp, outcome: warn, not_beyond: 128 °C, runs: 2, after_run: 57, serial: GB-01, with: [PO], watch: gearbox temperature"
		sensor  = "rule: sensors.oil-temp, outcome: no data, runs: 2, after_run: 57, with: [SQ]"
	)
	change := func(body, old, new string) string {
		if !strings.Contains(body, old) {
			t.Fatalf("%q is not in %q", old, body)
		}
		return strings.Replace(body, old, new, 1)
	}
	for _, c := range []struct {
		name, rule, body string
		short            string // why it does not cover; "" where it does
	}{
		{"covers", "gearbox.oil-temp", gearbox, ""},
		{"in another unit", "gearbox.oil-temp", change(gearbox, "128 °C", "262.4 °F"), ""},
		{"value beyond it", "gearbox.oil-temp", change(gearbox, "128 °C", "121 °C"), "it is not to go beyond 121 °C"},
		{"no bound", "gearbox.oil-temp", change(gearbox, "not_beyond: 128 °C, ", ""), "it has no not_beyond"},
		{"bound of another quantity", "gearbox.oil-temp", change(gearbox, "128 °C", "5 bar"), "its not_beyond 5 bar is not in a unit of °C"},
		{"another outcome", "gearbox.oil-temp", change(gearbox, "outcome: warn", "outcome: fail"), "it accepts fail, this is warn"},
		{"one hat missing", "gearbox.oil-temp", change(gearbox, ", with: [PO]", ""), "it wants lead-engineer and gearbox, each by a person of their own"},
		{"a hat too few", "gearbox.oil-temp", change(gearbox, "[PO]", "[TB]"), "it wants lead-engineer and gearbox"},
		{"runs over", "gearbox.oil-temp", change(gearbox, "after_run: 57", "after_run: 55"), "its 2 runs after run 55 are over"},
		{"more runs than the rule gives", "gearbox.oil-temp", change(change(gearbox, "after_run: 57", "after_run: 55"), "runs: 2", "runs: 9"), "its 2 runs after run 55 are over"},
		{"day over", "gearbox.oil-temp", gearbox + ", until: 2026-05-15", "it ended on 2026-05-15"},
		{"part off the car", "gearbox.oil-temp", change(gearbox, "GB-01", "GB-02"), "GB-02 is no longer on the car"},
		{"nobody may accept", "wing.close-time", "rule: wing.close-time, outcome: fail, not_beyond: 0.6 s, runs: 1, after_run: 57, with: [SQ]", "nobody may accept this"},
		{"a protection blind", "sensors.oil-temp", sensor, "oil_temp serves the oil temperature trip, so it needs a safe state and a substitute"},
		{"a protection blind, made safe", "sensors.oil-temp", sensor + ", substitute: {how: probe in the tank neck, before: each run}, safe_state: {what: boost map B2, read_back: M6-98 B2, by: SQ}", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir := filepath.Join(t.TempDir(), "car")
			if err := os.CopyFS(dir, os.DirFS(tern3)); err != nil {
				t.Fatal(err)
			}
			d := car.Draft{Folder: "deviations", At: time.Date(2026, 5, 16, 9, 0, 0, 0, time.UTC), By: "HW", What: c.name, Body: []byte("deviation: {" + c.body + "}")}
			if _, err := car.Write(dir, schema.Bundled, d); err != nil {
				t.Fatal(err)
			}
			look := Open(t.Context(), dir, Options{Logs: logs, Plugins: served, Part: []string{c.rule}}).Look(t.Context())
			if len(look.Faults) > 0 || len(look.Items) != 1 {
				t.Fatalf("faults %v, %d items", look.Faults, len(look.Items))
			}
			it := look.Items[0]
			switch {
			case c.short == "" && (it.Deviation == "" || it.Open || look.Verdict != check.Ready || look.Deviations.Open != 1):
				t.Errorf("not covered: %s", it.Message)
			case c.short != "" && (it.Deviation != "" || !it.Open || !strings.Contains(it.Message, c.short)):
				t.Errorf("covered %q, message %q, want %q", it.Deviation, it.Message, c.short)
			}
			if it.Outcome == check.Pass {
				t.Error("a deviation changed the outcome")
			}
		})
	}
}

// TestDeviationEndsWithTheWork: what was accepted was accepted of the car as it stood. A part
// changed or a job that opens anything on the system ends it, on another system it does not.
func TestDeviationEndsWithTheWork(t *testing.T) {
	if testing.Short() {
		t.Skip("looks at many cars, one after the other")
	}
	logs, err := filepath.Abs(filepath.Join(tern3, "logs"))
	if err != nil {
		t.Fatal(err)
	}
	accepted := car.Draft{Folder: "deviations", At: time.Date(2026, 5, 16, 9, 0, 0, 0, time.UTC), By: "HW", What: "gearbox oil", Body: []byte("deviation: {rule: gearbox.oil-temp, outcome: warn, not_beyond: 128 °C, runs: 2, after_run: 57, with: [PO]}")}
	after := func(folder, body string) car.Draft {
		return car.Draft{Folder: folder, At: accepted.At.Add(time.Minute), By: "PO", What: "since", Body: []byte(body)}
	}
	for _, c := range []struct {
		name, short string
		since       []car.Draft
	}{
		{"nothing", "", nil},
		{"a part of it out", "GB-01 was removed since", []car.Draft{after("fitted", "removed: {serial: GB-01, from: gearbox}")}},
		{"a part inside it out", "GS-04 was removed since", []car.Draft{after("fitted", "removed: {serial: GS-04, from: GB-01}")}},
		{"rebuilt", "GB-01 was overhauled since", []car.Draft{after("fitted", "overhauled: {serial: GB-01}")}},
		{"a job opens it", "job PO-40 was opened on the gearbox since", []car.Draft{after("jobs", "job: {no: PO-40, opened: {what: oil change, system: gearbox, before: next run, opens: [gearbox-input]}}")}},
		{"a job that opens nothing", "", []car.Draft{after("jobs", "job: {no: PO-40, opened: {what: order a cooler, system: gearbox, before: next event}}")}},
		{"another system", "", []car.Draft{after("jobs", "job: {no: PO-40, opened: {what: silencer, system: wing, before: next event, opens: [wing-supply-line]}}")}},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir := filepath.Join(t.TempDir(), "car")
			if err := os.CopyFS(dir, os.DirFS(tern3)); err != nil {
				t.Fatal(err)
			}
			for _, d := range append([]car.Draft{accepted}, c.since...) {
				if _, err := car.Write(dir, schema.Bundled, d); err != nil {
					t.Fatal(err)
				}
			}
			it := Open(t.Context(), dir, Options{Logs: logs, Plugins: served, Part: []string{"gearbox.oil-temp"}}).Look(t.Context()).Items[0]
			if (it.Deviation == "") != (c.short != "") || !strings.Contains(it.Message, c.short) {
				t.Errorf("covered %q, message %q, want %q", it.Deviation, it.Message, c.short)
			}
		})
	}
}

// TestRoomForDeviations: no more than five, one in a system; one lost sensor is one deviation,
// however many items it blinds.
func TestRoomForDeviations(t *testing.T) {
	item := func(id, system, covered, unseen string) *check.Item {
		it := &check.Item{Result: check.Result{Card: &check.Card{ID: id, System: system}, Deviation: covered}}
		if unseen != "" {
			it.Unseen = []check.Unseen{{Channel: unseen}}
		}
		return it
	}
	carried := func(items ...*check.Item) *check.Look {
		look := &check.Look{}
		for _, it := range items {
			look.Items = append(look.Items, *it)
		}
		return look
	}
	five := []*check.Item{item("a", "engine", "x", "oil_temp"), item("b", "engine", "x", "oil_temp"), item("c", "brakes", "x", ""), item("d", "tyres", "x", ""), item("e", "wing", "x", ""), item("f", "fuel", "x", "")}
	for _, c := range []struct {
		name  string
		look  *check.Look
		it    *check.Item
		also  []*check.Item
		wants string
	}{
		{"the first", carried(item("p", "engine", "", "")), item("a", "engine", "", ""), nil, ""},
		{"a second in the system", carried(item("a", "engine", "x", "")), item("b", "engine", "", ""), nil, "a of the engine is accepted already"},
		{"a second at once", carried(), item("b", "engine", "", ""), []*check.Item{item("a", "engine", "", "")}, "a of the engine is accepted already"},
		{"blind by the same sensor", carried(item("a", "engine", "x", "oil_temp")), item("b", "engine", "", "oil_temp"), nil, ""},
		{"blind by another", carried(item("a", "engine", "x", "oil_temp")), item("b", "engine", "", "water_temp"), nil, "a of the engine is accepted already"},
		{"the fifth", carried(five[:5]...), item("g", "clutch", "", ""), nil, ""},
		{"the sixth", carried(five...), item("g", "clutch", "", ""), nil, "5 deviations are open"},
	} {
		if got := new(Car).Room(c.look, c.it, c.also); (got == "") != (c.wants == "") || !strings.Contains(got, c.wants) {
			t.Errorf("%s: %q, want %q", c.name, got, c.wants)
		}
	}
}

// TestDeviationsOfTwoLaptops: what two laptops accepted without knowing of each other is not carried
// beyond the five, or two in a system: the later ones do not cover, and say why.
func TestDeviationsOfTwoLaptops(t *testing.T) {
	types, err := schema.Bundled.Document("deviation")
	if err != nil {
		t.Fatal(err)
	}
	at := func(minute int) *car.Record {
		return &car.Record{At: time.Date(2026, 5, 16, 9, minute, 0, 0, time.UTC), File: fmt.Sprint(minute), By: "HW", Body: schema.Unknown(types.Fields["deviation"], source.Pos{})}
	}
	result := func(id, system, unseen string) *check.Result {
		r := &check.Result{Card: &check.Card{ID: id, System: system}, Outcome: check.Warn, Message: "it is so"}
		if unseen != "" {
			r.Unseen = []check.Unseen{{Channel: unseen}}
		}
		return r
	}
	for _, c := range []struct {
		name    string
		all     []accepted
		open    int
		refused string // ids that are not covered
		why     string
	}{
		{"two in a system, the later one first in the report", []accepted{{result("b", "engine", ""), at(2)}, {result("a", "engine", ""), at(1)}}, 1, "b", "a of the engine is accepted already"},
		{"one sensor", []accepted{{result("a", "engine", "oil_temp"), at(1)}, {result("b", "engine", "oil_temp"), at(2)}, {result("c", "sensors", "oil_temp"), at(3)}}, 1, "", ""},
		{"the sixth", []accepted{{result("a", "engine", ""), at(1)}, {result("b", "brakes", ""), at(2)}, {result("c", "tyres", ""), at(3)}, {result("f", "clutch", ""), at(6)}, {result("d", "wing", ""), at(4)}, {result("e", "fuel", ""), at(5)}}, 5, "f", "5 deviations are open"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if open := new(Car).carry(c.all); open != c.open {
				t.Errorf("%d open, want %d", open, c.open)
			}
			refused := ""
			for _, a := range c.all {
				if a.Deviation == "" {
					refused += a.Card.ID
					if !strings.Contains(a.Message, c.why) {
						t.Errorf("%s: %q", a.Card.ID, a.Message)
					}
				}
			}
			if refused != c.refused {
				t.Errorf("not covered: %q, want %q", refused, c.refused)
			}
		})
	}
}
