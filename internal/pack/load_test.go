package pack

import (
	"slices"
	"strings"
	"testing"

	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/expr"
	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
)

const yard = `pack: yard
version: 1.0.0
title: Oil
channels:
  oil_pressure: {quantity: pressure, reads: gauge}
  under_load: yes-no
limits:
  least: {value: 3.0 bar, tighten: up, source: {kind: supplier, text: sheet EB-07, confirmed: 2026-02-20 by HW}}
  watch: {value: 3.5 bar, source: {kind: practice}}
  hot: {value: 130 °C, source: {kind: practice}}
rules:
  - id: engine.oil-pressure
    item: Oil pressure under load
    system: engine
    measure: log.min(oil_pressure, under_load)
    unit: bar
    fail: {below: limits.least}
    warn: {below: limits.watch}
    accept: {warn: [engine], fail: nobody}
    do: Do not start it again.
    source: {kind: practice}
    examples:
      - {shown: {log: {oil_pressure: [[0 s, 4.0 bar]], under_load: {lasts: 5 s, starts: [1 s]}}}, answer: pass}
      - {shown: {log: {oil_pressure: [[0 s, 2.0 bar]], under_load: {lasts: 5 s, starts: [1 s]}}}, answer: fail}
      - {shown: {}, answer: no data}
  - id: engine.oil-by-hand
    item: Oil temperature in the tank neck
    system: engine
    measure: measured.engine.oil_temp_by_hand
    unit: °C
    fail: {above: limits.hot}
    accept: {fail: [lead-engineer]}
    do: Let it cool.
    source: {kind: practice}
    examples:
      - {shown: {measured: {engine: {oil_temp_by_hand: 90 °C}}}, answer: pass}
      - {shown: {measured: {engine: {oil_temp_by_hand: 140 °C}}}, answer: fail}
      - {shown: {}, answer: no data}
`

func yaml(t testing.TB, text string) *source.Node {
	t.Helper()
	n, faults := source.ParseYAML("limits.yaml", []byte(text))
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	return n
}

// overridesIn reads `pack: {limit: {value: ..}}` as limits.yaml holds it.
func overridesIn(t testing.TB, text string) []Override {
	var out []Override
	for _, p := range yaml(t, text).Entries {
		for _, l := range p.Value.Entries {
			out = append(out, Override{Pack: p.Key.Text, Limit: l.Key.Text, Node: l.Value, Where: l.Key.Pos})
		}
	}
	return out
}

func TestOverrides(t *testing.T) {
	scope := expr.Scope{Roots: roots(t)}
	for _, c := range []struct {
		name, limits string
		want         string  // the fault, "" for none
		least        float64 // bar, of `least`
	}{
		{"tighter", "yard: {least: {value: 3.2 bar}}", "", 3.2},
		{"the same", "yard: {least: {value: 300 kPa}}", "", 3.0},
		{"with its own source", "yard: {least: {value: 3.2 bar, source: {kind: test, text: on stands, confirmed: 2026-05-10 by SQ}}}", "", 3.2},
		{"free where nothing is a no-go item", "yard: {hot: {value: 150 °C}}", "", 3.0},
		{
			"looser names both files", "yard: {least: {value: 2.5 bar}}",
			"limits.yaml:1:23: 2.5 bar is looser than the 3.0 bar of yard.yaml:8:3 (engine.oil-pressure); a no-go item or a regulation may only be tightened, up", 3.0,
		},
		{
			"no tighten in a no-go rule", "yard: {watch: {value: 3.6 bar}}",
			"limits.yaml:1:8: the limit `watch` of engine.oil-pressure may not be changed (yard.yaml:9:3); it is a no-go item or a regulation; take the line out", 3.0,
		},
		{"no such limit", "yard: {lest: {value: 3.6 bar}}", "limits.yaml:1:8: `lest` is not a limit of yard; did you mean least?", 3.0},
		{"no such pack", "yerd: {least: {value: 3.6 bar}}", "limits.yaml:1:8: no pack `yerd` is in use; did you mean yard?", 3.0},
		{"other quantity", "yard: {least: {value: 80 °C}}", "limits.yaml:1:23: the limit `least` is pressure in yard.yaml, this is temperature; give it the same quantity", 3.0},
		{"bare number", "yard: {least: {value: 3}}", "limits.yaml:1:23: the limit `least` is written 3.0 bar in yard.yaml; give it the same unit", 3.0},
	} {
		t.Run(c.name, func(t *testing.T) {
			packs, faults := Load([]File{{"yard.yaml", []byte(yard)}}, scope, overridesIn(t, c.limits))
			if got := faults.Error(); got != c.want {
				t.Errorf("got  %s\nwant %s", got, c.want)
			}
			if got := packs[0].limit("least").Value.Low / 1e5; got != c.least {
				t.Errorf("least is %v bar, want %v", got, c.least)
			}
			if len(packs[0].Rules) != 2 {
				t.Errorf("%d rules came out", len(packs[0].Rules))
			}
		})
	}
}

func TestPackMeetsTheCar(t *testing.T) {
	pressure, _ := schema.NamedQuantity("gauge pressure")
	absolute, _ := schema.NamedQuantity("absolute pressure")
	share, _ := schema.NamedQuantity("share")
	derived := func(text string) []expr.Derived {
		return []expr.Derived{{Name: "under_load", Text: yaml(t, "x: "+text).Get("x")}}
	}
	for _, c := range []struct {
		name     string
		channels map[string]expr.Channel
		derived  []expr.Derived
		pack     string
		want     string
	}{
		{"agrees", map[string]expr.Channel{"oil_pressure": {Unit: pressure}, "throttle": {Unit: share}}, derived("throttle > percent(70.0)"), yard, ""},
		{
			"another kind",
			map[string]expr.Channel{"oil_pressure": {Unit: absolute}},
			nil, yard,
			"yard.yaml:5:3: the car logs `oil_pressure` as absolute pressure, the pack reads gauge pressure; make the two agree: channels.yaml says what the sensor is",
		},
		{
			"not declared",
			map[string]expr.Channel{"oil_pressure": {Unit: pressure}, "throttle": {Unit: share}},
			derived("throttle > percent(70.0)"),
			strings.Replace(yard, "log.min(oil_pressure, under_load)", "log.min(oil_pressure, throttle > percent(50.0))", 1),
			"yard.yaml:15:36: `throttle` is known to this car but not declared by the pack; add it to the pack's channels",
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, faults := Load([]File{{"yard.yaml", []byte(c.pack)}}, expr.Scope{Roots: roots(t), Channels: c.channels, Derived: c.derived}, nil)
			if got := faults.Error(); got != c.want {
				t.Errorf("got  %s\nwant %s", got, c.want)
			}
		})
	}
}

func TestMoments(t *testing.T) {
	packs, faults := Load(bundled(t), expr.Scope{Roots: roots(t)}, nil)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	want := map[string][]check.Moment{
		"wing.spring-margin":        {check.Commit, check.Paddock},
		"wing.fail-safe":            {check.Paddock},
		"wing.close-time":           {check.Run},
		"wheels.nuts":               {check.Paddock},
		"hydraulics.precharge-hot":  {check.Commit, check.Paddock},
		"fuel.rail-pressure":        {check.Run},
		"environment.road":          {check.Paddock},
		"safety.dates":              {check.Commit, check.Paddock},
		"chassis.set-down-sheet":    {check.Paddock},
		"electrical.inertia-tested": {check.Paddock},
	}
	for _, p := range packs {
		for _, r := range p.Rules {
			if w := want[r.ID]; w != nil && !slices.Equal(r.Moments, w) {
				t.Errorf("%s is looked at in %v, want %v", r.ID, r.Moments, w)
			}
			delete(want, r.ID)
		}
	}
	if len(want) > 0 {
		t.Errorf("not in any pack: %v", want)
	}
}

// What the bundled packs must hold as a whole.
func TestBundledPacksAreWhole(t *testing.T) {
	packs, faults := Load(bundled(t), expr.Scope{Roots: roots(t)}, nil)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	var all, logs int
	systems, moments, texts := map[string]bool{}, map[check.Moment]bool{}, ""
	for _, p := range packs {
		if !strings.HasSuffix(p.File, "/"+p.Name+".yaml") {
			t.Errorf("%s holds the pack %s", p.File, p.Name)
		}
		for _, r := range p.Rules {
			all++
			systems[r.System] = true
			if r.readLog {
				logs++
			}
			for _, m := range r.Moments {
				moments[m] = true
			}
			if r.NoGo() && r.Lenient {
				t.Errorf("%s is a no-go item whose no data would not be open", r.ID)
			}
			for _, x := range r.parts() {
				texts += x.expr.Text() + "\n"
			}
		}
	}
	if all < 45 || logs < 20 || len(systems) < 10 || len(moments) != 3 {
		t.Errorf("%d rules, %d over logs, %d systems, %d moments", all, logs, len(systems), len(moments))
	}
	for _, fn := range []string{
		"log.always", "log.ever", "log.total", "log.longest", "log.count", "log.min", "log.max", "log.mean", "log.quantile", "log.integral",
		"log.first", "log.last", "log.response", "slope", "delay", "smooth", "held", "since", "abs", "least", "greatest", "at", "days",
	} {
		if !strings.Contains(texts, fn+"(") {
			t.Errorf("no bundled rule uses %s", fn)
		}
	}
}
