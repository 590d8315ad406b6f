package readiness

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/paintmark/paintmark/internal/demo"
)

// The events that a new car folder offers to count find what they are named after: each
// counts none on a healthy run and some on a run with the fault planted. The table of
// events that call for an inspection, and its starting limits, are common practice.
func TestEventsOfANewFolder(t *testing.T) {
	if testing.Short() {
		t.Skip("writes ten cars with their logs")
	}
	text, err := os.ReadFile("../../cmd/paintmark/new/meters.yaml")
	if err != nil {
		t.Fatal(err)
	}
	offered := regexp.MustCompile(`(?m)^  # ([a-z_]+: \{)`).ReplaceAllString(string(text), "  $1")
	faults := map[string]demo.Fault{
		"over_rev":          {Kind: demo.OverRev, At: 20, Size: 7950},
		"oil_pressure_loss": {Kind: demo.OilDip, At: 10, Size: 5, For: 1.5},
		"water_hot":         {Kind: demo.WaterHot, Size: 122},
		"oil_hot":           {Kind: demo.OilHot, Size: 150},
		"over_boost":        {Kind: demo.OverBoost, Size: 3.3},
		"gear_crash":        {Kind: demo.GearCrash, At: 15, Size: 0.15},
		"turbo_over_speed":  {Kind: demo.BoostLeak, Size: 0.15},
		"hard_launch":       {Kind: demo.LaunchSlipped, Size: 0.25},
		"hydraulic_low":     {Kind: demo.PumpLate, Size: 85},
	}
	count := func(run demo.Run) map[string]Counted {
		dir := t.TempDir()
		if err := demo.WriteAfter(dir, run); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, "meters.yaml"), []byte(offered), 0o600); err != nil {
			t.Fatal(err)
		}
		got, bad := Open(t.Context(), dir, Options{Logs: "logs"}).Meters(t.Context())
		if err := bad.Err(); err != nil {
			t.Fatal(err)
		}
		counted := map[string]Counted{}
		for _, c := range got {
			counted[c.Meter] = c
		}
		return counted
	}
	healthy := count(demo.HealthyRun57())
	if n := strings.Count(offered, "event: "); n < 9 || len(healthy) < n {
		t.Fatalf("%d events offered, %d meters counted", n, len(healthy))
	}
	for name, c := range healthy {
		if strings.Contains(offered, "\n  "+name+": {unit: \"1\", event:") && (c.Low != 0 || c.High != 0) {
			t.Errorf("%s counts %v to %v on a healthy run", name, c.Low, c.High)
		}
	}
	if len(faults) < strings.Count(offered, "event: ") {
		t.Errorf("%d faults for %d events", len(faults), strings.Count(offered, "event: "))
	}
	for name, fault := range faults {
		run := demo.HealthyRun57()
		run.Faults = []demo.Fault{fault}
		if c := count(run)[name]; c.Low < 1 {
			t.Errorf("%s counts %v to %v on a run with %s", name, c.Low, c.High, fault.Kind)
		}
	}
}
