package main

import (
	"path/filepath"
	"strings"
	"testing"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/readiness"
	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
)

// A sheet that is written again keeps everything that stood in the old one.
func TestFlowTextKeepsEverything(t *testing.T) {
	n := 0
	for _, dir := range []string{"cars/tern-3", "cars/fallow-9", "seasons/lowmoor"} {
		f, _ := car.Open(filepath.Join(top, "testdata", dir))
		for _, r := range f.Records {
			if r.Kind == "baseline" {
				continue // holds curves, which no run sheet has
			}
			var b strings.Builder
			for _, k := range r.Body.Keys {
				b.WriteString(k + ": " + flowText(r.Body.Fields[k]) + "\n")
			}
			node, faults := source.ParseYAML(r.File, []byte(b.String()))
			if err := faults.Err(); err != nil {
				t.Errorf("%v\n%s", err, b.String())
				continue
			}
			again, faults := schema.ReadShown(node, r.Body.Type)
			if err := faults.Err(); err != nil {
				t.Errorf("%v\n%s", err, b.String())
				continue
			}
			was, err1 := schema.JSON(r.Body)
			now, err2 := schema.JSON(again)
			if err1 != nil || err2 != nil || string(was) != string(now) {
				t.Errorf("%s\nwas %s\nnow %s\n%v %v", r.File, was, now, err1, err2)
			}
			n++
		}
	}
	if n < 50 {
		t.Errorf("only %d records were looked at", n)
	}
}

func TestMeterText(t *testing.T) {
	for _, c := range []struct {
		low, high float64
		unit      string
		want      string
	}{
		{2.372676, 2.372676, "km", "2.373 km"},
		{42, 42, "", "42"},
		{0, 0, "h", "0 h"},
		{0.02657805, 0.02657805, "h", "0.02658 h"},
		{1.23456789e-7, 1.23456789e-7, "", "1.23457e-07"},
		{3, 5, "s", "unknown"},
		{12345.678, 12345.678, "m", "12345.7 m"},
	} {
		if got := meterText(readiness.Counted{Low: c.low, High: c.high, Unit: c.unit}); got != c.want {
			t.Errorf("%v to %v %s: %q, want %q", c.low, c.high, c.unit, got, c.want)
		}
	}
}
