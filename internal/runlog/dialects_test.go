package runlog

import (
	"context"
	"encoding/json"
	"maps"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

const dialects = "../../testdata/logs/dialects"

type expected struct {
	Columns   []string
	Decimal   string
	Delimiter string
	Faults    []struct {
		Kind FaultKind
		Line int
		From float64 `json:"from_s"`
		To   float64 `json:"to_s"`
	}
	Metadata map[string]string
	Missing  map[string]int
	RateHz   float64            `json:"rate_hz"`
	RatesHz  map[string]float64 `json:"rates_hz"`
	Rows     int
	TimeUnit string `json:"time_unit"`
	Units    []string
}

// Every sample of a dialect reads as the list beside it says.
func TestDialects(t *testing.T) {
	data, err := os.ReadFile(filepath.Join(dialects, "expected.json"))
	if err != nil {
		t.Fatal(err)
	}
	var all map[string]expected
	if err := json.Unmarshal(data, &all); err != nil {
		t.Fatal(err)
	}
	if len(all) != 18 {
		t.Fatalf("%d samples listed, want 18", len(all))
	}
	for _, name := range slices.Sorted(maps.Keys(all)) {
		t.Run(name, func(t *testing.T) { checkDialect(t, name, all[name]) })
	}
}

func checkDialect(t *testing.T, name string, want expected) {
	raw, faults := Read(context.Background(), filepath.Join(dialects, name), Options{})
	if faults != nil {
		t.Fatal(faults)
	}
	var names, units []string
	at := raw.timePlace()
	for i := range len(raw.Columns) + 1 {
		switch {
		case i == at:
			names, units = append(names, raw.Time.Name), append(units, raw.Time.Unit)
		case i < at:
			names, units = append(names, raw.Columns[i].Name), append(units, raw.Columns[i].Unit)
		default:
			names, units = append(names, raw.Columns[i-1].Name), append(units, raw.Columns[i-1].Unit)
		}
	}
	if !slices.Equal(names, want.Columns) {
		t.Errorf("columns %q, want %q", names, want.Columns)
	}
	if want.Units != nil && !slices.Equal(units, want.Units) {
		t.Errorf("units %q, want %q", units, want.Units)
	}
	if want.Units == nil && strings.Join(units[1:], "") != "" {
		t.Errorf("units %q, want none", units)
	}
	if raw.Dialect.Delimiter != want.Delimiter || raw.Dialect.Decimal != want.Decimal {
		t.Errorf("delimiter %q, decimal %q", raw.Dialect.Delimiter, raw.Dialect.Decimal)
	}
	if raw.Rows != want.Rows {
		t.Errorf("%d rows, want %d", raw.Rows, want.Rows)
	}
	if want.TimeUnit != "" && raw.Time.Unit != want.TimeUnit {
		t.Errorf("time in %q, want %q", raw.Time.Unit, want.TimeUnit)
	}
	missing := map[string]int{}
	for _, c := range raw.Columns {
		if c.Missing > 0 {
			missing[c.Name] = c.Missing
		}
		rate := want.RateHz
		if want.RatesHz != nil {
			rate = want.RatesHz[c.Name]
		}
		if math.Abs(c.Rate-rate) > 0.002*rate {
			t.Errorf("%s at %g Hz, want %g", c.Name, c.Rate, rate)
		}
	}
	if !maps.Equal(missing, want.Missing) {
		t.Errorf("missing %v, want %v", missing, want.Missing)
	}
	meta := map[string]string{}
	for _, m := range raw.Meta {
		meta[m.Key] = m.Value
	}
	if !maps.Equal(meta, want.Metadata) {
		t.Errorf("metadata %v, want %v", meta, want.Metadata)
	}
	if len(raw.Faults) != len(want.Faults) {
		t.Fatalf("faults %v, want %v", raw.Faults, want.Faults)
	}
	for i, f := range raw.Faults {
		w := want.Faults[i]
		if f.Kind != w.Kind || f.Line != w.Line || math.Abs(f.From-w.From) > 1e-9 || math.Abs(f.To-w.To) > 1e-9 {
			t.Errorf("fault %v, want %v", f, w)
		}
	}
}

// timePlace is where the time column stands in the file among the others.
func (r *Raw) timePlace() int {
	for i, c := range r.Columns {
		if c.Pos.Line == r.Time.Pos.Line && c.Pos.Column > r.Time.Pos.Column {
			return i
		}
	}
	return len(r.Columns)
}

// The samples that hold the same run in other words give the same numbers.
func TestDialectsAgree(t *testing.T) {
	plain, faults := Read(context.Background(), filepath.Join(dialects, "01-plain.csv"), Options{})
	if faults != nil {
		t.Fatal(faults)
	}
	for _, name := range []string{
		"02-units-crlf-bom.csv", "03-semicolon-decimal-comma.csv", "04-tab-bracket-units.txt", "05-metadata-lines.csv", "06-quoted.csv",
		"07-trailing-comma.csv", "12-milliseconds.csv", "13-time-of-day.csv", "14-iso-stamps.csv", "16-exponents.csv", "17-plain.csv.gz",
	} {
		raw, faults := Read(context.Background(), filepath.Join(dialects, name), Options{})
		if faults != nil {
			t.Fatal(faults)
		}
		if !slices.Equal(raw.Times, plain.Times) {
			t.Errorf("%s: other times", name)
		}
		for i, c := range raw.Columns {
			same := func(a, b float64) bool { return a == b }
			if name == "16-exponents.csv" { // written with three digits
				same = func(a, b float64) bool { return math.Abs(a-b) <= 0.005*math.Abs(b) }
			}
			if !slices.EqualFunc(c.Values, plain.Columns[i].Values, same) {
				t.Errorf("%s: other values in %s", name, c.Name)
			}
		}
	}
}
