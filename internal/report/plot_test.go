package report

import (
	"bytes"
	"math"
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"

	"github.com/paintmark/paintmark/internal/check"
)

// shiftPressure is an accumulator drawn down by shifts and filled by its pump.
func shiftPressure() *Plot {
	pl := &Plot{
		Name: "hyd_pressure", Unit: "bar", From: 0, To: 64.4,
		Limits: []check.Limit{{Kind: "min", Value: 105, Outcome: check.Fail}},
		Worst:  &check.At{Time: 41.9, Within: 0.005},
		Unseen: []check.Unseen{{Channel: "hyd_pressure", From: 50, To: 55, Why: "out of range"}},
	}
	pressure := 180.0
	for i := range 12880 {
		t := float64(i) * 0.005
		shifting := math.Mod(t, 3) < 0.06 && t > 20
		if shifting {
			pressure -= 1.2
		} else if pressure < 180 {
			pressure += 0.012
		}
		if t > 50 && t < 55 {
			continue
		}
		v := pressure
		if t > 41.89 && t < 41.95 {
			v = 101.3
		}
		pl.Times, pl.Values, pl.Counts = append(pl.Times, t), append(pl.Values, v), append(pl.Counts, shifting)
	}
	return pl
}

func TestPlot(t *testing.T) {
	for name, pl := range map[string]*Plot{
		"plot-shift-pressure": shiftPressure(),
		"plot-flat":           {Name: "gearbox_temp", Unit: "°C", To: 10, Times: []float64{0, 5}, Values: []float64{90, 90}},
		"plot-unseen":         {Name: "oil_temp", Unit: "°C", To: 64.4, Unseen: []check.Unseen{{Channel: "oil_temp", From: 0, To: 64.4, Why: "not logged"}}},
		"plot-band": {
			Name: "voltage", Unit: "V", From: 2, To: 2.5, Times: []float64{2, 2.1, 2.2, 2.3, 2.4}, Values: []float64{13.1, 13.2, 12.9, 14.9, 13.3},
			Limits: []check.Limit{{Kind: "a to b", Value: 12.5, Upper: 14.8, Outcome: check.Warn}}, Worst: &check.At{Time: 2.3, Within: 0.1},
		},
	} {
		t.Run(name, func(t *testing.T) {
			var out bytes.Buffer
			if err := pl.Draw(&out); err != nil {
				t.Fatal(err)
			}
			golden(t, name+".txt", out.Bytes())
		})
	}
}

// TestPlotFits draws whatever comes and expects 80 columns and the worst sample in sight.
func TestPlotFits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		pl := &Plot{Name: "x", From: rapid.Float64Range(0, 100).Draw(t, "from")}
		pl.To = pl.From + rapid.Float64Range(1e-3, 1e4).Draw(t, "length")
		n := rapid.IntRange(1, 300).Draw(t, "samples")
		for i := range n {
			pl.Times = append(pl.Times, pl.From+(pl.To-pl.From)*float64(i)/float64(n))
			pl.Values = append(pl.Values, rapid.Float64Range(-1e6, 1e6).Draw(t, "value"))
		}
		pl.Worst = &check.At{Time: pl.Times[rapid.IntRange(0, n-1).Draw(t, "worst")]}
		var out bytes.Buffer
		if err := pl.Draw(&out); err != nil {
			t.Fatal(err)
		}
		lines := strings.Split(out.String(), "\n")
		drawn := false
		for _, line := range lines {
			if utf8.RuneCountInString(line) > width {
				t.Fatalf("too wide: %s", line)
			}
			_, cells, bar := strings.Cut(line, " | ")
			drawn = drawn || bar && strings.Contains(cells, "X")
		}
		if !drawn {
			t.Fatalf("the worst sample is not drawn:\n%s", out.String())
		}
	})
}
