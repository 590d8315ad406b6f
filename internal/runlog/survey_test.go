package runlog

import (
	"context"
	"fmt"
	"math"
	"path/filepath"
	"strings"
	"testing"

	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
)

func TestSurvey(t *testing.T) {
	var b strings.Builder
	b.WriteString("Time,T_OIL,SW,GEAR,RPM,EMPTY\ns,°C,-,-,rpm,\n")
	for i := range 100 {
		oil := fmt.Sprintf("%.1f", 80+float64(i)/10)
		if i >= 40 && i < 50 {
			oil = "-40"
		}
		rpm := fmt.Sprint(3000 + 10*i)
		if i >= 60 && i < 90 {
			rpm = "3700"
		}
		if i%10 == 3 {
			rpm = "NaN"
		}
		fmt.Fprintf(&b, "%g,%s,%d,%d,%s,\n", float64(i)/100, oil, i%2, 1+max(0, i-39)/30, rpm)
	}
	raw := readText(t, b.String())
	looks := Survey(raw)
	oil := looks[0]
	if oil.FaultValue == nil || *oil.FaultValue != -40 || oil.Min != 80 || oil.Max != 89.9 || oil.Samples != 100 {
		t.Errorf("%+v", oil)
	}
	if looks[1].Shape != YesNo || looks[2].Shape != Count || looks[3].Shape != Number {
		t.Error("shapes")
	}
	rpm := looks[3]
	if math.Abs(rpm.Missing-0.1) > 1e-12 || rpm.FaultValue != nil {
		t.Errorf("%+v", rpm)
	}
	if gear := looks[2]; gear.FlatFrom != 0 || math.Abs(gear.FlatTo-0.68) > 1e-12 {
		t.Errorf("%+v", gear)
	}
	// A missing sample ends a flat span: nothing is known of it.
	if math.Abs(rpm.FlatFrom-0.64) > 1e-12 || math.Abs(rpm.FlatTo-0.72) > 1e-12 {
		t.Errorf("flat from %g to %g", rpm.FlatFrom, rpm.FlatTo)
	}
	if empty := looks[4]; empty.Samples != 0 || !math.IsNaN(empty.Min) || empty.Missing != 1 {
		t.Errorf("%+v", empty)
	}
}

// What is proposed loads with the schema of channels.yaml.
func TestProposalLoads(t *testing.T) {
	files, err := filepath.Glob(filepath.Join(dialects, "*.[ctg]*"))
	if err != nil || len(files) < 18 {
		t.Fatal(files, err)
	}
	for _, file := range files {
		raw, faults := Read(context.Background(), file, Options{})
		if faults != nil {
			t.Fatal(faults)
		}
		loads(t, Propose(raw, Survey(raw)))
	}
	raw := readText(t, "Logger,it's \"LG\"\nTime [s],Oil Press (psi),T [%],it's,#5,ÄÖ,in,map,x\ty,Speed [furlongs],Boost [bara],a_b,A-B,EngRpm [RPM]\n"+
		"0,1,2,3,4,5,6,7,8,9,1,2.5,3,4.5\n1,2.5,3.5,4.5,5.5,6.5,7.5,8.5,9.5,1.5,2.5,3.5,4.5,5.5\n")
	text := Propose(raw, Survey(raw))
	loads(t, text)
	for _, want := range []string{
		"name: oil_pressure, in_log: 'Oil Press', unit: psi, reads: gauge, rate: 1 Hz, range: 0 psi..4 psi, hold: 3 s}   # guess: gauge",
		"name: t, in_log: 'T', unit: '%'", "in_log: 'it''s'", "name: channel_5,", "name: channel,", "name: in_logged", "name: map_logged",
		"# x?y has a name", "unit: unknown, rate: 1 Hz, hold: 3 s}   # unit furlongs is not known", "unit: bara, reads: absolute", "name: a_b,", "name: a_b_2,", "name: engine_rpm,",
		`serial: 'it''s "LG"', car: unknown`,
	} {
		if !strings.Contains(text, want) {
			t.Errorf("no %q in\n%s", want, text)
		}
	}
}

func loads(t *testing.T, text string) {
	t.Helper()
	node, faults := source.ParseYAML("channels.yaml", []byte(text))
	if faults != nil {
		t.Fatalf("%v\n%s", faults, text)
	}
	typ, err := schema.Bundled.Document("channels")
	if err != nil {
		t.Fatal(err)
	}
	if _, faults := schema.Read(node, typ); faults != nil {
		t.Fatalf("%v\n%s", faults, text)
	}
}
