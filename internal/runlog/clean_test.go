package runlog

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"github.com/paintmark/paintmark/internal/kernel"
	"github.com/paintmark/paintmark/internal/source"
)

// readText reads a log written in the test.
func readText(t *testing.T, text string) *Raw {
	t.Helper()
	raw, faults := ReadFrom(context.Background(), strings.NewReader(text), Options{Name: "run.csv"})
	if faults != nil {
		t.Fatal(faults)
	}
	return raw
}

func pressure(unit string) Channel {
	return Channel{
		Name: "oil_pressure", InLog: "P_OIL", Unit: unit, Reads: "gauge", Rate: 100,
		UnitPos: source.Pos{File: "channels.yaml", Line: 7, Column: 40},
	}
}

// column cleans one channel and gives its column.
func column(t *testing.T, raw *Raw, ch Channel) *kernel.Column {
	t.Helper()
	log, faults := Clean(raw, []Channel{ch})
	if faults != nil {
		t.Fatal(faults)
	}
	c := log.Columns[ch.Name]
	if c == nil {
		t.Fatalf("no column %s", ch.Name)
	}
	return c
}

func TestCleanConverts(t *testing.T) {
	const text = "Time,P_OIL,T_OIL,ON\ns,bar,degC,-\n0,3.5,80,0\n0.01,-0,81,1\n0.02,4,82,on\n"
	raw := readText(t, text)
	c := column(t, raw, pressure("bar"))
	if want := []float64{350000, 0, 400000}; !slices.Equal(c.SI(), want) {
		t.Errorf("values %v, want %v", c.SI(), want)
	}
	if math.Signbit(c.SI()[1]) {
		t.Error("-0 must be put down as 0")
	}
	if c.Rows != nil || c.Bad != nil || c.Gaps != nil || math.Abs(c.Hold-0.03) > 1e-12 || math.Abs(c.Period-0.01) > 1e-12 {
		t.Errorf("%+v", c)
	}
	oil := column(t, raw, Channel{Name: "oil_temp", InLog: "T_OIL", Unit: "°C", Rate: 100, Hold: 1})
	if want := []float64{353.15, 354.15, 355.15}; !slices.Equal(oil.SI(), want) || oil.Hold != 1 {
		t.Errorf("%+v", oil)
	}
	off := column(t, raw, Channel{Name: "oil_temp", InLog: "T_OIL", Unit: "°C", Within: 0.25})
	if off.Within != 0.25 || off.Said != "reads within 0.25 °C" || oil.Within != 0 || oil.Said != "" {
		t.Errorf("%+v", off)
	}
	on := column(t, raw, Channel{Name: "on", InLog: "ON", Unit: "state", Shape: YesNo})
	if want := []float64{0, 1, 1}; !slices.Equal(on.Values, want) {
		t.Errorf("%+v", on)
	}
}

// A declared channel that is not logged is absent, and so is one that is blank throughout.
func TestCleanAbsent(t *testing.T) {
	raw := readText(t, "Time,RPM,P_OIL\n0,1,\n1,2,\n")
	log, faults := Clean(raw, []Channel{pressure("bar"), {Name: "water", InLog: "T_W", Unit: "°C"}})
	if faults != nil || len(log.Columns) != 0 {
		t.Errorf("%v %v", log.Columns, faults)
	}
	if log.End != 2 {
		t.Errorf("end %v, want 2", log.End)
	}
}

func TestUnitsAgree(t *testing.T) {
	cases := []struct {
		logged, declared, reads string
		ok                      bool
	}{
		{"bar", "bar", "gauge", true},
		{"BAR", "bar", "absolute", true},
		{"barg", "bar", "gauge", true},
		{"bara", "bar", "absolute", true},
		{"bar", "barg", "", true},
		{"bara", "bar", "gauge", false},
		{"barg", "bar", "absolute", false},
		{"psi", "bar", "gauge", false},
		{"kPa", "bar", "gauge", false},
		{"mbar", "hPa", "absolute", true},
		{"kPa", "kpa", "gauge", false}, // the declared unit is not one
		{"degC", "°C", "", true},
		{"C", "°C", "point", true},
		{"DEG C", "°C", "", true},
		{"°F", "°C", "", false},
		{"K", "°C", "", false},
		{"K", "°C", "difference", true},
		{"RPM", "rpm", "", true},
		{"1/min", "rpm", "", true},
		{"Hz", "rpm", "", false},
		{"rad/s", "Hz", "", false},
		{"G", "g0", "", true},
		{"g", "g0", "", true},
		{"m/s2", "g0", "", false},
		{"kph", "km/h", "", true},
		{"KM/H", "km/h", "", true},
		{"mph", "km/h", "", false},
		{"Nm", "N·m", "", true},
		{"J", "N·m", "", false},
		{"%", "%", "", true},
		{"pct", "%", "", true},
		{"-", "%", "", false},
		{"-", "state", "", true},
		{"on/off", "state", "", true},
		{"clicks", "mm", "", false},
		{"ms", "s", "", false},
	}
	for _, c := range cases {
		raw := readText(t, fmt.Sprintf("Time [s],P_OIL [%s]\n0,1\n1,1\n", c.logged))
		ch := pressure(c.declared)
		ch.Reads = c.reads
		if c.declared == "state" {
			ch.Shape = YesNo
		}
		_, faults := Clean(raw, []Channel{ch})
		if (len(faults) == 0) != c.ok {
			t.Errorf("%s in the log, %s %s declared: %v", c.logged, c.declared, c.reads, faults)
		}
	}
}

func TestUnitFaultNamesBothPlaces(t *testing.T) {
	raw := readText(t, "Time,RPM,P_OIL\ns,rpm,psi\n0,1,50\n1,2,51\n")
	log, faults := Clean(raw, []Channel{pressure("bar")})
	const want = `run.csv:2:7: P_OIL is in "psi" here but declared in bar gauge at channels.yaml:7:40; correct whichever is wrong; nothing is converted`
	if faults.Error() != want {
		t.Errorf("got  %s\nwant %s", faults.Error(), want)
	}
	if len(log.Columns) != 0 {
		t.Error("a channel in another unit must not be used")
	}
}

func TestTakenAway(t *testing.T) {
	fault := 233.15
	oil := Channel{
		Name: "oil_temp", InLog: "T", Unit: "°C", Rate: 10, Range: true, Low: 253.15, High: 453.15, FaultValue: &fault,
	}
	header := "Time [s],T [degC]\n"
	cases := []struct {
		name, rows string
		ch         Channel
		bad        []int
		gaps       string
	}{
		{"fault value", "0,80\n0.1,-40\n0.2,-39.9\n0.3,81\n", oil, []int{1, 2}, "0.1-0.3 reads its fault value -40 °C"},
		{"range", "0,80\n0.1,181\n0.2,180\n0.3,-20.01\n", oil, []int{1, 3}, "0.1-0.2 outside -20 to 180 °C, 0.3-0.4 outside -20 to 180 °C"},
		{"words", "0,NaN\n0.1,---\n0.2,80\n0.3,80\n", oil, []int{0, 1}, "0-0.2 no number in the log"},
		{"reasons in turn", "0,80\n0.1,NaN\n0.2,-40\n0.3,900\n", oil, []int{1, 2, 3}, "0.1-0.2 no number in the log, 0.2-0.3 reads its fault value -40 °C, 0.3-0.4 outside -20 to 180 °C"},
		{"hold", "0,80\n0.1,80\n0.2,80\n1,80\n1.1,80\n", oil, nil, "0.5-1 no sample for more than 0.3 s"},
		{"hold, declared", "0,80\n0.1,80\n0.2,80\n1,80\n1.1,80\n", func() Channel { c := oil; c.Hold = 1; return c }(), nil, ""},
		{"no limits", "0,80\n0.1,-40\n0.2,1e9\n", Channel{Name: "oil_temp", InLog: "T", Unit: "°C"}, nil, ""},
		{"yes or no", "0,0\n0.1,1\n0.2,2\n0.3,0.5\n", Channel{Name: "oil_temp", InLog: "T", Unit: "state", Shape: YesNo}, nil, "unit"},
		{"too large for SI", "0,80\n0.1,1e308\n0.2,80\n", Channel{Name: "oil_temp", InLog: "T", Unit: "°C"}, nil, ""},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			raw := readText(t, header+c.rows)
			before := slices.Clone(raw.Columns[0].Values)
			log, faults := Clean(raw, []Channel{c.ch})
			if c.gaps == "unit" {
				if len(faults) != 1 {
					t.Error("a temperature must not be read as a state")
				}
				return
			}
			col := log.Columns["oil_temp"]
			var bad []int
			for i := range col.Values {
				if col.Bad != nil && col.Bad[0]>>i&1 == 1 {
					bad = append(bad, i)
				}
				if si := col.Line.SI(col.Values[i]); math.IsInf(si, 0) {
					t.Errorf("sample %d is %g", i, si)
				}
			}
			if !slices.Equal(bad, c.bad) {
				t.Errorf("taken away %v, want %v", bad, c.bad)
			}
			var gaps []string
			for _, g := range col.Gaps {
				gaps = append(gaps, fmt.Sprintf("%.4g-%.4g %s", g.From, g.To, g.Why))
			}
			if got := strings.Join(gaps, ", "); got != c.gaps {
				t.Errorf("gaps %s\nwant %s", got, c.gaps)
			}
			if !slices.Equal(raw.Columns[0].Values, before) {
				t.Error("cleaning must leave what was read as it is")
			}
		})
	}
}

// Shapes: a switch is 0 or 1, a gear a whole number.
func TestShapes(t *testing.T) {
	raw := readText(t, "Time,SW,GEAR\n0,0,1\n1,1,2.5\n2,2,3\n3,off,4\n")
	sw := column(t, raw, Channel{Name: "sw", InLog: "SW", Unit: "state", Shape: YesNo, Hold: 10})
	if sw.Bad[0] != 0b0100 || sw.Gaps[0].Why != "neither 0 nor 1" {
		t.Errorf("%+v", sw)
	}
	gear := column(t, raw, Channel{Name: "gear", InLog: "GEAR", Unit: "count", Shape: Count, Hold: 10})
	if gear.Bad[0] != 0b0010 || gear.Gaps[0].Why != "not a whole number" {
		t.Errorf("%+v", gear)
	}
}

// The rows of a slow column are its own, and a ragged row is not trusted.
func TestOwnRowsAndRaggedRows(t *testing.T) {
	raw := readText(t, "Time,A,P_OIL\n0,1,5\n0.01,2,\n0.02,3,6\n0.03,4,\n0.04,5,7\n0.05,9,9,9\n")
	ch := pressure("bar")
	ch.Rate = 50
	c := column(t, raw, ch)
	if !slices.Equal(c.Rows, []int32{0, 2, 4, 5}) || c.Bad[0] != 0b1000 {
		t.Errorf("%+v", c)
	}
	if len(c.Gaps) != 1 || c.Gaps[0].Why != "its row has a wrong number of cells" {
		t.Errorf("%+v", c.Gaps)
	}
}

func TestIdentity(t *testing.T) {
	raw := readText(t, "Car,AY-T3-001\nLogger,LG-88\nRun counter,57\nDate,2026-05-16\n\nTime,ecu_run_no\n0,57\n1,57\n")
	id := raw.Identity("")
	if id.Serial.Value != "LG-88" || id.Car.Value != "AY-T3-001" || id.Run.Value != "57" || id.Date.Value != "2026-05-16" {
		t.Errorf("%+v", id)
	}
	if id.Serial.Pos != (source.Pos{File: "run.csv", Line: 2, Column: 1}) {
		t.Errorf("%v", id.Serial.Pos)
	}
	if id := raw.Identity("ecu_run_no"); id.Run.Key != "ecu_run_no" || id.Run.Value != "57" {
		t.Errorf("%+v", id.Run)
	}
}

// What cleaning passes over by the block is what it would have let pass sample by sample.
func TestCleanByTheBlock(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 3*blockSamples).Draw(t, "rows")
		raw := &Raw{Step: 0.01, widest: 0.01, Rows: n}
		c := Column{Name: "T", Step: 0.01, Rate: 100}
		level := rapid.SampledFrom([]float64{80, 0, -40, 180, 1}).Draw(t, "level")
		wave := rapid.SampledFrom([]float64{0, 0.25, 1e-9}).Draw(t, "wave")
		for i := range n {
			raw.Times = append(raw.Times, float64(i)*0.01)
			c.Values = append(c.Values, level+wave*float64(i%7))
		}
		for _, k := range rapid.SliceOfN(rapid.IntRange(0, n-1), 0, 3).Draw(t, "spikes") {
			c.Values[k] = rapid.SampledFrom([]float64{-40.001, -40, 179.9, 180.1, 1e308, -1e308, 2, 1}).Draw(t, "spike")
		}
		if rapid.Bool().Draw(t, "words") {
			c.setBad(rapid.IntRange(0, n-1).Draw(t, "no number"))
		}
		if rapid.Bool().Draw(t, "kept") {
			c.summed()
		}
		raw.Columns = []Column{c}
		fault := rapid.SampledFrom([]float64{-40, 80, 200}).Draw(t, "fault") + 273.15
		ch := Channel{
			Name: "oil_temp", InLog: "T", Unit: "°C", Range: rapid.Bool().Draw(t, "range"), Low: 233.15 - 1, High: 453.15, FaultValue: &fault,
			Shape: rapid.SampledFrom([]Shape{Number, Number, YesNo, Count}).Draw(t, "shape"),
		}
		if ch.Shape != Number {
			ch.Unit = "1"
		}
		hasty, _ := Clean(raw, []Channel{ch})
		slow := *raw
		slow.widest = 0 // not known: every sample is looked at
		thorough, _ := Clean(&slow, []Channel{ch})
		a, b := hasty.Columns["oil_temp"], thorough.Columns["oil_temp"]
		if fmt.Sprintf("%+v", a) != fmt.Sprintf("%+v", b) {
			t.Fatalf("by the block\n%+v\nsample by sample\n%+v", a.Gaps, b.Gaps)
		}
		for k, v := range a.SI() {
			if z := a.Zones[k/blockSamples]; (a.Bad == nil || a.Bad[k>>6]>>(k&63)&1 == 0) && (v < z.Least || v > z.Most) {
				t.Fatalf("sample %d, %g, lies outside its zone %+v", k, v, z)
			}
		}
	})
}
