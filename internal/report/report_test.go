package report

import (
	"bytes"
	"flag"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/source"
)

var update = flag.Bool("update", false, "rewrite the golden files")

func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	file := filepath.Join("testdata", name)
	if *update {
		if err := os.MkdirAll("testdata", 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, got, 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Errorf("%s differs (run with -update if the change is meant)\n--- got\n%s--- want\n%s", name, got, want)
	}
}

func ptr(v float64) *float64 { return &v }

func measured(v float64, unit string) *check.Measured {
	return &check.Measured{Value: v, Low: v, High: v, Unit: unit}
}

func limit(kind string, v float64, line int) *check.Limit {
	return &check.Limit{Kind: kind, Value: v, Where: source.Pos{File: "rules/house.yaml", Line: line, Column: 9}}
}

// turnaround is the awning seven minutes after a run: one of everything a report can hold.
func turnaround() *check.Look {
	rule := func(id, item, system, do, caution string, accept check.Accept) *check.Card {
		return &check.Card{
			ID: id, Item: item, System: system, Moments: []check.Moment{check.Run}, Do: do, Caution: caution, Accept: accept,
			Source: check.Source{Kind: "practice"}, Where: source.Pos{File: "rules/house.yaml", Line: 12, Column: 5},
		}
	}
	two := check.Acceptor{Hats: []string{"lead-engineer", "gearbox"}, Runs: 2}
	wing := rule("wing.return-time", "Wing back to high downforce", "wing", "Bottle shut, vent, pin; then silencer, hinge, spring", "pinch", check.Accept{})
	gearbox := rule("gearbox.oil-temp", "Gearbox oil, peak", "gearbox", "Tape off the cooler duct, level, cooler pump", "", check.Accept{Warn: two})
	oil := rule("engine.oil-before-load", "Oil warm before it was given load", "engine", "Heat the tank before start", "", check.Accept{NoData: check.Acceptor{Hats: []string{"engine", "lead-engineer"}}})
	tyres := rule("tyres.cold", "Cold pressure against the target, carried to the carcass temperature", "tyres", "Set it with the gauge named on the sheet", "", check.Accept{Fail: check.Acceptor{Hats: []string{"tyres"}}, Warn: check.Acceptor{Hats: []string{"tyres"}}})
	nuts := rule("wheels.nuts", "Wheel nuts, torque and clip, two people", "wheels", "Both people, car on its wheels, wrench in range", "", check.Accept{})
	shift := rule("hydraulics.shift-pressure", "Shift pressure", "hydraulics", "Precharge, pump duty", "stored-pressure", check.Accept{})
	bottle := rule("safety.dates", "Fire bottle", "safety", "Have it serviced", "", check.Accept{})
	leak := rule("hydraulics.leak-down", "Leak-down of the accumulator", "hydraulics", "Valve seats", "stored-pressure", check.Accept{})
	level := rule("hydraulics.level", "Hydraulic oil level", "hydraulics", "Look at it", "stored-pressure", check.Accept{})
	plug := rule("engine.plugs", "Plugs read", "engine", "Read them", "hot", check.Accept{})
	plug.Lenient = true
	items := []check.Item{
		{Open: true, Who: []string{"engine"}, Result: check.Result{
			Card: wing, Outcome: check.Warn, Measured: &check.Measured{Value: 0.36, Low: 0.35, High: 0.37, Unit: "s"},
			Limit: limit("max", 0.32, 30), Margin: ptr(-0.04), At: &check.At{Time: 12.48, Within: 0.01},
		}},
		{Open: true, Who: []string{"tyres", "chief-mechanic"}, Result: check.Result{Card: nuts, Position: "FL", Outcome: check.Fail, Message: "second initial missing"}},
		{Open: true, Who: []string{"tyres", "chief-mechanic"}, Result: check.Result{Card: nuts, Position: "RR", Outcome: check.Fail, Message: "both initials missing"}},
		{Open: true, Who: []string{"lead-engineer", "gearbox"}, Result: check.Result{
			Card: gearbox, Outcome: check.Warn, Measured: measured(122.3, "°C"), Limit: limit("max", 120, 31), Margin: ptr(-2.3), At: &check.At{Time: 61.2},
		}},
		{Open: true, Who: []string{"tyres"}, Result: check.Result{Card: tyres, Position: "RL", Outcome: check.Warn, Measured: measured(-0.0412, "bar"), Limit: &check.Limit{Kind: "a to b", Value: -0.03, Upper: 0.03}, Margin: ptr(-0.0112)}},
		{Open: true, Who: []string{"engine"}, Result: check.Result{Card: leak, Outcome: check.NoData, Message: "no reading of measured.hydraulics.leakdown"}},
		{Open: true, Who: []string{"engine"}, Result: check.Result{Card: level, Outcome: check.NoData, Message: "no reading since the accumulator was fitted"}},
		{Open: true, Who: []string{"engine", "lead-engineer"}, Result: check.Result{
			Card: oil, Outcome: check.NoData, Message: "oil_temp open circuit from 22.1 s; oil temperature trip is blind",
			Unseen: []check.Unseen{{Channel: "oil_temp", From: 22.1, To: 64.4, Why: "open circuit"}},
		}},
		{Who: []string{"engine"}, Result: check.Result{Card: plug, Position: "cyl 1", Outcome: check.NoData, Message: "not written down today"}},
		{Who: []string{"engine"}, Result: check.Result{Card: plug, Position: "cyl 2", Outcome: check.NoData, Message: "not written down today"}},
		{Result: check.Result{
			Card: &check.Card{ID: "brakes.bias", Item: "Brake bias", System: "brakes"}, Outcome: check.Warn, Measured: measured(60.2, "%"),
			Limit: limit("max", 60, 40), Margin: ptr(-0.2), Deviation: "HW and PO, not beyond 61 %, until run 59",
		}},
		{Result: check.Result{Card: shift, Outcome: check.Pass, Measured: measured(117, "bar"), Limit: limit("min", 112, 32), Margin: ptr(5), At: &check.At{Time: 31.42}}},
		{Result: check.Result{Card: bottle, Outcome: check.Pass, Measured: measured(18, "d"), Limit: limit("min", 0, 33), Margin: ptr(18), Due: limit("min", 60, 34)}},
		{Result: check.Result{Card: &check.Card{ID: "gearbox.dogs", Item: "Dogs looked at", System: "gearbox"}, Outcome: check.NotApplicable, Message: "synchromesh"}},
	}
	return &check.Look{
		Verdict: check.NoGo, Car: "Ashgill Tern 3", Number: "417", Place: "Coldharrow Bank", Setup: "S14",
		AsOf: time.Date(2026, 5, 16, 8, 49, 0, 0, time.UTC), Zone: time.FixedZone("+01:00", 3600),
		Run: 57, Next: "P2", Log: "t3-057.csv.gz", Items: items, Remarks: []string{"t3-057.csv.gz: doubled 3 times, first in line 120"}, Deviations: check.Deviations{Open: 1, Most: 5},
		Inputs: []check.File{{Path: "car.yaml", SHA256: strings.Repeat("0a", 32)}},
	}
}

func broken() *check.Look {
	look := turnaround()
	look.Faults = []check.ToolFault{
		{Fault: source.Fault{Pos: source.Pos{File: "packs/house.yaml", Line: 88, Column: 14}, What: "pressure is compared with temperature", Remedy: "write bar(3.8)"}, Systems: []string{"hydraulics"}},
		{Fault: source.Fault{Pos: source.Pos{File: "packs/house.yaml", Line: 120, Column: 9}, What: "no channel oil_tmp", Remedy: "did you mean oil_temp"}, Systems: []string{"engine"}},
	}
	return look
}

func part() *check.Look {
	look := turnaround()
	look.Part, look.Items = "part brakes", look.Items[10:11]
	return look
}

func ready() *check.Look {
	look := turnaround()
	look.Verdict, look.Items, look.Deviations.Open = check.Ready, look.Items[11:], 0
	return look
}

var looks = []struct {
	name string
	look func() *check.Look
	opt  Options
}{
	{"turnaround", turnaround, Options{}},
	{"all", turnaround, Options{All: true}},
	{"fault", broken, Options{}},
	{"part", part, Options{}},
	{"ready", ready, Options{}},
	{"nothing", func() *check.Look {
		return &check.Look{Verdict: check.NoGo, Faults: []check.ToolFault{{Fault: source.Fault{Pos: source.Pos{File: "car.yaml"}, What: "missing", Remedy: "write it, or start one with paintmark new"}}}}
	}, Options{}},
}

func TestText(t *testing.T) {
	for _, c := range looks {
		t.Run(c.name, func(t *testing.T) {
			var out bytes.Buffer
			if err := Text(&out, c.look(), c.opt); err != nil {
				t.Fatal(err)
			}
			for i, line := range strings.Split(out.String(), "\n") {
				if n := utf8.RuneCountInString(line); n > width {
					t.Errorf("line %d has %d columns: %s", i+1, n, line)
				}
			}
			golden(t, c.name+".txt", out.Bytes())
		})
	}
}

// TestColourOnlyAdds takes the colours away again and expects the plain text.
func TestColourOnlyAdds(t *testing.T) {
	for _, c := range looks {
		var plain, painted bytes.Buffer
		if err := Text(&plain, c.look(), c.opt); err != nil {
			t.Fatal(err)
		}
		c.opt.Colour = true
		if err := Text(&painted, c.look(), c.opt); err != nil {
			t.Fatal(err)
		}
		if !strings.Contains(painted.String(), "\x1b[") {
			t.Errorf("%s: no colour was added", c.name)
		}
		if got := uncoloured(painted.String()); got != plain.String() {
			t.Errorf("%s: colour changes the words:\n%s", c.name, got)
		}
	}
}

func uncoloured(s string) string {
	var b strings.Builder
	for s != "" {
		before, after, found := strings.Cut(s, "\x1b[")
		b.WriteString(before)
		if !found {
			break
		}
		_, s, _ = strings.Cut(after, "m")
	}
	return b.String()
}

func TestNumbers(t *testing.T) {
	for _, c := range []struct {
		value, limit, margin     float64
		have, limitWords, inHand string
	}{
		{0.36, 0.32, -0.04, "0.36", "0.32 max", "-0.04"},
		{122.3, 120, -2.3, "122", "120 max", "-2"},
		{120.2, 120, -0.2, "120.2", "120.0 max", "-0.2"}, // never a difference that reads as nothing
		{0.3201, 0.32, -0.0001, "0.3201", "0.32 max", "-0.0001"},
		{-0.0001, 0, 0.0001, "-0.0001", "0 max", "+0.0001"},
		{17200, 20000, 2800, "17200", "20000 max", "+2800"},
	} {
		f := figuresOf(&check.Result{Measured: measured(c.value, ""), Limit: limit("max", c.limit, 1), Margin: &c.margin})
		if f.have != c.have || f.limit != c.limitWords || f.inHand != c.inHand {
			t.Errorf("%v against %v: %q %q %q, want %q %q %q", c.value, c.limit, f.have, f.limit, f.inHand, c.have, c.limitWords, c.inHand)
		}
	}
	open := figuresOf(&check.Result{Measured: &check.Measured{Value: math.NaN(), Low: 0.4, High: math.Inf(1), Unit: "s"}})
	if open.have != "over 0.4 s" || open.between != "at least 0.4 s" {
		t.Errorf("open to above: %+v", open)
	}
}

func TestCut(t *testing.T) {
	for _, c := range []struct {
		words      string
		n          int
		head, rest string
	}{
		{"short", 10, "short", ""},
		{"two words", 5, "two", "words"},
		{"two words", 3, "two", "words"},
		{"averylongword and more", 5, "averylongword", "and more"},
		{"averylongword", 5, "averylongword", ""},
		{"a b c d", 5, "a b c", "d"},
	} {
		if head, rest := cut(c.words, c.n); head != c.head || rest != c.rest {
			t.Errorf("cut(%q, %d) = %q, %q, want %q, %q", c.words, c.n, head, rest, c.head, c.rest)
		}
	}
}
