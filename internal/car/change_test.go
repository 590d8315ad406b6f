package car

import (
	"fmt"
	"strings"
	"testing"
	"testing/fstest"
)

// What happens to a part or begins as a job opens joints and makes values and baselines void,
// each until it is done again; two people's initials close a joint, one person's do not.
func TestWhatWorkOpens(t *testing.T) {
	docs := fstest.MapFS{
		"car.yaml":    {Data: []byte("car: {chassis: AY-1}\n")},
		"people.yaml": {Data: []byte("people: [{initials: PO, name: Piet, hats: [gearbox]}, {initials: SQ, name: Sadie, hats: [engine]}]\n")},
		"parts.yaml":  {Data: []byte("parts:\n  - {serial: GB-1, kind: gearbox, no_go_part: false}\n  - {serial: GS-1, kind: gear set, no_go_part: false}\n  - {serial: GB-2, kind: gearbox, no_go_part: false}\n")},
		"positions.yaml": {Data: []byte("positions:\n  - {position: gearbox, needs: gearbox, system: gearbox, change_opens: [bellhousing, mounts], change_voids: [measured.gearbox, baseline.shift_time], change_needs: [bleed]}\n" +
			"  - {position: clutch, needs: clutch pack, system: clutch, change_opens: [bellhousing]}\n")},
	}
	records := []string{
		"fitted fitted: {serial: GB-1, position: gearbox}",
		"signed signed: {place: first, joints: [{joint: bellhousing}, {joint: mounts}]}",
		"signed signed: {place: second, joints: [{joint: bellhousing}, {joint: mounts}]}",
		"measured measured: {gearbox: {magnet: clean}}",
		"baselines baseline: {serial: GB-1, shift_time: 51 ms}",
	}
	for _, c := range []struct {
		since []string // after the car was whole
		want  string   // joints that stand open; what is known of the magnet and the shift time
	}{
		{nil, "| clean 51 ms"},
		{[]string{"fitted removed: {serial: GB-1, from: gearbox}"}, "bellhousing first and second, mounts first and second | - -"},
		{[]string{"fitted assembled: {serial: GS-1, into: GB-1}"}, "bellhousing first and second, mounts first and second | - -"},
		{[]string{"fitted overhauled: {serial: GB-1}"}, "bellhousing first and second, mounts first and second | - -"},
		{[]string{"fitted assembled: {serial: GS-1, into: GB-2}"}, "| clean 51 ms"}, // on the bench
		{[]string{"jobs job: {no: PO-1, opened: {what: look, system: gearbox, before: next run, opens: [mounts], voids: [measured.gearbox]}}"}, "mounts first and second | - 51 ms"},
		{[]string{"jobs job: {no: PO-1, opened: {what: look, system: gearbox, before: next run, opens: [mounts]}}", "signed signed: {place: first, joints: [{joint: mounts}]}"}, "mounts second | clean 51 ms"},
		{[]string{"jobs job: {no: PO-1, opened: {what: look, system: gearbox, before: next run, opens: [mounts]}}", "signed signed: {place: second, joints: [{joint: mounts}]}"}, "mounts first | clean 51 ms"},
		{[]string{"fitted removed: {serial: GB-1, from: gearbox}", "fitted fitted: {serial: GB-1, position: gearbox}", "measured measured: {gearbox: {magnet: paste}}"}, "bellhousing first and second, mounts first and second | paste -"},
		{[]string{"fitted overhauled: {serial: GB-1}", "signed signed: {place: first, joints: [{joint: bellhousing}, {joint: mounts}]}", "SQ signed signed: {place: second, joints: [{joint: bellhousing}]}", "PO signed signed: {place: second, joints: [{joint: mounts}]}"}, "mounts another person's second | - -"},
	} {
		fsys := fstest.MapFS{}
		for name, f := range docs {
			fsys[name] = f
		}
		for i, r := range append(append([]string{}, records...), c.since...) {
			by := []string{"PO", "PO", "SQ", "PO", "PO"}[min(i, 4)]
			if who, rest, _ := strings.Cut(r, " "); who == "SQ" || who == "PO" {
				by, r = who, rest
			}
			folder, body, _ := strings.Cut(r, " ")
			fsys[fmt.Sprintf("%s/%02d.yaml", folder, i)] = &fstest.MapFile{Data: []byte(fmt.Sprintf("at: 2026-05-16T10:%02d+01:00\nby: %s\n%s\n", i, by, body))}
		}
		f, faults := OpenFS(fsys)
		if len(faults) > 0 {
			t.Fatal(c.since, faults)
		}
		var open []string
		for _, j := range f.OpenJoints(f.AsOf) {
			open = append(open, j.Joint+" "+j.Lacks())
		}
		roots := f.Roots(f.AsOf)
		got := fmt.Sprintf("%s | %s %s", strings.Join(open, ", "), or(roots["measured"].Get("gearbox.magnet").Text), or(roots["baseline"].Get("shift_time").Text))
		if strings.TrimSpace(got) != c.want {
			t.Errorf("%q\n got %s\nwant %s", c.since, strings.TrimSpace(got), c.want)
		}
	}
}

func or(s string) string {
	if s == "" {
		return "-"
	}
	return s
}
