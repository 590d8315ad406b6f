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

// spans folds samples into columns, as a reader of a log would.
func spans(from, to float64, times, values []float64, counts func(i int) bool) []check.Span {
	out := make([]check.Span, PlotColumns)
	for i, t := range times {
		s := &out[min(PlotColumns-1, int((t-from)/(to-from)*PlotColumns))]
		if !s.Seen {
			s.Low, s.High, s.Seen = values[i], values[i], true
		}
		s.Low, s.High, s.Counts = min(s.Low, values[i]), max(s.High, values[i]), s.Counts || counts(i)
	}
	return out
}

func always(int) bool { return true }

// shiftPressure is an accumulator drawn down by shifts and filled by its pump.
func shiftPressure() *check.Series {
	pl := &check.Series{
		Name: "hyd_pressure", Unit: "bar", From: 0, To: 64.4, Counted: true,
		Limits: []check.Limit{{Kind: "min", Value: 105, Outcome: check.Fail}},
		Worst:  &check.Mark{At: check.At{Time: 41.9, Within: 0.005}, Value: 101.3},
		Unseen: []check.Unseen{{Channel: "hyd_pressure", From: 50, To: 55, Why: "out of range"}},
	}
	var times, values []float64
	shifting := func(i int) bool { return math.Mod(times[i], 3) < 0.06 && times[i] > 20 }
	pressure := 180.0
	for i := range 12880 {
		t := float64(i) * 0.005
		if math.Mod(t, 3) < 0.06 && t > 20 {
			pressure -= 1.2
		} else if pressure < 180 {
			pressure += 0.012
		}
		v := pressure
		if t > 41.89 && t < 41.95 {
			v = 101.3
		}
		if t < 50 || t > 55 {
			times, values = append(times, t), append(values, v)
		}
	}
	pl.Spans = spans(pl.From, pl.To, times, values, shifting)
	for c := range pl.Spans {
		if t := (float64(c) + 0.5) / PlotColumns * pl.To; t > 50 && t < 55 {
			pl.Spans[c].Missing = true
		}
	}
	return pl
}

func TestPlot(t *testing.T) {
	for name, pl := range map[string]*check.Series{
		"plot-shift-pressure": shiftPressure(),
		"plot-flat":           {Name: "gearbox_temp", Unit: "°C", To: 10, Spans: spans(0, 10, []float64{0, 5}, []float64{90, 90}, always)},
		"plot-unseen":         {Name: "oil_temp", Unit: "°C", To: 64.4, Unseen: []check.Unseen{{Channel: "oil_temp", From: 0, To: 64.4, Why: "not logged"}}},
		"plot-band": {
			Name: "voltage", Unit: "V", From: 2, To: 2.5, Spans: spans(2, 2.5, []float64{2, 2.1, 2.2, 2.3, 2.4}, []float64{13.1, 13.2, 12.9, 14.9, 13.3}, always),
			Limits: []check.Limit{{Kind: "a to b", Value: 12.5, Upper: 14.8, Outcome: check.Warn}}, Worst: &check.Mark{At: check.At{Time: 2.3, Within: 0.1}, Value: 14.9},
		},
	} {
		t.Run(name, func(t *testing.T) {
			var out bytes.Buffer
			if err := Plot(&out, pl); err != nil {
				t.Fatal(err)
			}
			golden(t, name+".txt", out.Bytes())
		})
	}
}

// TestPlotFits draws whatever comes and expects 80 columns and the worst sample in sight.
func TestPlotFits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		pl := &check.Series{Name: "x", From: rapid.Float64Range(0, 100).Draw(t, "from")}
		pl.To = pl.From + rapid.Float64Range(1e-3, 1e4).Draw(t, "length")
		value := rapid.Float64Range(-1e6, 1e6)
		for range PlotColumns {
			low := value.Draw(t, "low")
			pl.Spans = append(pl.Spans, check.Span{Low: low, High: low + rapid.Float64Range(0, 1e3).Draw(t, "span"), Seen: rapid.Bool().Draw(t, "seen"), Missing: rapid.Bool().Draw(t, "missing")})
		}
		pl.Spans[0].Seen = true
		pl.Worst = &check.Mark{At: check.At{Time: pl.From + (pl.To-pl.From)*rapid.Float64Range(0, 1).Draw(t, "worst")}, Value: value.Draw(t, "worst value")}
		var out bytes.Buffer
		if err := Plot(&out, pl); err != nil {
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
