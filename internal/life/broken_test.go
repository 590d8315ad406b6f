package life

import (
	"path/filepath"
	"testing"
	"testing/fstest"

	"github.com/rogpeppe/go-internal/txtar"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/schema"
)

// A broken car folder still gives a sheet: nothing in it may bring the program down.
func TestBrokenFolders(t *testing.T) {
	archives, err := filepath.Glob("../../testdata/broken/documents/*.txtar")
	if err != nil || len(archives) < 30 {
		t.Fatal(len(archives), err)
	}
	for _, path := range archives {
		t.Run(filepath.Base(path), func(t *testing.T) {
			a, err := txtar.ParseFile(path)
			if err != nil {
				t.Fatal(err)
			}
			fsys := fstest.MapFS{"car.yaml": {Data: []byte("car: {chassis: AY-1}\n")}}
			for _, f := range a.Files {
				fsys[f.Name] = &fstest.MapFile{Data: f.Data}
			}
			folder, _ := car.OpenFS(fsys)
			sheet, _ := Of(folder, folder.AsOf)
			if _, err := schema.JSON(sheet.Value); err != nil {
				t.Error(err)
			}
			for _, p := range sheet.Parts {
				sheet.History(folder, p, folder.AsOf)
			}
		})
	}
}

// What is wrong in parts.yaml and meters.yaml about life is said with its place and remedy.
func TestFaults(t *testing.T) {
	for _, c := range []struct{ meters, parts, runs, want string }{
		{"", "{serial: A, kind: x, limits: [{meter: distance, life: 22 h}]}", "", "parts.yaml:2:59: `22 h` is a time, but a length is wanted; write it in mm, m, km"},
		{"", "{serial: A, kind: x, limits: [{meter: distance, life: 22}]}", "", "parts.yaml:2:59: 22 has no unit; write 22 km"},
		{"", "{serial: A, kind: x, limits: [{meter: calendar, life: 2 h}]}", "", "parts.yaml:2:59: 2 h is no span of days, weeks, months or years; write it as 24 mo"},
		{"", "{serial: A, kind: x, inspect: [{what: look, every: {calendar: 12}}]}", "", "parts.yaml:2:67: 12 is no span of days, weeks, months or years; write it as 12 mo"},
		{"", "{serial: A, kind: x, limits: [{meter: shifts, life: 300 km}]}", "", "parts.yaml:2:57: shifts is a bare number, not 300 km; write the number alone"},
		{"", "{serial: A, kind: x}", "{no: 1, meters: {distance: -2 km, shifts: 4}}", "runs/1.yaml:3:33: distance is below zero; a run cannot give life back; look at the sign"},
		{"", "{serial: A, kind: x}", "{no: 1, meters: {distance: 2 km, shifts: 4}, filled: {distance: {low: 3 km, high: 2 km, source: x}}}", ""},
		{"", "{serial: A, kind: x}", "{no: 1, meters: {distance: unknown, shifts: 4}, filled: {distance: {low: 3 km, high: 2 km, source: x}}}", "runs/1.yaml:3:73: distance cannot lie between 3 km and 2 km; write the least first"},
		{"", "{serial: A, kind: x}", "{no: 1, tyres: A, meters: {distance: 2 km, shifts: 4}}", "runs/1.yaml:3:21: run 1 names tyres A, which no record has on the car then; write the record that fits them with its time, or correct the sheet"},
		{"", "{serial: A, kind: x, inspect: [{what: look, after: [over-rve]}]}", "", "parts.yaml:2:57: nothing finds or tells the event \"over-rve\"; give a meter of meters.yaml this event, or list it there under events"},
		{"events: [over-rev]\n", "{serial: A, kind: x, inspect: [{what: look, after: [over-rve]}]}", "", "parts.yaml:2:57: nothing finds or tells the event \"over-rve\"; did you mean over-rev"},
		{"events: [over-rev]\n", "{serial: A, kind: x}", "{no: 1, events: [over-rev, jump], meters: {distance: 2 km, shifts: 4}}", "runs/1.yaml:3:33: nothing finds or tells the event \"jump\"; give a meter of meters.yaml this event, or list it there under events"},
		{"trends: {v: {}}\n", "{serial: A, kind: x}", "", "meters.yaml:1:13: the trend of v has not one limit; write above: or below:"},
	} {
		fsys := fstest.MapFS{
			"car.yaml":    {Data: []byte("car: {name: Test}\n")},
			"people.yaml": {Data: []byte("people: [{initials: HW, name: Hanne Wulfram, hats: [lead-engineer]}]\n")},
			"meters.yaml": {Data: []byte(c.meters + "meters:\n  distance: {unit: km, by_hand: true}\n  shifts: {unit: \"1\", by_hand: true}\n")},
			"parts.yaml":  {Data: []byte("parts:\n  - " + c.parts + "\n")},
		}
		if c.runs != "" {
			fsys["runs/1.yaml"] = &fstest.MapFile{Data: []byte("at: 2026-05-16T10:00Z\nby: HW\nrun: " + c.runs + "\n")}
		}
		f, faults := car.OpenFS(fsys)
		if err := faults.Err(); err != nil {
			t.Errorf("%s: %v", c.parts, err)
			continue
		}
		_, faults = Of(f, f.AsOf)
		got := ""
		if len(faults) > 0 {
			got = faults[0].Error()
		}
		if got != c.want || len(faults) > 1 {
			t.Errorf("%s %s\ngot  %s (%d)\nwant %s", c.parts, c.runs, got, len(faults), c.want)
		}
	}
}
