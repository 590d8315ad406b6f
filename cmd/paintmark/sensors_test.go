package main

import (
	"bytes"
	"compress/gzip"
	"encoding/json"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/paintmark/paintmark/internal/demo"
)

// What a check of the sensors calls dead is taken away before anything else is asked: of the healthy car with one brake
// circuit's sensor turned about nobody believes either, the rules that lean on them can't see, and the
// protections that rest on them are named as blind.
func TestDeadSensorsAreTakenAway(t *testing.T) {
	if testing.Short() {
		t.Skip("starts the plugins")
	}
	dir := filepath.Join(t.TempDir(), "car")
	if err := demo.Write(dir, true); err != nil {
		t.Fatal(err)
	}
	before := checked(t, dir)
	turned := filepath.Join(t.TempDir(), "turned.csv")
	if err := os.WriteFile(turned, turnedAbout(t, filepath.Join(dir, "logs", "t3-057.csv.gz"), "P_BRK_R", 150), 0o644); err != nil {
		t.Fatal(err)
	}
	after := checked(t, dir, "--log", turned)

	find := func(items []hostileItem, rule, position string) hostileItem {
		i := slices.IndexFunc(items, func(it hostileItem) bool { return it.Rule == rule && it.Position == position })
		if i < 0 {
			t.Fatalf("no item %s %s", rule, position)
		}
		return items[i]
	}
	for _, c := range []struct{ rule, position, before, after, says string }{
		{"sensorhealth.reversed", "brake_front and brake_rear", "pass", "fail", "they go against each other"},
		{"brakes.front-share", "", "pass", "no data", "brake_front"},
		{"protection.seen", "wing interlock", "pass", "no data", "brake_front"},
		{"engine.oil-peak", "", "pass", "pass", ""},
	} {
		if it := find(before.Items, c.rule, c.position); it.Outcome != c.before {
			t.Errorf("healthy, %s %s: %s (%s), want %s", c.rule, c.position, it.Outcome, it.Message, c.before)
		}
		if it := find(after.Items, c.rule, c.position); it.Outcome != c.after || !strings.Contains(it.Message, c.says) {
			t.Errorf("turned about, %s %s: %s (%s), want %s: %s", c.rule, c.position, it.Outcome, it.Message, c.after, c.says)
		}
	}
	if after.Verdict == "ready" {
		t.Error("the car is ready")
	}
}

// checked is what a check says of a car.
func checked(t *testing.T, dir string, flags ...string) (report hostileReport) {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(self, append([]string{"check", dir, "--format", "json", "--no-cache"}, flags...)...)
	cmd.Env = append(os.Environ(), "PAINTMARK_RUN_MAIN=1")
	out, _ := cmd.Output() // the exit code is the verdict's
	if err := json.Unmarshal(out, &report); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	if len(report.Faults) > 0 {
		t.Fatal(report.Faults)
	}
	return report
}

// turnedAbout is a log with one column counted down from a value.
func turnedAbout(t *testing.T, file, column string, end float64) []byte {
	t.Helper()
	packed, err := os.Open(file)
	if err != nil {
		t.Fatal(err)
	}
	defer packed.Close() //nolint:errcheck // it was only read
	z, err := gzip.NewReader(packed)
	if err != nil {
		t.Fatal(err)
	}
	text, err := io.ReadAll(z)
	if err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	at, turned := -1, 0
	for line := range strings.Lines(string(text)) {
		cells := strings.Split(strings.TrimRight(line, "\r\n"), ",")
		switch {
		case at < 0:
			at = slices.IndexFunc(cells, func(c string) bool { return strings.HasPrefix(c, column) })
		case at < len(cells):
			if v, err := strconv.ParseFloat(cells[at], 64); err == nil {
				cells[at] = strconv.FormatFloat(end-v, 'f', 2, 64)
				turned++
			}
		}
		out.WriteString(strings.Join(cells, ",") + "\n")
	}
	if turned == 0 {
		t.Fatalf("%s has no column %s", file, column)
	}
	return out.Bytes()
}
