package car

import (
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"github.com/paintmark/paintmark/internal/schema"
)

func TestForesee(t *testing.T) {
	folder := fstest.MapFS{
		"car.yaml":       {Data: []byte("car: {chasis: AY-1}\n")}, // wrong already
		"people.yaml":    {Data: []byte("people: [{initials: HW, name: Hanne Wulfram, hats: [lead-engineer]}]\n")},
		"positions.yaml": {Data: []byte("positions: [{position: gearbox, needs: gearbox}]\n")},
		"parts.yaml":     {Data: []byte("parts: [{serial: GB-01, kind: gearbox}, {serial: GB-02, kind: gearbox}]\n")},
	}
	_, now := OpenFS(folder)
	if len(now) != 1 {
		t.Fatal(now)
	}
	at := time.Date(2026, 5, 16, 8, 0, 0, 0, time.UTC)
	fit := func(serial string, minute int) Draft {
		return Draft{Folder: "fitted", At: at.Add(time.Duration(minute) * time.Minute), By: "HW", What: serial, Body: []byte("fitted: {serial: " + serial + ", position: gearbox}\n")}
	}
	then, faults, err := Foresee(folder, now, schema.Bundled, fit("GB-01", 0))
	if err != nil || len(faults) > 0 {
		t.Fatal(faults, err) // what was wrong before is not told again
	}
	if got := then.Fitted(then.AsOf).Serial("gearbox"); got != "GB-01" {
		t.Errorf("gearbox holds %q", got)
	}
	_, faults, err = Foresee(folder, now, schema.Bundled, fit("GB-01", 0), fit("GB-02", 5))
	if err != nil || len(faults) != 1 || !strings.Contains(faults[0].Error(), "gearbox still holds GB-01 (fitted/20260516T080000Z-HW-gb-01-") {
		t.Error(faults, err)
	}
	if _, _, err := Foresee(folder, now, schema.Bundled, Draft{Folder: "fitted", At: at, By: "HW", Body: []byte("fitted: {serial: GB-01}\n")}); err == nil {
		t.Error("a record without its position is a record")
	}
	if _, ok := folder["fitted"]; ok || len(folder) != 4 {
		t.Error("something was written")
	}
}

// The folder as it would be is a file system like any other.
func TestOverlay(t *testing.T) {
	base := fstest.MapFS{"car.yaml": {Data: []byte("car: {}\n")}, "runs/1.yaml": {Data: []byte("run: {no: 1}\n")}}
	o := overlay{base, map[string][]byte{"runs/2.yaml": []byte("run: {no: 2}\n"), "fitted/1.yaml": []byte("x: 1\n")}}
	entries, err := o.ReadDir(".")
	if err != nil || len(entries) != 3 || entries[1].Name() != "fitted" || !entries[1].IsDir() {
		t.Fatal(entries, err)
	}
	if entries, err = o.ReadDir("runs"); err != nil || len(entries) != 2 || entries[1].Name() != "2.yaml" {
		t.Error(entries, err)
	}
	if entries, err = o.ReadDir("fitted"); err != nil || len(entries) != 1 {
		t.Error(entries, err)
	}
	if _, err = o.ReadDir("nowhere"); err == nil {
		t.Error("a folder that is not there")
	}
	f, err := o.Open("runs/2.yaml")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if info, err := f.Stat(); err != nil || info.Size() != 13 || info.IsDir() || info.Name() != "2.yaml" {
		t.Error(info, err)
	}
}
