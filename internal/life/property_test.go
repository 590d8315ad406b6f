package life

import (
	"fmt"
	"io/fs"
	"maps"
	"math"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"pgregory.net/rapid"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/trade"
)

// A history is what happened to a made-up car, told twice: as a folder of records, and as
// plain sums that know nothing of the fold.
type history struct {
	files map[string]string // the folder
	clock int               // minutes since the first record
	runs  int
	count int // of records

	place  map[string]string // serial: position, "" for the shelf
	inside map[string]string
	// By hand: what each serial used of distance, and each position.
	used, filled map[string]float64
	total        float64
}

var (
	boxes    = []string{"GB-1", "GB-2", "GB-3"}
	sets     = []string{"GS-1", "GS-2", "GS-3", "GS-4"}
	engines  = []string{"E-1", "E-2"}
	allParts = slices.Concat(boxes, sets, engines)
)

func newHistory() *history {
	h := &history{files: map[string]string{}, place: map[string]string{}, inside: map[string]string{}, used: map[string]float64{}, filled: map[string]float64{}}
	h.files["car.yaml"] = "car: {name: Test}\n"
	h.files["people.yaml"] = "people: [{initials: HW, name: Hanne Wulfram, hats: [lead-engineer]}]\n"
	h.files["meters.yaml"] = "meters:\n  distance: {unit: km, by_hand: true}\n"
	h.files["positions.yaml"] = "positions:\n  - {position: gearbox, needs: gearbox}\n  - {position: engine, needs: engine}\n"
	var parts strings.Builder
	parts.WriteString("parts:\n")
	for i, s := range allParts {
		start := float64(10 * i)
		h.used[s] = start
		fmt.Fprintf(&parts, "  - {serial: %s, kind: x, no_go_part: false, limits: [{meter: distance, life: 5000 km}], at_register: {as: counted, used: {distance: %g km}}}\n", s, start)
	}
	h.files["parts.yaml"] = parts.String()
	return h
}

func (h *history) record(folder, body string) string {
	h.clock++
	h.count++
	name := fmt.Sprintf("%s/%03d.yaml", folder, h.count)
	h.files[name] = fmt.Sprintf("at: 2026-05-%02dT%02d:%02dZ\nby: HW\n%s\n", 1+h.clock/1440, h.clock/60%24, h.clock%60, body)
	return name
}

func (h *history) run(km float64) {
	h.runs++
	h.record("runs", fmt.Sprintf("run: {no: %d, meters: {distance: %g km}}", h.runs, km))
	h.total += km
	for _, s := range allParts {
		where := h.place[s]
		if parent := h.inside[s]; parent != "" {
			where = h.place[parent]
		}
		if where != "" {
			h.used[s] += km
		}
		if h.place[s] != "" {
			h.filled[h.place[s]] += km
		}
	}
}

// step does something that can be done.
func (h *history) step(t *rapid.T) {
	box, set, engine := rapid.SampledFrom(boxes).Draw(t, "box"), rapid.SampledFrom(sets).Draw(t, "set"), rapid.SampledFrom(engines).Draw(t, "engine")
	move := func(serial, position string) {
		switch {
		case h.place[serial] == position:
			h.record("fitted", fmt.Sprintf("removed: {serial: %s, from: %s}", serial, position))
			h.place[serial] = ""
		case h.place[serial] == "" && !h.holds(position):
			h.record("fitted", fmt.Sprintf("fitted: {serial: %s, position: %s}", serial, position))
			h.place[serial] = position
		}
	}
	switch rapid.IntRange(0, 3).Draw(t, "what") {
	case 0:
		move(box, "gearbox")
	case 1:
		move(engine, "engine")
	case 2:
		if h.inside[set] != "" {
			h.record("fitted", fmt.Sprintf("removed: {serial: %s, from: %s}", set, h.inside[set]))
			h.inside[set] = ""
		} else {
			h.record("fitted", fmt.Sprintf("assembled: {serial: %s, into: %s}", set, box))
			h.inside[set] = box
		}
	default:
		h.run(float64(rapid.IntRange(0, 4000).Draw(t, "metres")) / 1000)
	}
}

func (h *history) holds(position string) bool {
	return slices.Contains(slices.Collect(maps.Values(h.place)), position)
}

func folderOf(files map[string]string) fs.FS {
	fsys := fstest.MapFS{}
	for name, text := range files {
		fsys[name] = &fstest.MapFile{Data: []byte(text)}
	}
	return fsys
}

// sheetOf opens a folder that must be without fault.
func sheetOf(t interface{ Fatal(...any) }, files map[string]string) (*car.Folder, *Sheet) {
	f, faults := car.OpenFS(folderOf(files))
	s, more := Of(f, f.AsOf)
	if err := append(faults, more...).Err(); err != nil {
		t.Fatal(err)
	}
	return f, s
}

func close9(a, b float64) bool { return math.Abs(a-b) <= 1e-9*max(1, math.Abs(b)) }

// Every serial has what was posted while it was on the car, itself or inside another; and for
// each position the sum over the serials that sat in it is the car's total over the time it was filled.
func TestConservation(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := newHistory()
		for range rapid.IntRange(1, 40).Draw(t, "steps") {
			h.step(t)
		}
		_, s := sheetOf(t, h.files)
		perPosition, carTotal := map[string]float64{}, 0.0
		for _, r := range s.Runs {
			carTotal += r.Used[0].Low
		}
		if !close9(carTotal, h.total) {
			t.Fatalf("the runs came to %v, not %v", carTotal, h.total)
		}
		for _, p := range s.Parts {
			if u := p.Totals[0].Used; !close9(u.Low, h.used[p.Serial]) || u.Low != u.High {
				t.Fatalf("%s has %v to %v, by hand %v", p.Serial, u.Low, u.High, h.used[p.Serial])
			}
			for _, sp := range p.Spells {
				for _, r := range sp.Runs {
					if sp.Inside == "" {
						perPosition[sp.Position] += r.Used[0].Low
					}
				}
			}
		}
		for _, position := range []string{"gearbox", "engine"} {
			if !close9(perPosition[position], h.filled[position]) {
				t.Fatalf("the parts of %s came to %v, its filled runs to %v", position, perPosition[position], h.filled[position])
			}
			if perPosition[position] > h.total+1e-9 {
				t.Fatalf("%s ran more than the car", position)
			}
		}
	})
}

// In whatever order the files are read and whatever they are called, the sheet is the same.
func TestOrderOfRecordsPlaysNoPart(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := newHistory()
		for range rapid.IntRange(1, 30).Draw(t, "steps") {
			h.step(t)
		}
		_, s := sheetOf(t, h.files)
		var records []string
		for name := range h.files {
			if strings.Contains(name, "/") {
				records = append(records, name)
			}
		}
		slices.Sort(records)
		other := maps.Clone(h.files)
		for _, name := range records {
			delete(other, name)
		}
		for i, name := range rapid.Permutation(records).Draw(t, "names") {
			folder, _, _ := strings.Cut(name, "/")
			other[fmt.Sprintf("%s/%03d-other.yaml", folder, i)] = h.files[name]
		}
		_, again := sheetOf(t, other)
		if a, b := document(t, s), document(t, again); a != b {
			t.Fatalf("by other names the sheet is another:\n%s\n%s", a, b)
		}
	})
}

func document(t interface{ Fatal(...any) }, s *Sheet) string {
	text, err := schema.JSON(s.Value)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// A swap there and back moves only what was run between.
func TestSwapThereAndBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := newHistory()
		for range rapid.IntRange(0, 20).Draw(t, "steps") {
			h.step(t)
		}
		old := ""
		for _, b := range boxes {
			if h.place[b] == "gearbox" {
				old = b
			}
		}
		if old == "" {
			t.Skip("no gearbox on the car")
		}
		other := boxes[(slices.Index(boxes, old)+1)%len(boxes)]
		without := maps.Clone(h.files)
		swap := func(from, to string) {
			h.record("fitted", fmt.Sprintf("removed: {serial: %s, from: gearbox}", from))
			h.record("fitted", fmt.Sprintf("fitted: {serial: %s, position: gearbox}", to))
			h.place[from], h.place[to] = "", "gearbox"
		}
		swap(old, other)
		between := 0.0
		for range rapid.IntRange(0, 3).Draw(t, "runs") {
			km := float64(rapid.IntRange(1, 4000).Draw(t, "metres")) / 1000
			between += km
			h.run(km)
		}
		swap(other, old)
		h.run(1)
		_, before := sheetOf(t, without)
		_, after := sheetOf(t, h.files)
		for _, p := range after.Parts {
			grown := p.Totals[0].Used.Low - before.Part(p.Serial).Totals[0].Used.Low
			want := 0.0
			switch {
			case p.Serial == old || p.Inside == old:
				want = 1
			case p.Serial == other || p.Inside == other:
				want = between
			case p.Fitted:
				want = between + 1
			}
			if !close9(grown, want) {
				t.Fatalf("%s grew by %v, not %v", p.Serial, grown, want)
			}
		}
	})
}

// A run sheet that is there twice is refused, and a copy of every other record changes nothing.
func TestPostingTwice(t *testing.T) {
	h := newHistory()
	h.record("fitted", "fitted: {serial: GB-1, position: gearbox}")
	h.run(2.5)
	_, once := sheetOf(t, h.files)
	h.files["runs/copy.yaml"] = h.files["runs/002.yaml"]
	f, faults := car.OpenFS(folderOf(h.files))
	if err := faults.Err(); err == nil || !strings.Contains(err.Error(), "run 1 has two sheets") {
		t.Errorf("a run posted twice: %v", err)
	}
	delete(h.files, "runs/copy.yaml")
	// The same record written again has the same name and the same content.
	if file, err := car.Write(t.TempDir(), f.Set(), car.Draft{Folder: "fitted", At: f.AsOf, By: "HW", What: "x", Body: []byte("fitted: {serial: GB-1, position: gearbox}\n")}); err != nil || file == "" {
		t.Error(file, err)
	}
	_, again := sheetOf(t, h.files)
	if document(t, once) != document(t, again) {
		t.Error("the sheet is another")
	}
}

// A correction takes its record away; what was never so leaves nothing behind.
func TestCorrectionUndoes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := newHistory()
		for range rapid.IntRange(1, 20).Draw(t, "steps") {
			h.step(t)
		}
		_, before := sheetOf(t, h.files)
		var shelf []string
		for _, e := range engines {
			if h.place[e] == "" {
				shelf = append(shelf, e)
			}
		}
		if len(shelf) == 0 || h.holds("engine") {
			t.Skip("no place for an engine")
		}
		wrong := h.record("fitted", fmt.Sprintf("fitted: {serial: %s, position: engine}", shelf[0]))
		h.record("fitted", fmt.Sprintf("why: it was never in\ncorrected: {record: %s}", strings.TrimPrefix(wrong, "fitted/")))
		_, after := sheetOf(t, h.files)
		if document(t, before) != document(t, after) {
			t.Fatal("the sheet is another")
		}
	})
}

// Residues join over each serial's own runs: a part that did all runs has the closed cycles of
// one history, one that missed some those of its own, and the open cycles bound both.
func TestDamageJoins(t *testing.T) {
	line := trade.SNCurve([]trade.SNPoint{{Cycles: 1e3, Amplitude: 1e9}, {Cycles: 1e6, Amplitude: 1e7}}, 0)
	rapid.Check(t, func(t *rapid.T) {
		h := newHistory()
		h.files["meters.yaml"] = "meters:\n  arm: {unit: \"1\", count: 'log.damage(s, curve)', curve: {points: [[1e3, 1000 MPa], [1e6, 10 MPa]], source: invented}}\n"
		h.files["parts.yaml"] = "parts:\n"
		for _, s := range []string{"E-1", "E-2"} {
			h.files["parts.yaml"] += fmt.Sprintf("  - {serial: %s, kind: engine, no_go_part: false, limits: [{meter: arm, life: 1}], at_register: {as: counted, used: {arm: 0}}}\n", s)
		}
		own := map[string][]float64{}
		on := "E-1"
		h.record("fitted", "fitted: {serial: E-1, position: engine}")
		for range rapid.IntRange(1, 6).Draw(t, "runs") {
			if rapid.Bool().Draw(t, "swap") {
				other := map[string]string{"E-1": "E-2", "E-2": "E-1"}[on]
				h.record("fitted", fmt.Sprintf("removed: {serial: %s, from: engine}", on))
				h.record("fitted", fmt.Sprintf("fitted: {serial: %s, position: engine}", other))
				on = other
			}
			var mpa []string
			var samples []float64
			for range rapid.IntRange(2, 12).Draw(t, "samples") {
				v := rapid.IntRange(-40, 40).Draw(t, "stress") * 20
				samples = append(samples, float64(v)*1e6)
			}
			cycles, open := trade.ClosedCycles(samples)
			for _, s := range open {
				mpa = append(mpa, fmt.Sprintf("%g MPa", s/1e6))
			}
			h.runs++
			h.record("runs", fmt.Sprintf("run: {no: %d, meters: {arm: %v}, residues: {arm: [%s]}}", h.runs, trade.Damage(cycles, line, nil), strings.Join(mpa, ", ")))
			own[on] = append(own[on], samples...)
		}
		_, s := sheetOf(t, h.files)
		for serial, samples := range own {
			cycles, open := trade.ClosedCycles(samples)
			low := trade.Damage(cycles, line, nil)
			high := low
			for i := 1; i < len(open); i++ {
				high += 1 / line(math.Abs(open[i]-open[i-1])/2)
			}
			u := s.Part(serial).Totals[0].Used
			if !close9(u.Low, low) || !close9(u.High, high) {
				t.Fatalf("%s: %v to %v, in one history %v to %v", serial, u.Low, u.High, low, high)
			}
		}
	})
}
