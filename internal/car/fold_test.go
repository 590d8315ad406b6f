package car

import (
	"fmt"
	"io/fs"
	"math"
	"slices"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"pgregory.net/rapid"

	"github.com/paintmark/paintmark/internal/schema"
)

// base is a small car with a team and a register.
var base = map[string]string{
	"car.yaml":    "car: {chassis: AY-1}",
	"people.yaml": "people: [{initials: HW, name: Hanne Wulfram, hats: [lead-engineer]}, {initials: PO, name: Piet Orlowe, hats: [gearbox]}]",
	"parts.yaml": `parts:
  - {serial: GB-01, kind: gearbox, children: [GS-04]}
  - {serial: GB-02, kind: gearbox}
  - {serial: GS-04, kind: gear set}
  - {serial: WA-2, kind: wing-actuator}`,
	"positions.yaml": `positions:
  - {position: gearbox, needs: gearbox, change_opens: [bellhousing, wheel-nut FL], change_voids: [measured.gearbox, measured.hydraulics.precharge, baseline.shift_time]}
  - {position: wing.actuator, needs: wing-actuator, change_voids: [measured.wing]}`,
}

// open reads a folder of the base and files given as path: content; a record may leave
// its time and initials to `at by body` in one line.
func open(t testing.TB, files ...string) *Folder {
	t.Helper()
	f, faults := OpenFS(tree(files...))
	if err := faults.Err(); err != nil {
		t.Fatal(err)
	}
	return f
}

func tree(files ...string) fs.FS {
	fsys := fstest.MapFS{}
	for name, text := range base {
		fsys[name] = &fstest.MapFile{Data: []byte(text)}
	}
	for i, f := range files {
		head, text, _ := strings.Cut(f, "|")
		head = strings.TrimSpace(head)
		if !strings.HasSuffix(head, ".yaml") { // folder hour initials
			p := strings.Fields(head)
			head = fmt.Sprintf("%s/%d.yaml", p[0], i)
			text = fmt.Sprintf("at: 2026-05-%sZ\nby: %s\n%s", p[1], p[2], strings.TrimSpace(text))
		}
		fsys[head] = &fstest.MapFile{Data: []byte(text)}
	}
	return fsys
}

func at(day, hour int) time.Time { return time.Date(2026, 5, day, hour, 0, 0, 0, time.UTC) }

func want(t *testing.T, v *schema.Value, text, record string) {
	t.Helper()
	switch {
	case v == nil:
		t.Error("no such value")
	case text == "" && !v.Unknown:
		t.Errorf("%s is %q, want a gap", v.Type.Name, v.Text)
	case text != "" && (v.Unknown || v.Text != text):
		t.Errorf("%s is %q (unknown %v), want %q", v.Type.Name, v.Text, v.Unknown, text)
	case record != "" && v.Record != record:
		t.Errorf("%s is from %q, want %q", v.Type.Name, v.Record, record)
	}
}

func TestNewestMeasuredCounts(t *testing.T) {
	f := open(t,
		"measured 16T09:00 HW | measured: {brakes: {pad: {FL: 17 mm, FR: 16 mm}, pedal_travel: 46 mm}, hydraulics: {precharge: {value: 83 bar, gas_at: 17 °C}}}",
		"measured 16T10:00 PO | measured: {brakes: {pad: {FL: 15 mm, RL: 14 mm}}, hydraulics: {precharge: {value: 84 bar}}}",
		"measured 16T08:00 HW | measured: {brakes: {pad: {FR: 9 mm}, pedal_travel: 40 mm}, wing: {bottle: 172 bar}}",
	)
	m := f.Roots(f.AsOf)["measured"]
	want(t, m.Get("brakes.pad.FL"), "15 mm", "measured/1.yaml")
	want(t, m.Get("brakes.pad.FR"), "16 mm", "measured/0.yaml") // older, of another corner, stays
	want(t, m.Get("brakes.pad.RL"), "14 mm", "measured/1.yaml")
	want(t, m.Get("brakes.pad.RR"), "", "")
	want(t, m.Get("brakes.pedal_travel"), "46 mm", "measured/0.yaml")
	want(t, m.Get("hydraulics.precharge.value"), "84 bar", "measured/1.yaml")
	want(t, m.Get("hydraulics.precharge.gas_at"), "", "") // never another reading's temperature
	want(t, m.Get("wing.bottle"), "172 bar", "measured/2.yaml")
	want(t, m.Get("clutch.stack"), "", "")
	if r := f.Record(m.Get("brakes.pad.FL").Record); r.By != "PO" || !r.At.Equal(at(16, 10)) {
		t.Error(r)
	}
	// As things stood at nine.
	m = f.Roots(at(16, 9))["measured"]
	want(t, m.Get("brakes.pad.FL"), "17 mm", "measured/0.yaml")
	want(t, m.Get("hydraulics.precharge.gas_at"), "17 °C", "")
}

func TestUnknownWithdrawsNothingQuietly(t *testing.T) {
	f := open(t,
		"measured 16T09:00 HW | measured: {wing: {bottle: 172 bar, hinge_play: 1 mm}}",
		"measured 16T10:00 HW | measured: {wing: {bottle: unknown}}",
	)
	m := f.Roots(f.AsOf)["measured"]
	want(t, m.Get("wing.bottle"), "", "measured/1.yaml")
	want(t, m.Get("wing.hinge_play"), "1 mm", "measured/0.yaml")
}

func TestRunBeforeAReading(t *testing.T) {
	f := open(t,
		"runs 15T15:30 HW | run: {no: 56, started: 2026-05-15T15:20Z}",
		"runs 16T09:48 HW | run: {no: 57, started: 2026-05-16T09:42Z}",
		"runs 14T09:48 HW | run: {no: 58}", // a logger clock that is off: the number counts
		"measured 16T09:00 HW | measured: {wing: {bottle: 172 bar}}",
		"measured 16T09:45 HW | measured: {wing: {hinge_play: 1 mm}}",
		"measured 16T09:46 HW | after_run: 56\nmeasured: {wing: {leak_look: none}}",
	)
	if got := f.NewestRun(f.AsOf); got != 58 {
		t.Error(got)
	}
	var order []int
	for _, r := range f.Runs() {
		order = append(order, r.no())
	}
	if !slices.Equal(order, []int{56, 57, 58}) {
		t.Error(order)
	}
	m := f.Roots(f.AsOf)["measured"]
	for path, run := range map[string]int{"wing.bottle": 58, "wing.hinge_play": 58, "wing.leak_look": 56} {
		if r := f.Record(m.Get(path).Record); r.Run != run {
			t.Errorf("%s after run %d, want %d", path, r.Run, run)
		}
	}
}

func TestChangesMakeValuesVoid(t *testing.T) {
	f := open(t,
		"fitted 13T08:00 PO | fitted: {serial: GB-01, position: gearbox}",
		"fitted 13T08:00 PO | fitted: {serial: WA-2, position: wing.actuator}",
		"measured 13T08:00 PO | measured: {gearbox: {magnet: clean}}", // the same minute: read on the part just fitted
		"measured 13T09:00 PO | measured: {hydraulics: {precharge: {value: 83 bar, gas_at: 17 °C}, level: above}, wing: {bottle: 172 bar}}",
		"baselines 13T10:00 PO | baseline: {serial: GB-01, shift_time: 50 ms, pump_duty: 4 %}",
		"baselines 13T11:00 PO | baseline: {serial: WA-2, wing_close: 0.27 s}",
		"fitted 16T08:00 PO | removed: {serial: GB-01, from: gearbox}",
		"fitted 16T09:00 PO | fitted: {serial: GB-02, position: gearbox}",
		"jobs 16T10:00 HW | job: {no: HW-1, opened: {what: slow, system: wing, before: next run, voids: [measured.wing.bottle]}}",
		"measured 16T11:00 PO | measured: {gearbox: {magnet: paste}}",
	)
	roots := f.Roots(at(15, 0))
	want(t, roots["measured"].Get("gearbox.magnet"), "clean", "")
	want(t, roots["baseline"].Get("shift_time"), "50 ms", "")
	want(t, roots["baseline"].Get("pump_duty"), "4 %", "")
	roots = f.Roots(at(16, 8))
	want(t, roots["measured"].Get("gearbox.magnet"), "", "fitted/6.yaml")
	want(t, roots["measured"].Get("hydraulics.precharge.value"), "", "fitted/6.yaml")
	want(t, roots["measured"].Get("hydraulics.level"), "above", "")
	want(t, roots["measured"].Get("wing.bottle"), "172 bar", "")
	roots = f.Roots(f.AsOf)
	want(t, roots["measured"].Get("gearbox.magnet"), "paste", "measured/9.yaml")
	want(t, roots["measured"].Get("wing.bottle"), "", "jobs/8.yaml")
	want(t, roots["baseline"].Get("shift_time"), "", "")
	want(t, roots["baseline"].Get("pump_duty"), "", "") // not void, but its gearbox is off the car
	want(t, roots["baseline"].Get("wing_close"), "0.27 s", "")
}

// Noise is kept channel by channel: the newest figure of each whose part is on the car, and what was made void or is of a
// part that is off it stays named, as not known.
func TestNoiseOfABaseline(t *testing.T) {
	files := []string{
		`channels.yaml |
logger: {serial: L, car: AY-1}
channels:
  - {name: oil, in_log: O, unit: bar, reads: gauge}
  - {name: hot, in_log: H, unit: °C, range: 0 °C..9 °C, pair_with: warm}
  - {name: warm, in_log: W, unit: °C}
  - {name: gear, in_log: G, unit: count}
  - {name: box, in_log: B, unit: V}`,
		`positions.yaml |
positions:
  - {position: gearbox, needs: gearbox, change_voids: [baseline.noise.box]}
  - {position: wing.actuator, needs: wing-actuator, change_voids: [baseline.noise]}`,
		"fitted 13T08:00 PO | fitted: {serial: GB-01, position: gearbox}",
		"fitted 13T08:00 PO | fitted: {serial: WA-2, position: wing.actuator}",
		"baselines 13T10:00 PO | baseline: {serial: GB-01, noise: {oil: 0.02 bar, hot: 0.18 °F, gear: 1, gone: 2 mm, box: 0.1 bar}}",
		"baselines 14T10:00 PO | baseline: {serial: WA-2, noise: {oil: 3 kPa, box: 5}, apart: {hot: -0.9 °F, oil: 1 bar}}",
		"fitted 15T08:00 PO | removed: {serial: GB-01, from: gearbox}",
		"fitted 16T08:00 PO | removed: {serial: WA-2, from: wing.actuator}",
	}
	f := open(t, files...)
	for _, c := range []struct {
		day, hour int
		want      string
	}{
		{13, 12, "map[box:? gear:? gone:? hot:0.1 oil:2000]"}, // a pressure is no voltage, a count has no noise
		{14, 12, "map[box:5 gear:? gone:? hot:0.1 oil:3000]"},
		{15, 12, "map[box:? gear:? gone:? hot:? oil:3000]"},
		{16, 12, "map[box:? gear:? gone:? hot:? oil:?]"},
	} {
		if apart := f.BaselineInSI(f.Roots(at(c.day, c.hour))["baseline"]).Get("apart"); c.day == 14 && (math.Abs(apart.Get("hot").Low+0.5) > 1e-9 || !apart.Get("oil").Unknown) {
			t.Errorf("apart: %v, and of what has no pair %v", apart.Get("hot").Low, apart.Get("oil").Low)
		}
		got := map[string]string{}
		noise := f.BaselineInSI(f.Roots(at(c.day, c.hour))["baseline"]).Get("noise")
		for _, k := range noise.Keys {
			if v := noise.Fields[k]; v.Unknown {
				got[k] = "?"
			} else {
				got[k] = fmt.Sprintf("%.4g", v.Low)
			}
		}
		if fmt.Sprint(got) != c.want {
			t.Errorf("on the %dth: %v, want %s", c.day, got, c.want)
		}
	}
	_, faults := OpenFS(tree(files[0], "positions.yaml |\npositions: [{position: gearbox, needs: gearbox, change_voids: [baseline.noise.oill]}]"))
	if err := faults.Err(); err == nil || !strings.Contains(err.Error(), `baseline.noise has no value "oill"`) {
		t.Errorf("a void of no channel: %v", err)
	}
	_, faults = OpenFS(tree(append(files[:3:3], "baselines 13T10:00 PO | baseline: {serial: GB-01, noise: unknown}")...))
	if err := faults.Err(); err == nil || !strings.Contains(err.Error(), "noise cannot be unknown as a whole") {
		t.Errorf("noise that is unknown as a whole: %v", err)
	}
}

func TestWhereAPartIs(t *testing.T) {
	f := open(t,
		"fitted 13T08:00 PO | fitted: {serial: GB-01, position: gearbox}",
		"fitted 14T08:00 PO | removed: {serial: GS-04, from: GB-01}",
		"fitted 15T08:00 PO | assembled: {serial: GS-04, into: GB-02}",
		"fitted 16T08:00 PO | removed: {serial: GB-01, from: gearbox}",
		"fitted 16T08:00 PO | fitted: {serial: GB-02, position: gearbox}", // swapped within the minute
	)
	for _, c := range []struct {
		at            time.Time
		serial, where string
	}{
		{at(12, 0), "GB-01", ""},
		{at(13, 9), "GB-01", "gearbox"},
		{at(13, 9), "GS-04", "gearbox"},
		{at(14, 9), "GS-04", ""},
		{at(15, 9), "GS-04", ""},
		{at(16, 9), "GS-04", "gearbox"},
		{at(16, 9), "GB-01", ""},
		{at(16, 9), "GB-02", "gearbox"},
	} {
		if got := f.Fitted(c.at).Where(c.serial); got != c.where {
			t.Errorf("%s at %s is in %q, want %q", c.serial, c.at.Format("2 15:04"), got, c.where)
		}
	}
	parts := f.Roots(f.AsOf)["parts"]
	want(t, parts.Get("[2].position"), "gearbox", "")
	want(t, parts.Get("[0].position"), "", "")
	want(t, parts.Get("[0].fitted"), "false", "")
}

func TestACircleOfPartsEnds(t *testing.T) {
	f, _ := OpenFS(tree("parts.yaml | parts: [{serial: A, kind: a, children: [B]}, {serial: B, kind: b, children: [A]}]"))
	if got := f.Fitted(at(16, 0)).Where("A"); got != "" {
		t.Error(got)
	}
}

const plan = `plan.yaml | plan:
  event: {name: A, first_day: 2026-05-16, last_day: 2026-05-16, time_zone: +01:00}
  sessions:
    - {id: P1, kind: practice, runs: 1}
    - {id: P2, kind: practice, runs: 2}
    - {id: T1, kind: timed, runs: 1}`

func TestRunsLeft(t *testing.T) {
	f := open(t, plan,
		"runs 09T09:00 HW | run: {no: 50, session: P1}",                             // another event
		"runs 16T00:30 HW | run: {no: 51, session: P1, started: 2026-05-15T23:10Z}", // 00:10 at the event's place
		"runs 16T10:00 HW | run: {no: 52, session: P2, aborted: {after: 900 m}}",    // run again
		"runs 16T11:00 HW | run: {no: 53, session: P2}",
		"runs 16T12:00 HW | run: {no: 54, session: P9}",
	)
	p := f.Roots(f.AsOf)["plan"]
	want(t, p.Get("runs_planned"), "4", "")
	want(t, p.Get("runs_left"), "2", "")
	want(t, p.Get("next.id"), "P2", "")
	want(t, p.Get("next.runs"), "1", "")
	if p.Get("runs_left").Type.Kind != schema.Number || p.Get("runs_left").Low != 2 {
		t.Error("runs_left multiplies a wear per run and must be a number")
	}
	want(t, f.Roots(at(16, 0))["plan"].Get("runs_left"), "4", "")
	f = open(t, strings.Replace(plan, "runs: 2", "runs: unknown", 1))
	want(t, f.Roots(f.AsOf)["plan"].Get("runs_left"), "", "")
	f = open(t, strings.Replace(plan, "first_day: 2026-05-16, ", "", 1))
	want(t, f.Roots(f.AsOf)["plan"].Get("runs_left"), "", "")
}

func TestLockoutEndsOnlyByAJob(t *testing.T) {
	f := open(t,
		"lockouts 16T09:00 HW | lockout: {system: wing, state: high downforce, second: PO}",
		"jobs 16T10:00 HW | job: {no: HW-1, opened: {what: a, system: wing, before: next event}}",
		"jobs 16T11:00 HW | job: {no: HW-1, closed: {did: looked at}}", // does not put it back
		"jobs 16T12:00 HW | job: {no: HW-2, opened: {what: b, system: wing, before: next event}}",
		"jobs 16T13:00 HW | job: {no: HW-2, closed: {did: mended, ends_lockout: true}}",
	)
	for hour, locked := range map[int]string{8: "false", 9: "true", 11: "true", 13: "false"} {
		want(t, f.Roots(at(16, hour))["lockout"].Get("wing"), locked, "")
	}
	want(t, f.Roots(at(16, 9))["lockout"].Get("brakes"), "false", "")
}

func TestFaultsAndJobs(t *testing.T) {
	f := open(t,
		"faults 16T09:00 HW | fault: {no: HW-1, what: wing late, system: wing, run: 3}",
		"faults 16T09:01 PO | fault: {no: PO-1, what: pedal long}",
		"faults 16T09:02 PO | fault: {no: PO-2, what: smell of fuel}",
		"jobs 16T10:00 HW | job: {no: HW-1, opened: {what: a, system: wing, before: next run, faults: [HW-1]}}",
		"faults 16T11:00 PO | fault: {no: PO-1, cleared: bled}",
		"jobs 16T12:00 HW | job: {no: HW-2, opened: {what: b, system: brakes, before: unknown}}",
		"jobs 16T13:00 HW | job: {no: HW-1, closed: {did: silencer}}",
	)
	for _, c := range []struct {
		hour       int
		path, want string
	}{
		{9, "faults.open", "1"},
		{10, "faults.open", "3"},
		{10, "faults.without_job", "2"},
		{11, "faults.without_job", "1"},
		{11, "faults.open", "2"},
		{13, "faults.open", "1"},
		{10, "jobs.before_next_run", "1"},
		{12, "jobs.before_next_run", "2"},
		{13, "jobs.before_next_run", "1"},
		{13, "jobs.before_next_event", "1"},
		{13, "jobs.open", "1"},
		{8, "jobs.open", "0"},
		{13, "faults.all[0].open", "false"},
		{10, "faults.all[0].job", "HW-1"},
		{13, "faults.all[2].what", "smell of fuel"},
	} {
		root, path, _ := strings.Cut(c.path, ".")
		v := f.Roots(at(16, c.hour))[root].Get(path)
		if v == nil || v.Text != c.want {
			t.Errorf("at %d %s is %+v, want %s", c.hour, c.path, v, c.want)
		}
	}
}

func TestDoneOnTheCar(t *testing.T) {
	sheet := "setup.yaml | setup: {revision: S15, changed: [bars.rear, toe.RL], bars: {rear: P3}}"
	f := open(t, sheet,
		"done 16T08:00 PO | done: {setup: S14, lines: [toe.RL]}",
		"done 16T09:00 PO | done: {setup: S15, lines: [bars.rear]}",
	)
	want(t, f.Roots(at(16, 8))["setup"].Get("to_do"), "2", "")
	want(t, f.Roots(f.AsOf)["setup"].Get("to_do"), "1", "")
	if lines, known := f.ToDo(f.AsOf); !known || len(lines) != 1 || lines[0].Text != "toe.RL" {
		t.Error(lines, known)
	}
	f = open(t, "setup.yaml | setup: {revision: S15}")
	want(t, f.Roots(f.AsOf)["setup"].Get("to_do"), "", "") // it does not say what it changed
}

func TestValidTo(t *testing.T) {
	for item, day := range map[string]string{
		"not_valid_after: 2028-12-31":                                             "2028-12-31",
		"last_check: 2024-06-03, check_every: 24 mo":                              "2026-06-03",
		"made: 2022-06, life: 5 a":                                                "2027-06-30",
		"made: 2022-02, life: 5 a, not_valid_after: 2030-01-01":                   "2027-02-28",
		"made: 2022-06, life: unknown, not_valid_after: 2026-12-31":               "",
		"serial: unknown, not_valid_after: 2026-12-31":                            "2026-12-31",
		"last_check: 2024-06-03":                                                  "",
		"not_valid_after: unknown":                                                "",
		"last_check: 2024-06-03, check_every: 24 mo, not_valid_after: 2026-01-01": "2026-01-01",
	} {
		f := open(t, "car.yaml | car: {chassis: A, safety: [{item: seat, "+item+"}]}")
		v := f.Roots(f.AsOf)["car"].Get("safety[0].valid_to")
		if v.Text != day || v.Unknown != (day == "") {
			t.Errorf("%s: %q, want %q", item, v.Text, day)
		}
	}
}

func TestInitialsEndWhenTheJointIsOpened(t *testing.T) {
	f := open(t,
		"fitted 16T08:00 PO | fitted: {serial: GB-01, position: gearbox}",
		"signed 16T09:00 PO | signed: {place: first, joints: [{joint: bellhousing}, {joint: wheel-nut, position: FL}, {joint: wheel-nut, position: FR}]}",
		"signed 16T10:00 HW | signed: {place: second, joints: [{joint: bellhousing, saw: marks in line}]}",
		"fitted 16T11:00 PO | removed: {serial: GB-01, from: gearbox}",
		"signed 16T12:00 HW | signed: {place: first, joints: [{joint: bellhousing}]}",
		"jobs 16T13:00 HW | job: {no: HW-1, opened: {what: a, system: wheels, before: next run, opens: [wheel-nut]}}",
	)
	var got []string
	for _, i := range f.Initials(f.AsOf) {
		got = append(got, strings.TrimSpace(i.By+" "+i.Place+" "+i.Joint+" "+i.Position+": "+i.Void))
	}
	wanted := []string{
		"HW first bellhousing :",
		"HW second bellhousing : opened when GB-01 was removed",
		"PO first bellhousing : opened when GB-01 was removed",
		"PO first wheel-nut FL: opened by job HW-1",
		"PO first wheel-nut FR: opened by job HW-1",
	}
	if strings.Join(got, "\n") != strings.Join(wanted, "\n") {
		t.Errorf("got\n%s", strings.Join(got, "\n"))
	}
	if n := len(f.Initials(at(16, 9))); n != 3 {
		t.Errorf("at nine there are %d", n)
	}
}

func TestCorrections(t *testing.T) {
	f := open(t,
		"measured 16T09:00 HW | measured: {wing: {bottle: 17 bar}}",
		"measured 16T09:30 HW | corrects: 0.yaml\nwhy: a digit lost\nmeasured: {wing: {bottle: 170 bar}}",
		"fitted 16T10:00 HW | fitted: {serial: GB-02, position: gearbox}",
		"fitted 16T10:10 HW | corrected: {record: fitted/2.yaml, why: wrong serial}",
		"fitted 16T10:11 HW | fitted: {serial: GB-01, position: gearbox}",
	)
	want(t, f.Roots(f.AsOf)["measured"].Get("wing.bottle"), "170 bar", "measured/1.yaml")
	if got := f.Fitted(f.AsOf).Serial("gearbox"); got != "GB-01" {
		t.Error(got)
	}
	if len(f.Of("measured")) != 1 || len(f.Records) != 5 {
		t.Error("a corrected record stays in the list and no longer counts")
	}
}

func TestTripsOfTheMapInUse(t *testing.T) {
	files := []string{"trips/M6.yaml | trips: {map: M6, functions: [{name: over-rev cut, enabled: true}]}", "trips/M7.yaml | trips: {map: M7}"}
	f := open(t, append(files, "setup.yaml | setup: {revision: S1, maps: {engine: M6}}")...)
	want(t, f.Roots(f.AsOf)["trips"].Get("functions[0].enabled"), "true", "")
	f = open(t, append(files, "setup.yaml | setup: {revision: S1, maps: {engine: M8}}")...)
	if v := f.Roots(f.AsOf)["trips"]; !v.Unknown || v.Pos.File != "setup.yaml" {
		t.Errorf("%+v", v)
	}
}

func TestSetupDigest(t *testing.T) {
	digest := func(sheet string) string {
		t.Helper()
		return open(t, "setup.yaml | "+sheet).SetupSHA256()
	}
	a := digest("setup: {revision: S1, by: HW, why: a, bars: {front: P1, rear: P2}, fuel: 8 kg}")
	if b := digest("# other words\nsetup:\n  fuel: 8000 g\n  bars: {rear: P2, front: P1}\n  why: b\n  revision: S1\n"); a != b {
		t.Error("order, remarks and spelling are no content")
	}
	if b := digest("setup: {revision: S1, bars: {front: P1, rear: P3}, fuel: 8 kg}"); a == b {
		t.Error("another bar is another content")
	}
	if open(t).SetupSHA256() != "" {
		t.Error("no sheet, no digest")
	}
}

// Whatever order records are found in, the newest reading of each corner counts.
func TestFoldIsThatOfASimpleModel(t *testing.T) {
	corners := []string{"FL", "FR", "RL", "RR"}
	rapid.Check(t, func(t *rapid.T) {
		fsys := tree().(fstest.MapFS)
		newest, text := map[string]int{}, map[string]string{}
		minutes := rapid.Permutation(slices.Collect(func(yield func(int) bool) {
			for i := range 12 {
				if !yield(i) {
					return
				}
			}
		})).Draw(t, "minutes")
		for i, minute := range minutes[:rapid.IntRange(1, 12).Draw(t, "records")] {
			var pads []string
			for _, c := range corners {
				if rapid.Bool().Draw(t, c) {
					mm := fmt.Sprintf("%d mm", rapid.IntRange(5, 20).Draw(t, "mm"))
					pads = append(pads, c+": "+mm)
					if _, there := newest[c]; !there || minute > newest[c] {
						newest[c], text[c] = minute, mm
					}
				}
			}
			fsys[fmt.Sprintf("measured/%d.yaml", i)] = &fstest.MapFile{Data: []byte(fmt.Sprintf(
				"at: 2026-05-16T08:%02dZ\nby: HW\nmeasured: {brakes: {pad: {%s}}}\n", minute, strings.Join(pads, ", ")))}
		}
		f, faults := OpenFS(fsys)
		if err := faults.Err(); err != nil {
			t.Fatal(err)
		}
		m := f.Roots(f.AsOf)["measured"]
		for _, c := range corners {
			v := m.Get("brakes.pad." + c)
			if v.Unknown != (text[c] == "") || v.Text != text[c] {
				t.Fatalf("%s is %q, want %q", c, v.Text, text[c])
			}
		}
	})
}
