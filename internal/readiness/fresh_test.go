package readiness

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/check"
)

// record is one record written into a car, at a clock time of the event day.
type record struct{ folder, at, by, body string }

var (
	jobOpened = record{"jobs", "09:57", "HW", "job: {no: SQ-35, opened: {what: wing late, system: wing, before: next run, owner: SQ}}"}
	cycles    = record{"measured", "10:06", "SQ", "after_run: 57\nmeasured: {wing: {close_time: {value: 0.28 s, supply: 9.0 bar, cycles: 5}}}"}
	jobClosed = record{"jobs", "10:08", "SQ", "job: {no: SQ-35, closed: {did: exhaust silencer new, left_off: nothing, tools_back: true}}"}
)

// TestProvenOnStands writes records into the demo car, whose wing was late on run 57, and
// looks what becomes of it.
func TestProvenOnStands(t *testing.T) {
	at := func(r record, clock string) record { r.at = clock; return r }
	with := func(r record, old, new string) record {
		r.body = strings.Replace(r.body, old, new, 1)
		return r
	}
	const late = "0.480 s"
	for _, c := range []struct {
		name    string
		records []record
		rule    string
		want    check.Outcome
		says    string
	}{
		{"nothing done", nil, "wing.close-time", check.Fail, late},
		{"repaired and proven", []record{jobOpened, cycles, jobClosed}, "wing.close-time", check.Pass, "on stands after job SQ-35; 0.450 to 0.480 s on run 57: watch it on the next"},
		{"proven after the job was closed", []record{jobOpened, jobClosed, at(cycles, "10:10")}, "wing.close-time", check.Pass, "on stands after job SQ-35"},
		{"proven too slow", []record{jobOpened, with(cycles, "0.28", "0.45"), jobClosed}, "wing.close-time", check.Fail, "0.45 s"},
		{"job open", []record{jobOpened, cycles}, "wing.close-time", check.Fail, late},
		{"job of another system", []record{with(jobOpened, "system: wing", "system: engine"), cycles, jobClosed}, "wing.close-time", check.Fail, late},
		{"nothing measured since", []record{jobOpened, jobClosed}, "wing.close-time", check.Fail, "not cleared: no proof on stands since run 57, though job SQ-35 is closed"},
		{"measured before the work", []record{at(cycles, "09:56"), jobOpened, jobClosed}, "wing.close-time", check.Fail, "not cleared: the proof on stands of 16 May 09:56 is older than job SQ-35"},
		{"opened again", []record{
			jobOpened, cycles, jobClosed,
			{"jobs", "10:12", "HW", "job: {no: SQ-36, opened: {what: hinge looked at again, system: wing, before: next run, owner: SQ}}"},
		}, "wing.close-time", check.Fail, "not cleared: the proof on stands of 16 May 10:06 is older than job SQ-36"},
		{"only put off", []record{
			jobOpened, cycles, jobClosed,
			{"jobs", "10:12", "HW", "job: {no: SQ-36, opened: {what: hinge to be renewed, system: wing, before: next rebuild, owner: SQ}}"},
		}, "wing.close-time", check.Pass, "on stands after job SQ-35"},
		{"this morning's cycles after the job", []record{jobOpened, jobClosed}, "wing.fail-safe", check.NoData, "it must be newer than job SQ-35 on wing, begun 16 May 09:57"},
		{"and measured again", []record{
			jobOpened, jobClosed,
			{"measured", "10:09", "SQ", "measured: {wing: {closes_on: {brake: true, throttle_lift: true, power_off: true, kill_switch: true, sensor_unplugged: true}}}"},
		}, "wing.fail-safe", check.Pass, ""},
		{"another accumulator", []record{
			{"fitted", "10:00", "PO", "removed: {serial: AC-2, from: accumulator}"},
		}, "hydraulics.reserve", check.NoData, "nothing tells what is in accumulator"},
		{"and in again", []record{
			{"fitted", "10:00", "PO", "removed: {serial: AC-2, from: accumulator}"},
			{"fitted", "10:04", "PO", "fitted: {serial: AC-2, position: accumulator}"},
		}, "hydraulics.reserve", check.NoData, "measured 15 May 14:20, before the first run there is a sheet of (measured/20260515T132000Z-PO-leakdown-hydraulics-67f9b0.yaml); it must be newer than accumulator, AC-2 fitted on 16 May 10:04; measure it again"},
		{"a level before the run", []record{
			{"runs", "10:31", "SQ", "run: {no: 58, session: P2, kind: practice, started: 2026-05-16T10:24+01:00, driver: TB, setup: S14}"},
		}, "hydraulics.level", check.NoData, "measured 16 May 09:51, after run 57 (measured/20260516T085100Z-SQ-fluids-4d71f4.yaml); it holds for 1 run; measure it again"},
		{"the day after", []record{
			{"weather", "33:20", "SQ", "weather: {air: 12 °C, station_pressure: 976 hPa, road_state: dry}"},
		}, "safety.belts", check.NoData, "measured 16 May 08:25, 1 day ago, after run 56 (measured/20260516T072500Z-PO-safety-20253a.yaml); it must be of 17 May, the event day; measure it again"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			dir := filepath.Join(t.TempDir(), "car")
			if err := os.CopyFS(dir, os.DirFS(tern3)); err != nil {
				t.Fatal(err)
			}
			folder, _ := car.Open(dir)
			for _, r := range c.records {
				clock, err := time.ParseDuration(strings.Replace(r.at, ":", "h", 1) + "m")
				if err != nil {
					t.Fatal(err)
				}
				day := time.Date(2026, 5, 16, 0, 0, 0, 0, time.FixedZone("", 3600))
				if _, err := car.Write(dir, folder.Set(), car.Draft{Folder: r.folder, At: day.Add(clock), By: r.by, What: "test", Body: []byte(r.body + "\n")}); err != nil {
					t.Fatal(err)
				}
			}
			logs := "nowhere"
			if c.rule == "wing.close-time" {
				logs = "logs"
			}
			look := Open(t.Context(), dir, Options{Logs: logs, Plugins: served, Part: []string{c.rule}}).Look(t.Context())
			for _, f := range look.Faults {
				t.Error(f.Error())
			}
			if len(look.Items) != 1 || look.Items[0].Outcome != c.want || !strings.Contains(look.Items[0].Message, c.says) {
				t.Errorf("%+v, want %s (%s)", look.Items, c.want, c.says)
			}
		})
	}
}
