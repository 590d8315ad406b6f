package demo

import (
	"bytes"
	"encoding/csv"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestSameRunSameBytes(t *testing.T) {
	want := RandomRun(7).Record().CSV()
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	if !bytes.Equal(RandomRun(7).Record().CSV(), want) {
		t.Error("the same seed gave other bytes the second time")
	}
	if bytes.Equal(RandomRun(8).Record().CSV(), want) {
		t.Error("another seed gave the same bytes")
	}
	a, err := Zip(want)
	if err != nil {
		t.Fatal(err)
	}
	b, err := Zip(want)
	if err != nil || !bytes.Equal(a, b) {
		t.Errorf("packing is not repeatable (%v)", err)
	}
}

// A reader of the text finds the columns: names, units, rates, rows and every value.
func TestTextHoldsTheColumns(t *testing.T) {
	rec := HealthyRun57().Record()
	lines := csv.NewReader(bytes.NewReader(rec.CSV()))
	lines.FieldsPerRecord = -1
	rows, err := lines.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []string{"Car,AY-T3-001", "Logger,LG-88", "Run counter,57", "Date,2026-05-16"} {
		if got := strings.Join(rows[i], ","); got != want {
			t.Errorf("line %d is %q, want %q", i+1, got, want)
		}
	}
	names, units, rows := rows[4], rows[5], rows[6:]
	if len(rows) != len(rec.Millis) || names[0] != "Time" || units[0] != "s" {
		t.Fatalf("%d rows under %q [%q], want %d under Time [s]", len(rows), names[0], units[0], len(rec.Millis))
	}
	times := rec.Times()
	for i, c := range rec.Columns {
		if names[i+1] != c.Logged || units[i+1] != c.Unit {
			t.Errorf("column %d is %s [%s], want %s [%s]", i+1, names[i+1], units[i+1], c.Logged, c.Unit)
		}
		values, k := c.Values(), 0
		for row := range rows {
			text := rows[row][i+1]
			if text == "" {
				continue
			}
			x, err := strconv.ParseFloat(text, 64)
			if err != nil || k >= len(c.Rows) || int(c.Rows[k]) != row || x != values[k] {
				t.Fatalf("%s row %d: text %q, column %v at row %d (%v)", c.Name, row, text, values[k], c.Rows[k], err)
			}
			k++
		}
		if k != len(c.Rows) {
			t.Errorf("%s: %d values in the text, %d in the column", c.Name, k, len(c.Rows))
		}
		if rate := float64(len(c.Rows)-1) / (times[c.Rows[len(c.Rows)-1]] - times[c.Rows[0]]); math.Abs(rate-float64(c.Rate)) > 1e-6 {
			t.Errorf("%s: logged at %.3f Hz, want %d", c.Name, rate, c.Rate)
		}
	}
}

func TestRatesGoFromFiveToAThousand(t *testing.T) {
	var rates []int
	for _, c := range HealthyRun57().Record().Columns {
		rates = append(rates, c.Rate)
	}
	if lo, hi := slices.Min(rates), slices.Max(rates); lo != 5 || hi != 1000 {
		t.Errorf("rates %d to %d Hz", lo, hi)
	}
}

func TestFallowLogIsInItsOwnDialect(t *testing.T) {
	rec := FallowRun().Record()
	text, err := rec.Tabbed()
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(string(text), "\r\n")
	if want := "Clock\tEngine Speed [rpm]\tRoad Speed [mph]\tThrottle [%]\tOil Press [psi]"; !strings.HasPrefix(lines[5], want) {
		t.Errorf("names are %q, want them to begin %q", lines[5], want)
	}
	first := strings.Split(lines[6], "\t")
	if first[0] != "10:32:08.000" || len(first) != len(rec.Columns)+1 {
		t.Errorf("first row is %q", first)
	}
	if n := len(lines) - 7; n != len(rec.Millis) {
		t.Errorf("%d rows, want %d", n, len(rec.Millis))
	}
	r := FallowRun()
	r.Clock = "5 past 2"
	if _, err := r.Record().Tabbed(); err == nil || !strings.Contains(err.Error(), "14:05:10") {
		t.Errorf("a wrong clock gave %v", err)
	}
}

// The planted dip of the second car is there, where the file beside the other car would say so.
func TestFallowOilDip(t *testing.T) {
	rec := FallowRun().Record()
	oil, rpm, thr := held(rec, "oil_pressure"), held(rec, "rpm"), held(rec, "throttle")
	lowest, at := math.Inf(1), 0.0
	for i, ms := range rec.Millis {
		if thr[i] > 70 && rpm[i] > 4000 {
			if in := oil[i]*psi - rec.Run.Car.OilLine.At(rpm[i]); in < lowest {
				lowest, at = in, float64(ms)/1000
			}
		}
	}
	if lowest > -1.5*bar || at < rec.Dip || at > rec.Dip+0.6 {
		t.Errorf("lowest against the line is %.2f bar at %.2f s, want a dip of 1.9 bar from %.2f s", lowest/bar, at, rec.Dip)
	}
}

func TestDecimal(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.Int32Range(-2_000_000, 2_000_000).Draw(t, "n")
		d := rapid.IntRange(0, 3).Draw(t, "d")
		got, err := strconv.ParseFloat(string(decimal(nil, n, d)), 64)
		if want := float64(n) / tens[d]; err != nil || got != want {
			t.Fatalf("%d·10^-%d printed as %q", n, d, decimal(nil, n, d))
		}
	})
}

// No reading is further from the truth than its sensor's bound.
func TestReadingsKeepTheirBound(t *testing.T) {
	for _, s := range slices.Concat(ternSensors, fallowSensors) {
		noise := rand.NewPCG(1, 2)
		for k := range 2000 {
			truth := s.low + (s.high-s.low)*float64(k)/2000
			if truth == faultReads {
				continue
			}
			got := float64(s.reading(truth, noise)) / tens[s.decimals]
			if math.Abs(got-truth) > s.bound()+1e-9 || got < s.low || got > s.high {
				t.Fatalf("%s read %v for %v, bound %v", s.name, got, truth, s.bound())
			}
		}
	}
}

func TestAnOpenThermistorReadsItsFaultValue(t *testing.T) {
	rec := Run57().Record()
	c := rec.Column("oil_temp")
	times := rec.Times()
	for i, x := range c.Values() {
		if at := times[c.Rows[i]]; (x == faultReads) != (at >= 22.1) {
			t.Fatalf("%.1f s: %v °C", at, x)
		}
	}
}

func BenchmarkRecord(b *testing.B) {
	for b.Loop() {
		RandomRun(3).Record()
	}
}
