package schema

import (
	"os"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"github.com/paintmark/paintmark/internal/source"
	"github.com/paintmark/paintmark/internal/units"
)

func read(t *testing.T, name, yaml string) *Value {
	t.Helper()
	n, faults := source.ParseYAML(name+".yaml", []byte(yaml))
	if err := faults.Err(); err != nil {
		t.Fatal(err)
	}
	typ, err := Bundled.Document(name)
	if err != nil {
		t.Fatal(err)
	}
	v, faults := Read(n, typ)
	if err := faults.Err(); err != nil {
		t.Fatal(err)
	}
	return v
}

const small = `car:
  number: 0412
  engine: {rev_limit: 7600 rpm, oil_at_load: 80 °C, cylinders: 4}
  hydraulics: {pump_on: 115 bar, accumulator_volume: unknown}
  gearbox: {shift: hydraulic, ratios: [2.92, 2.21]}
  minimum_weight: {value: 1080 kg, with: {driver: true}}
  regulations: {edition: 2026-02-01}
  corners:
    - {position: FL, axle: front}
`

func TestReadGivesSI(t *testing.T) {
	v := read(t, "car", small).Get("car")
	for path, want := range map[string]float64{
		"engine.rev_limit": 7600 * 2 * 3.141592653589793 / 60, "engine.oil_at_load": 353.15, "engine.cylinders": 4,
		"hydraulics.pump_on": 115e5, "gearbox.ratios[1]": 2.21, "minimum_weight.value": 1080,
	} {
		if got := v.Get(path); got.Unknown || got.Low < want*(1-1e-12) || got.Low > want*(1+1e-12) || got.High != got.Low {
			t.Errorf("%s = %v to %v, want %v", path, got.Low, got.High, want)
		}
	}
	if got := v.Get("number").Text; got != "0412" {
		t.Errorf("a number on the door lost its nought: %q", got)
	}
	if got := v.Get("regulations.edition").Time; !got.Equal(time.Date(2026, 2, 1, 0, 0, 0, 0, time.UTC)) {
		t.Error(got)
	}
	if got := v.Get("engine.rev_limit"); got.Pos != (source.Pos{File: "car.yaml", Line: 3, Column: 23}) || got.Text != "7600 rpm" {
		t.Errorf("%v %q", got.Pos, got.Text)
	}
	if k := v.Get("hydraulics.pump_on").Type.Unit.Kind; k != units.Gauge {
		t.Errorf("the field decides that it is gauge, got kind %d", k)
	}
}

func TestGapsHaveThePlaceOfWhatIsThere(t *testing.T) {
	v := read(t, "car", small).Get("car")
	for path, line := range map[string]int{
		"hydraulics.accumulator_volume": 4, // written as unknown
		"hydraulics.pump_off":           4, // not written, its map is
		"wing.supply.bottle":            2, // nothing of it is
		"corners[0].side":               9,
		"corners[3].side":               9,
		"gearbox.ratios[5]":             5,
	} {
		got := v.Get(path)
		if got == nil || !got.Unknown || got.Pos.Line != line {
			t.Errorf("%s: %+v, want a gap in line %d", path, got, line)
		}
	}
	for _, path := range []string{"hydraulics.pomp_on", "engine.rev_limit.value", "corners.FL", "corners[x]", "number[0]"} {
		if v.Get(path) != nil {
			t.Errorf("%s is no field", path)
		}
	}
}

func TestJSON(t *testing.T) {
	got, err := JSON(read(t, "car", small))
	if err != nil {
		t.Fatal(err)
	}
	want := `{"car":{"number":"0412","regulations":{"edition":"2026-02-01"},"minimum_weight":{"value":1080,"with":{"driver":true}},` +
		`"corners":[{"position":"FL","axle":"front"}],"engine":{"cylinders":4,"rev_limit":795.8701389094143,"oil_at_load":353.15},` +
		`"gearbox":{"shift":"hydraulic","ratios":[2.92,2.21]},"hydraulics":{"pump_on":11500000,"accumulator_volume":null}}}`
	if string(got) != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
}

func TestJSONOfBounds(t *testing.T) {
	typ := &Type{Kind: Quantity}
	for want, v := range map[string]*Value{
		`{"low":1,"high":2.5}`:   {Type: typ, Low: 1, High: 2.5},
		`null`:                   Unknown(typ, source.Pos{}),
		`[[0,1],[2,3]]`:          {Type: &Type{Kind: Curve}, Points: []Point{{0, 1}, {2, 3}}},
		`"2026-05-16T07:50:00Z"`: {Type: &Type{Kind: Instant}, Time: time.Date(2026, 5, 16, 8, 50, 0, 0, time.FixedZone("", 3600))},
		`"a \"b\" <c>"`:          {Type: &Type{Kind: Text}, Text: `a "b" <c>`},
	} {
		got, err := JSON(v)
		if err != nil || string(got) != want {
			t.Errorf("%s %v, want %s", got, err, want)
		}
	}
}

func TestParseInstant(t *testing.T) {
	for text, want := range map[string]string{
		"2026-05-16T08:50+01:00":    "2026-05-16T07:50:00Z",
		"2026-05-16T08:50:07+01:00": "2026-05-16T07:50:07Z",
		"2026-05-16T08:50Z":         "2026-05-16T08:50:00Z",
		"2026-05-16T00:10-05:30":    "2026-05-16T05:40:00Z",
		"2026-05-16T08:50":          "", "2026-05-16 08:50Z": "", "2026-13-16T08:50Z": "", "2026-05-16T25:50Z": "", "16/05/26": "",
		"2026-05-16T08:50:61Z": "", "0000-05-16T08:50Z": "", "2026-05-16T08:50+1:00": "", "": "", "2026-05-16T08:50+01:00 ": "",
	} {
		got, err := ParseInstant(text)
		switch {
		case want == "" && err == nil:
			t.Errorf("%q was taken as %v", text, got)
		case want != "" && (err != nil || got.Format(time.RFC3339) != want):
			t.Errorf("%q = %v, %v", text, got, err)
		}
	}
}

func TestAddSpan(t *testing.T) {
	for _, c := range []struct{ day, span, want string }{
		{"2024-06-03", "24 mo", "2026-06-03"},
		{"2026-01-31", "1 mo", "2026-02-28"},
		{"2024-01-31", "1 mo", "2024-02-29"},
		{"2024-02-29", "1 a", "2025-02-28"},
		{"2026-05-16", "2 wk", "2026-05-30"},
		{"2026-05-16", "90 d", "2026-08-14"},
		{"2026-05-16", "0 mo", "2026-05-16"},
		{"2026-05-16", "1 year", ""},
		{"2026-05-16", "1.5 mo", ""},
	} {
		day, err := ParseDay(c.day)
		if err != nil {
			t.Fatal(err)
		}
		got, ok := AddSpan(day, c.span)
		if ok != (c.want != "") || ok && got.Format(time.DateOnly) != c.want {
			t.Errorf("%s + %s = %v, want %s", c.day, c.span, got, c.want)
		}
	}
}

// Days come back as they were written, and nothing that is not a day is taken for one.
func TestDaysRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		day := time.Date(rapid.IntRange(1, 9999).Draw(t, "year"), time.Month(rapid.IntRange(1, 12).Draw(t, "month")), rapid.IntRange(1, 31).Draw(t, "day"), 0, 0, 0, 0, time.UTC)
		text := day.Format(time.DateOnly)
		got, err := ParseDay(text)
		if err != nil && day.Year() <= 9999 || err == nil && !got.Equal(day) {
			t.Fatalf("%s = %v, %v", text, got, err)
		}
		slip := rapid.StringMatching(`[0-9]{1,4}[-/.][0-9]{1,2}[-/.][0-9]{1,4}`).Draw(t, "slip")
		if got, err := ParseDay(slip); err == nil && got.Format(time.DateOnly) != slip {
			t.Fatalf("%q was taken as %v", slip, got)
		}
	})
}

// A quantity in a field is what the units make of it, or it is refused.
func TestQuantitiesInFields(t *testing.T) {
	pressure, _ := NamedQuantity("gauge pressure")
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringMatching(`-?[0-9]{1,4}(\.[0-9]{1,3})?`).Draw(t, "number") + " " + rapid.SampledFrom([]string{"bar", "psi", "kPa", "barg", "bara", "°C", "mm", "hPa"}).Draw(t, "unit")
		got, err := parseQuantity(text, pressure)
		q, parseErr := units.Parse(text)
		if parseErr != nil {
			t.Fatal(parseErr)
		}
		fits := q.Type.Dim == pressure.Dim && (q.Type.Kind == units.Open || q.Type.Kind == units.Gauge)
		if fits != (err == nil) || fits && got != q.SI {
			t.Fatalf("%s: %v %v", text, got, err)
		}
	})
}

func TestNamedQuantities(t *testing.T) {
	for _, name := range NamedQuantities() {
		typ, ok := NamedQuantity(name)
		if !ok || typ.Kind == units.Open {
			t.Errorf("%s: %v", name, typ)
		}
		if len(units.For(typ)) == 0 {
			t.Errorf("%s has no unit to write it in", name)
		}
	}
}

func TestExtend(t *testing.T) {
	s := &Set{}
	err := s.Extend("schemas/car.schema.json", []byte(`{
  "$schema": "https://json-schema.org/draft/2020-12/schema",
  "x-extends": "car",
  "properties": {"car": {"properties": {
    "nose": {"type": ["object", "string"], "properties": {"height": {"type": "string", "x-quantity": "length"}}, "required": ["height"], "additionalProperties": false},
    "corners": {"items": {"properties": {"duct": {"enum": ["open", "taped", "unknown"]}}}},
    "engine": {"properties": {"map_switch": {"type": ["integer", "string"], "pattern": "^unknown$", "maximum": 11}}}
  }}}}`)).Err()
	if err != nil {
		t.Fatal(err)
	}
	typ, err := s.Document("car")
	if err != nil {
		t.Fatal(err)
	}
	n, _ := source.ParseYAML("car.yaml", []byte(`car:
  nose: {height: 120 mm}
  engine: {map_switch: 4, rev_limit: 7600 rpm}
  corners: [{position: FL, duct: taped}]
`))
	v, faults := Read(n, typ)
	if err := faults.Err(); err != nil {
		t.Fatal(err)
	}
	if got := v.Get("car.nose.height"); got.Low != 0.12 || got.Type.Name != "car.nose.height" {
		t.Errorf("%+v", got)
	}
	if got := v.Get("car.corners[0].duct").Text; got != "taped" {
		t.Error(got)
	}
	n, _ = source.ParseYAML("car.yaml", []byte(`car:
  nose: {}
  engine: {map_switch: 12}
  corners: [{position: FL, duct: taepd}]
`))
	_, faults = Read(n, typ)
	var got []string
	for _, f := range faults {
		got = append(got, f.Error())
	}
	want := []string{
		"car.yaml:2:9: `height` is missing in car.nose; write it",
		"car.yaml:3:24: `12` is more than 11; car.engine.map_switch is at most that",
		"car.yaml:4:34: car.corners[].duct cannot be `taepd`; did you mean \"taped\" (of open, taped)",
	}
	if strings.Join(got, "\n") != strings.Join(want, "\n") {
		t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	if bare, _ := Bundled.Document("car"); bare.Fields["car"].Fields["nose"] != nil {
		t.Error("an extension reached the bundled schema")
	}
}

// An example may show what the program works out, and leave out anything.
func TestReadShown(t *testing.T) {
	plan, err := Bundled.Root("plan")
	if err != nil {
		t.Fatal(err)
	}
	n, _ := source.ParseYAML("pack.yaml", []byte("{runs_left: 4, per_run: {front_pad: 0.25 mm}}"))
	v, faults := ReadShown(n, plan)
	if err := faults.Err(); err != nil || v.Get("runs_left").Low != 4 {
		t.Error(v, err)
	}
	if _, faults := Read(n, plan); len(faults) != 1 {
		t.Error("in a document runs_left is refused, got ", faults)
	}
}

func TestRoots(t *testing.T) {
	roots, err := Bundled.Roots()
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range RootNames() {
		if roots[name] == nil || roots[name].Name != name {
			t.Errorf("%s: %+v", name, roots[name])
		}
	}
	if _, err := Bundled.Document("mesured"); err == nil || !strings.Contains(err.Error(), `did you mean "measured"`) {
		t.Error(err)
	}
}

// The example in the schemas' own page is a team schema that works, and the page knows every quantity.
func TestPageOfTheSchemas(t *testing.T) {
	data, err := os.ReadFile("../../schemas/README.md")
	if err != nil {
		t.Fatal(err)
	}
	page := string(data)
	_, rest, _ := strings.Cut(page, "```json\n")
	example, _, _ := strings.Cut(rest, "```")
	s := &Set{}
	if err := s.Extend("schemas/nose.schema.json", []byte(example)).Err(); err != nil {
		t.Fatal(err)
	}
	car, err := s.Root("car")
	if err != nil || car.Fields["nose"].Fields["height"].Kind != Quantity {
		t.Error(car.Fields["nose"], err)
	}
	for _, name := range append(NamedQuantities(), Names()...) {
		if !strings.Contains(page, "`"+name+"`") {
			t.Errorf("the page does not name %s", name)
		}
	}
}
