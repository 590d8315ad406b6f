package readiness

import (
	"compress/gzip"
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/life"
)

// What partlife says of the demo car is worked out again from its documents and its log, by other
// means: the samples of the file itself, and the life sheet as `life --plan` has it.
func TestPartlifeAgrees(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "car")
	if err := os.CopyFS(dir, os.DirFS(tern3)); err != nil {
		t.Fatal(err)
	}
	edit(t, filepath.Join(dir, "limits.yaml"), func(s string) string {
		lines := strings.Split(s, "\n")
		i := slices.IndexFunc(lines, func(l string) bool { return strings.HasPrefix(l, "plugins:") })
		lines[i] = "plugins: [partlife]"
		return strings.Join(lines, "\n")
	})
	edit(t, filepath.Join(dir, "parts.yaml"), func(s string) string {
		s = strings.Replace(s, "  - serial: E-07\n", "  - serial: E-07\n    children: [TP-1]\n", 1)
		return strings.Replace(s, "{meter: engine_hours, life: 22 h,", "{meter: engine_hours, life: 22 h, lives: {failed: [9 h, 11 h, 14 h], running: [12 h], source: invented},", 1) +
			"  - {serial: TP-1, kind: test pump, no_go_part: false, at_register: {as: counted, used: {engine_hours: 61 h}}, bearing: {rolls: rollers, rating: 6.9 kN,\n" +
			"      load: {channel: oil_pressure, area: 1400 mm2}, turns: {channel: rpm, ratio: 0.5}, meter: engine_hours, source: invented}}\n"
	})
	look := Open(t.Context(), dir, Options{Logs: "logs", Plugins: served, Part: []string{"partlife.assembly", "partlife.risk", "partlife.bearing", "parts.life-with-plan"}}).Look(t.Context())
	if len(look.Faults) > 0 {
		t.Fatal(look.Faults)
	}
	items := map[string]check.Item{}
	for _, it := range look.Items {
		key := it.Card.ID + " " + it.Position
		if _, twice := items[key]; twice {
			t.Errorf("%s is there twice", key)
		}
		items[key] = it
	}
	measured := func(id string) *check.Measured {
		m := items[id].Measured
		if m == nil {
			t.Fatalf("%s: %+v", id, items[id])
		}
		return m
	}
	folder := Open(t.Context(), dir, Options{Logs: "nowhere"}).folder
	sheet, _ := life.Of(folder, folder.AsOf)

	worst := 0.0
	for _, serial := range []string{"GB-01", "GS-04", "DF-02"} {
		for _, l := range sheet.Part(serial).Limits {
			worst = max(worst, l.WithPlan().High/l.Life)
			it := items["parts.life-with-plan "+serial+" "+l.Name()]
			if (it.Outcome == check.Pass) != (l.Falls == "") {
				t.Errorf("%s %s falls in %q, and its item is %s", serial, l.Name(), l.Falls, it.Outcome)
			}
		}
	}
	if m := measured("partlife.assembly GB-01"); math.Abs(m.Value/100-worst) > 1e-9 {
		t.Errorf("assembly %v, want %g", m, worst*100)
	}

	engine, pump := sheet.Part("E-07"), sheet.Part("TP-1")
	hours := engine.Limits[0]
	likeliest := 100 * hours.Risk.Chance.High
	it := items["partlife.risk E-07 engine_hours"]
	before, _, _ := strings.Cut(it.Message, " % likeliest")
	said, err := strconv.ParseFloat(before[strings.LastIndex(before, " ")+1:], 64)
	if err != nil || math.Abs(said/likeliest-1) > 0.05 || it.Measured.Value <= likeliest {
		t.Errorf("risk %q, %v; the life sheet has %g %%", it.Message, it.Measured, likeliest)
	}

	// ISO 281 over the rows of the file in which both are written, 0.01 s each.
	used, turns, seconds := 0.0, 0.0, 0.0
	rpm, oil := logged(t, filepath.Join(dir, "logs", "t3-057.csv.gz"), "ENG_RPM", "P_OIL")
	for i := range rpm {
		if rpm[i] > 0 {
			n := rpm[i] / 60 * 0.5 * 0.01
			turns, seconds = turns+n, seconds+0.01
			used += n / 1e6 * math.Pow(oil[i]*1e5*1400e-6/6900, 10.0/3)
		}
	}
	total := pump.Totals[0]
	want := 100 * (total.Used.High + total.Planned.High) * used / (seconds / 3600)
	if m := measured("partlife.bearing TP-1"); math.Abs(m.High/want-1) > 2e-3 || want < 0.1 {
		t.Errorf("bearing %v, want %g %% (%g turns in %g s)", m, want, turns, seconds)
	}
}

func edit(t *testing.T, file string, change func(string) string) {
	t.Helper()
	was, err := os.ReadFile(file)
	if err == nil {
		err = os.WriteFile(file, []byte(change(string(was))), 0o600)
	}
	if err != nil {
		t.Fatal(err)
	}
}

// logged reads two columns where both are written.
func logged(t *testing.T, file, one, other string) (a, b []float64) {
	t.Helper()
	f, err := os.Open(file)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = f.Close() }()
	z, err := gzip.NewReader(f)
	if err != nil {
		t.Fatal(err)
	}
	r := csv.NewReader(z)
	r.FieldsPerRecord = -1
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	i, j := -1, -1
	for _, row := range rows {
		if i < 0 {
			if i, j = slices.Index(row, one), slices.Index(row, other); i < 0 {
				continue
			}
		}
		if max(i, j) >= len(row) {
			continue
		}
		x, err1 := strconv.ParseFloat(row[i], 64)
		y, err2 := strconv.ParseFloat(row[j], 64)
		if err1 == nil && err2 == nil {
			a, b = append(a, x), append(b, y)
		}
	}
	return a, b
}
