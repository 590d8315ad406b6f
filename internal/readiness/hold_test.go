package readiness

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/demo"
	"github.com/paintmark/paintmark/internal/pluginhost"
	"github.com/paintmark/paintmark/internal/schema"
)

// written writes a record into a car folder.
func written(t *testing.T, dir, folder, at, body string) {
	t.Helper()
	when, err := time.Parse(time.RFC3339, at)
	if err != nil {
		t.Fatal(err)
	}
	d := car.Draft{Folder: folder, At: when, By: "HW", What: "test", Body: []byte(body)}
	if _, err := car.Write(dir, &schema.Set{}, d); err != nil {
		t.Fatal(err)
	}
}

// stands says that an item stands open and that no name covers it.
func stands(t *testing.T, dir, name, says string) {
	t.Helper()
	look := lookOver(t, dir)
	it := itemOf(t, look, name)
	if it.Outcome != check.NoData || !it.Stops() || !strings.Contains(it.Message, says) {
		t.Errorf("%s: %s, stops %v: %s", name, it.Outcome, it.Stops(), it.Message)
	}
	if look.Verdict != check.NoGo {
		t.Errorf("%s: the car is %s", name, look.Verdict)
	}
}

// A no-go item that the run sheet looked at does not go away by an edit.
func TestNoGoItemsDoNotVanish(t *testing.T) {
	if testing.Short() {
		t.Skip("looks at many cars, one after the other")
	}
	dir := takenIn(t)
	file := func(name string) string { return filepath.Join(dir, name) }
	for _, c := range []struct {
		what           string
		file, old, now string
		name, says     string
		covered        bool // by a name: it is no no-go item
	}{
		{"its pack is dropped", "limits.yaml", "hydraulics, ", "", "hydraulics.shift-pressure", "failed on run 57; the pack hydraulics is not in limits.yaml any more", false},
		{"and one that is no no-go item", "limits.yaml", "hydraulics, ", "", "hydraulics.precharge-hot", "on run 57; the pack hydraulics is not in limits.yaml any more", true},
		{"nor does that apply any more", "car.yaml", "driven: rear", "driven: front", "chassis.driveline-boots RL", "on run 57; does not apply any more", true},
		{"a passing one too", "limits.yaml", "hydraulics, ", "", "hydraulics.leak-down", "passed on run 57; the pack hydraulics", false},
		{"its rule does not apply any more", "car.yaml", "shift: hydraulic", "shift: pneumatic", "hydraulics.shift-pressure", "failed on run 57; does not apply any more", false},
		{"its corner is gone", "car.yaml", "    - {position: RR, axle: rear, side: right}\n", "", "brakes.cracks RR", "on run 57; its element is there no more", false},
	} {
		t.Run(c.what, func(t *testing.T) {
			was, err := os.ReadFile(file(c.file))
			if err != nil {
				t.Fatal(err)
			}
			rewrite(t, file(c.file), c.old, c.now)
			if c.covered {
				look := lookOver(t, dir)
				it := itemOf(t, look, c.name)
				if it.Outcome != check.NoData || it.Stops() || !strings.Contains(it.Message, c.says) || look.Verdict == check.Ready {
					t.Errorf("%s: %s, stops %v: %s", c.name, it.Outcome, it.Stops(), it.Message)
				}
			} else {
				stands(t, dir, c.name, c.says)
			}
			if err := os.WriteFile(file(c.file), was, 0o666); err != nil {
				t.Fatal(err)
			}
		})
	}

	// Left out with two initials it stands open no more; the rest of the pack's other systems does.
	rewrite(t, file("limits.yaml"), "hydraulics, ", "")
	written(t, dir, "lockouts", "2026-05-16T09:56:00+01:00", "lockout: {system: hydraulics, state: pump fuse out, second: SQ}\n")
	for _, it := range lookOver(t, dir).Items {
		if it.Name() == "hydraulics.shift-pressure" {
			t.Errorf("locked out: %s %s", it.Outcome, it.Message)
		}
	}
}

// An item of a part that left the car by a record goes with it.
func TestItemsGoWithTheirPart(t *testing.T) {
	if testing.Short() {
		t.Skip("looks at many cars, one after the other")
	}
	dir := takenIn(t)
	const name = "parts.life-no-go WA-2 wing_actuations"
	itemOf(t, lookOver(t, dir), name)
	written(t, dir, "fitted", "2026-05-16T09:57:00+01:00", "removed: {serial: WA-2, from: wing.actuator}\n")
	for _, it := range lookOver(t, dir).Items {
		if it.Name() == name {
			t.Errorf("%s: %s", it.Outcome, it.Message)
		}
	}
	// Taken out of the register while it sits on the car, it does not.
	dir = takenIn(t)
	rewrite(t, filepath.Join(dir, "parts.yaml"), "{meter: wing_actuations, life: 4000}", "{meter: calendar, life: 24 mo, from: 2026-01-01}")
	stands(t, dir, name, "its element is there no more")
}

// A fail does not become one for names because its value was taken back.
func TestWithdrawnFailStays(t *testing.T) {
	if testing.Short() {
		t.Skip("looks at many cars, one after the other")
	}
	const name, group = "engine.leak-down", "measured: {engine: {leakdown: {cylinders: "
	dir := takenIn(t)
	written(t, dir, "measured", "2026-05-16T09:56:00+01:00", group+"[5 %, 35 %, 5 %, 7 %], tester: LD-1}}}\n")
	if it := itemOf(t, lookOver(t, dir), name); it.Outcome != check.Fail {
		t.Fatalf("%s: %s", it.Outcome, it.Message)
	}
	for _, c := range []struct{ what, list string }{{"one", "[5 %, unknown, 5 %, 7 %]"}, {"all", "unknown"}} {
		t.Run(c.what, func(t *testing.T) {
			at := map[string]string{"one": "2026-05-16T09:57:00+01:00", "all": "2026-05-16T09:58:00+01:00"}[c.what]
			written(t, dir, "measured", at, group+c.list+", tester: LD-1}}}\n")
			stands(t, dir, name, "it failed until its value was taken back")
		})
	}
	// Measured again it counts as it is.
	written(t, dir, "measured", "2026-05-16T09:59:00+01:00", group+"[5 %, 6 %, 5 %, 7 %], tester: LD-1}}}\n")
	if it := itemOf(t, lookOver(t, dir), name); it.Outcome != check.Pass {
		t.Errorf("%s: %s", it.Outcome, it.Message)
	}
	// One that never failed is for names, as its rule says.
	dir = takenIn(t)
	written(t, dir, "measured", "2026-05-16T09:57:00+01:00", group+"unknown, tester: LD-1}}}\n")
	if it := itemOf(t, lookOver(t, dir), name); it.Outcome != check.NoData || it.Stops() {
		t.Errorf("%s, stops %v: %s", it.Outcome, it.Stops(), it.Message)
	}
}

// What the newest run did not exercise says when it was last proven, and a fail stays one.
func TestNotExercisedSaysWhenItWas(t *testing.T) {
	dir := takenIn(t)
	if err := os.Mkdir(filepath.Join(dir, "logs"), 0o777); err != nil {
		t.Fatal(err)
	}
	still := filepath.Join(dir, "logs", "t3-058.csv")
	var log strings.Builder
	log.WriteString("Car,AY-T3-001\nLogger,LG-88\nRun counter,58\n\nTime,ENG_RPM,P_HYD,SH_ACT,V_CAR,WNG_CMD,WNG_POS\ns,rpm,bar,state,km/h,state,deg\n")
	for i := range 400 {
		fmt.Fprintf(&log, "%.2f,1200,140,0,0,0,38\n", float64(i)/100)
	}
	if err := os.WriteFile(still, []byte(log.String()), 0o666); err != nil {
		t.Fatal(err)
	}
	post(t, dir, 58, "2026-05-16T10:18:00+01:00", BroughtLog{"run", still})
	stands(t, dir, "hydraulics.shift-pressure", "not exercised on run 58; failed on run 57, 30 min before")
	it := itemOf(t, lookOver(t, dir), "wing.open-time")
	if !it.NotExercised || it.ProvenOn != 57 || !strings.Contains(it.Message, "not exercised on run 58; last proven on run 57, 30 min before") {
		t.Errorf("%+v", it.Message)
	}
}

// What a plugin that broke does not say is not said to be gone as well: the fault says it, once.
func TestItemsOfABrokenPluginAreNotGone(t *testing.T) {
	if testing.Short() {
		t.Skip("looks as others do, at another log")
	}
	dir := filepath.Join(t.TempDir(), "car")
	if err := demo.Write(dir, false); err != nil {
		t.Fatal(err)
	}
	if err := os.RemoveAll(filepath.Join(dir, "runs")); err != nil {
		t.Fatal(err)
	}
	postWith(t, dir, 57, "2026-05-16T09:48:00+01:00", Options{Logs: "logs", Plugins: served}, BroughtLog{"run", filepath.Join(dir, "logs", "t3-057.csv.gz")})
	gone := func(look *check.Look) (out []string) {
		for _, it := range look.Items {
			if strings.Contains(it.Message, "on run 57; ") {
				out = append(out, it.Name()+": "+it.Message)
			}
		}
		return out
	}
	before := gone(lookOver(t, dir))
	limits := pluginhost.DefaultLimits
	limits.Reply = 1 // byte, which no answer keeps to
	host := pluginhost.New(limits)
	defer host.Close()
	look := Open(t.Context(), dir, Options{Logs: "logs", Plugins: &Plugins{Host: host, Bundled: served.Bundled}}).Look(t.Context())
	if len(look.Faults) == 0 || look.Verdict == check.Ready {
		t.Errorf("%d faults, %s", len(look.Faults), look.Verdict)
	}
	if after := gone(look); !slices.Equal(after, before) {
		t.Errorf("gone are %v, and with sound plugins %v", after, before)
	}
	look = Open(t.Context(), dir, Options{Logs: "logs"}).Look(t.Context()) // cannot be asked at all
	if len(look.Faults) == 0 || look.Verdict == check.Ready {
		t.Errorf("%d faults, %s", len(look.Faults), look.Verdict)
	}
	if after := gone(look); !slices.Equal(after, before) {
		t.Errorf("gone are %v, and with sound plugins %v", after, before)
	}
}

// A run sheet is read on a computer without the logs, too. What looks at the log folder then has nothing to
// say; and what a plugin cannot list without the log is not called gone.
func TestWithoutTheLogFolder(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "car")
	if err := demo.Write(dir, true); err != nil {
		t.Fatal(err)
	}
	sheets, err := filepath.Glob(filepath.Join(dir, "runs", "*-run-57-*.yaml"))
	if err != nil || len(sheets) != 1 {
		t.Fatal(sheets, err)
	}
	data, err := os.ReadFile(sheets[0])
	if err != nil {
		t.Fatal(err)
	}
	posted := "  outcomes:\n    other: {pass: [parts.logs]}\n    no_go: {pass: [failsafe.wing-losses corner]}\n"
	if err := os.WriteFile(sheets[0], append(data, posted...), 0o600); err != nil {
		t.Fatal(err)
	}
	look := func() *check.Look {
		return Open(t.Context(), dir, Options{Logs: "logs", Plugins: served, Part: []string{"parts.logs", "failsafe.wing-losses"}}).Look(t.Context())
	}
	if it := itemOf(t, look(), "parts.logs"); it.Outcome != check.Pass {
		t.Errorf("with the logs: %s %s", it.Outcome, it.Message)
	}
	if err := os.Rename(filepath.Join(dir, "logs"), filepath.Join(dir, "away")); err != nil {
		t.Fatal(err)
	}
	if it := itemOf(t, look(), "parts.logs"); it.Outcome != check.NotApplicable {
		t.Errorf("without the log folder: %s %s", it.Outcome, it.Message)
	}
	it := itemOf(t, look(), "failsafe.wing-losses corner")
	if it.Outcome != check.NoData || !it.Stops() || !strings.Contains(it.Message, "passed on run 57; no log at hand") {
		t.Errorf("%s, stops %v: %s", it.Outcome, it.Stops(), it.Message)
	}
}
