package readiness

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/kernel"
)

// The meters of the demo car's newest run, as its log has them: whole counts exactly, the
// rest as its run sheet rounds them.
func TestMetersOfTheDemoCar(t *testing.T) {
	c := Open(t.Context(), "../../testdata/cars/tern-3", Options{Logs: "logs"})
	got, faults := c.Meters(t.Context())
	if err := faults.Err(); err != nil {
		t.Fatal(err)
	}
	said := map[string]string{}
	for _, m := range got {
		if m.Low != m.High || m.Unseen != "" {
			t.Errorf("%s lies between %v and %v: %s", m.Meter, m.Low, m.High, m.Unseen)
		}
		if len(m.By) != 12 {
			t.Errorf("%s: digest %q", m.Meter, m.By)
		}
		said[m.Meter] = fmt.Sprintf("%.2f %s", m.Low, m.Unit)
	}
	for name, want := range map[string]string{"distance": "2.37 km", "engine_hours": "0.03 h", "full_throttle": "0.01 h", "launches": "2.00 ", "shifts": "42.00 "} {
		if said[name] != want {
			t.Errorf("%s is %q, want %q", name, said[name], want)
		}
	}
	for _, byHand := range []string{"heat_cycles", "events"} {
		if s, ok := said[byHand]; ok {
			t.Errorf("%s is not counted from a log, and came to %s", byHand, s)
		}
	}
}

// metersOf counts over logs of a made-up car.
func metersOf(t *testing.T, definitions string, logs map[string]*kernel.Log) ([]Counted, error) {
	t.Helper()
	f, faults := car.OpenFS(fstest.MapFS{
		"car.yaml": {Data: []byte("car: {name: Test}\n")},
		"channels.yaml": {Data: []byte(`logger: {serial: L1, car: T1, clock: none}
channels:
  - {name: stress, in_log: S, unit: MPa, reads: absolute, rate: 1 Hz, range: -2000 MPa..2000 MPa}
  - {name: speed, in_log: V, unit: m/s, rate: 1 Hz, range: 0 m/s..100 m/s}
  - {name: pump, in_log: P, unit: state, rate: 1 Hz}
`)},
		"meters.yaml": {Data: []byte(definitions)},
	})
	if err := faults.Err(); err != nil {
		return nil, err
	}
	graph := kernel.NewGraph()
	set, faults := newMeters(f, graph)
	if err := faults.Err(); err != nil {
		return nil, err
	}
	var at []meterLog
	for _, kind := range []string{"warm-up", "run", "stands"} {
		if log := logs[kind]; log != nil {
			at = append(at, newMeterLog(kind, graph, log))
		}
	}
	counted, faults := set.count(t.Context(), f.Roots(f.AsOf), at)
	return counted, faults.Err()
}

// rows is a log of one sample a second; NaN is a sample that was taken away.
func rows(t *testing.T, columns map[string][]float64) *kernel.Log {
	t.Helper()
	n := 0
	for _, c := range columns {
		n = len(c)
	}
	times := make([]float64, n)
	for i := range times {
		times[i] = float64(i)
	}
	log, err := kernel.FromRows(times, 1, 1, columns)
	if err != nil {
		t.Fatal(err)
	}
	return log
}

const fatigue = `meters:
  arm: {unit: "1", count: 'log.damage(stress, curve)', curve: {points: [[1e3, 1000 MPa], [1e6, 100 MPa]], source: invented}}
`

func scaled(factor float64, values ...float64) []float64 {
	out := make([]float64, len(values))
	for i, v := range values {
		out[i] = v * factor
	}
	return out
}

// The history of ASTM E1049-85, figure 6, in hundreds of MPa: of its cycles one closes, of
// range 4; by the line, N = 1000·(1000 MPa/S)^3, its amplitude of 200 MPa stands 125,000.
func TestDamageMeter(t *testing.T) {
	history := scaled(1e8, -2, 1, -3, 5, -1, 3, -4, 4, -2)
	got, err := metersOf(t, fatigue, map[string]*kernel.Log{"run": rows(t, map[string][]float64{"stress": history})})
	if err != nil {
		t.Fatal(err)
	}
	if d := got[0].Low; math.Abs(d*125000-1) > 1e-9 || got[0].High != d {
		t.Errorf("damage %v to %v, want 1/125000", d, got[0].High)
	}
	if want := scaled(1e8, -2, 1, -3, 5, -4, 4, -2); fmt.Sprint(got[0].Open) != fmt.Sprint(want) {
		t.Errorf("left open %v, want %v", got[0].Open, want)
	}
}

func TestDamageMeterWithMissingSamples(t *testing.T) {
	history := scaled(1e8, -2, 1, -3, 5, -1, 3, -4, 4, -2)
	history[6] = math.NaN()
	got, err := metersOf(t, fatigue, map[string]*kernel.Log{"run": rows(t, map[string][]float64{"stress": history})})
	if err != nil {
		t.Fatal(err)
	}
	if !math.IsInf(got[0].High, 1) || got[0].Unseen == "" {
		t.Errorf("a missing sample left it at %v to %v (%s)", got[0].Low, got[0].High, got[0].Unseen)
	}
}

// A meter counts the kinds of log it includes, each log once.
func TestMetersInclude(t *testing.T) {
	v := []float64{10, 10, 10, 10, 10}
	logs := map[string]*kernel.Log{"warm-up": rows(t, map[string][]float64{"speed": v}), "run": rows(t, map[string][]float64{"speed": v}), "stands": rows(t, map[string][]float64{"speed": v})}
	got, err := metersOf(t, `meters:
  all: {unit: m, count: log.integral(speed)}
  road: {unit: km, count: log.integral(speed), includes: [warm-up, run]}
  stood: {unit: "1", count: log.count(speed > kph(18.0)), includes: [cold]}
`, logs)
	if err != nil {
		t.Fatal(err)
	}
	var said []string
	for _, c := range got {
		said = append(said, fmt.Sprintf("%s %.4g %s", c.Meter, c.Low, c.Unit))
	}
	// The trapezoids of four seconds and the last sample's own second.
	one := got[0].Low / 3
	want := fmt.Sprintf("all %.4g m|road %.4g km|stood 0 ", 3*one, 2*one/1000)
	if s := strings.Join(said, "|"); s != want || one < 40 || one > 50 {
		t.Errorf("got %s, want %s", s, want)
	}
}

// A meter whose channel was lost says between what it lies, and why.
func TestMeterUnseen(t *testing.T) {
	nan := math.NaN()
	got, err := metersOf(t, "meters:\n  on: {unit: s, count: log.total(speed > kph(18.0))}\n",
		map[string]*kernel.Log{"run": rows(t, map[string][]float64{"speed": {10, 10, nan, nan, 10, 1}})})
	if err != nil {
		t.Fatal(err)
	}
	if c := got[0]; c.Low != 3 || c.High != 5 || !strings.Contains(c.Unseen, "speed") {
		t.Errorf("%v to %v, unseen %q; want 3 to 5, speed", c.Low, c.High, c.Unseen)
	}
}

func TestMeterFaults(t *testing.T) {
	for _, c := range []struct{ definition, want string }{
		{"{unit: h, count: log.integral(speed)}", "meters.yaml:2:23: m counts length, and its unit is one of time"},
		{"{unit: km, count: log.integral(sped)}", "meters.yaml:2:37: there is no name"},
		{`{unit: "1", count: 'log.damage(stress, curve)'}`, "m has no stress-life line"},
		{`{unit: km, count: 'log.damage(stress, curve)', curve: {points: [[1e3, 900 MPa], [1e6, 200 MPa]], source: x}}`, "m counts damage, which has no unit"},
		{`{unit: "1", count: 'log.damage(speed, curve)', curve: {points: [[1e3, 900 MPa], [1e6, 200 MPa]], source: x}}`, "m counts speed, and its unit is one of"},
		{`{unit: "1", count: 'log.damage(stres, curve)', curve: {points: [[1e3, 900 MPa], [1e6, 200 MPa]], source: x}}`, "meters.yaml:2:37: there is no name"},
		{`{unit: "1", count: 'log.damage(stress, curve)', curve: {points: [[1e3, 900 MPa]], source: x}}`, "a stress-life line has at least two points"},
	} {
		_, err := metersOf(t, "meters:\n  m: "+c.definition+"\n", nil)
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %s", c.definition, err, c.want)
		}
	}
}

// The digest holds what decides the count and nothing else.
func TestMeterDigest(t *testing.T) {
	of := func(definition string) string {
		got, err := metersOf(t, "meters:\n  m: "+definition+"\n", map[string]*kernel.Log{"run": rows(t, map[string][]float64{"speed": {1, 2}})})
		if err != nil {
			t.Fatal(err)
		}
		return got[0].By
	}
	first := of("{unit: km, count: log.integral(speed)}")
	for _, same := range []string{"{unit: km, count: 'log.integral(speed)', label: road}", "{count: log.integral(speed), unit: km}"} {
		if of(same) != first {
			t.Errorf("%s has another digest", same)
		}
	}
	for _, other := range []string{"{unit: m, count: log.integral(speed)}", "{unit: km, count: log.integral(speed), includes: [run]}", "{unit: km, count: 'log.integral(speed, speed > kph(3.6))'}"} {
		if of(other) == first {
			t.Errorf("%s has the same digest", other)
		}
	}
}
