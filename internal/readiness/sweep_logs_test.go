package readiness

import (
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"sort"
	"strings"
	"sync"
	"testing"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/demo"
	"github.com/paintmark/paintmark/internal/runlog"
	"github.com/paintmark/paintmark/internal/units"
)

// spoiling is one way to spoil a logged column.
type spoiling struct {
	name string
	do   func(c *runlog.Column, low, high float64) // ends of its declared range, in the unit of the log
}

func frozen(name string, at func(sorted []float64, low, high float64) float64) spoiling {
	return spoiling{name, func(c *runlog.Column, low, high float64) {
		v := at(slices.Sorted(slices.Values(c.Values)), low, high)
		c.Values, c.Bad = slices.Repeat([]float64{v}, len(c.Values)), nil
	}}
}

// stuck are spoilings after which no fail may turn into a pass.
var stuck = []spoiling{
	frozen("frozen at its median", func(v []float64, _, _ float64) float64 { return v[len(v)/2] }),
	frozen("frozen at zero", func(_ []float64, _, _ float64) float64 { return 0 }),
	frozen("frozen at the low end", func(_ []float64, low, _ float64) float64 { return low }),
	frozen("frozen at the high end", func(_ []float64, _, high float64) float64 { return high }),
	{"cut off half way", func(c *runlog.Column, _, _ float64) { keep(c, len(c.Values)/2) }},
}

// subtle are those that only a deeper look at the sensor can find; what they hide is listed.
var subtle = []spoiling{
	{"noise", func(c *runlog.Column, _, _ float64) {
		sorted := slices.Sorted(slices.Values(c.Values))
		src, least, most := rand.New(rand.NewPCG(57, uint64(len(c.Name)))), sorted[0], sorted[len(sorted)-1]
		whole := !slices.ContainsFunc(sorted, func(v float64) bool { return v != float64(int(v)) }) && most-least < 20
		c.Values = slices.Clone(c.Values)
		for i := range c.Values {
			if c.Values[i] = least + (most-least)*src.Float64(); whole {
				c.Values[i] = least + float64(src.IntN(int(most-least)+1))
			}
		}
	}},
	{"late by 0.2 s", func(c *runlog.Column, _, _ float64) {
		late := max(1, int(0.2/c.Step+0.5))
		c.Values = append(slices.Repeat(c.Values[:1:1], late), c.Values[:len(c.Values)-late]...)
		c.Bad = nil
	}},
}

// keep drops all but the first samples of a column.
func keep(c *runlog.Column, n int) {
	rows := make([]int32, n)
	for k := range rows {
		rows[k] = int32(c.Row(k))
	}
	c.Rows, c.Values, c.Bad = rows, c.Values[:n:n], nil
}

// cutAt ends a log at a time.
func cutAt(raw *runlog.Raw, end float64) *runlog.Raw {
	out := *raw
	n := sort.SearchFloat64s(raw.Times, end)
	out.Times, out.Rows = raw.Times[:n], n
	out.Columns = slices.Clone(raw.Columns)
	for i := range out.Columns {
		c := &out.Columns[i]
		keep(c, sort.Search(len(c.Values), func(k int) bool { return c.Row(k) >= n }))
	}
	return &out
}

// loggedCar is a car and the log of a run that was its newest, as logged.
type loggedCar struct {
	car    *Car
	raw    *runlog.Raw
	run    int
	before *check.Look
}

// openLogged opens a car as it stood after a run.
func openLogged(t *testing.T, dir string, run int) *loggedCar {
	t.Helper()
	f, faults := car.Open(dir)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	sheets := f.Runs()
	i := slices.IndexFunc(sheets, func(r *car.Record) bool { return r.Body.Get("no").Int == int64(run) })
	if i < 0 {
		t.Fatalf("no sheet of run %d", run)
	}
	options := Options{Logs: "logs", Plugins: served}
	if i+1 < len(sheets) {
		options.AsOf = sheets[i].At
	}
	raw, faults := runlog.Read(t.Context(), filepath.Join(dir, "logs", known(sheets[i].Body.Get("logs").Items[0].Get("file"))), runlog.Options{})
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	s := &loggedCar{car: Open(t.Context(), dir, options), raw: raw, run: run}
	if s.car.evidence.Run != run {
		t.Fatalf("run %d answers, not %d", s.car.evidence.Run, run)
	}
	s.before = s.look(t, raw)
	return s
}

// look looks at the car with another log.
func (s *loggedCar) look(t *testing.T, raw *runlog.Raw) *check.Look {
	c := *s.car
	evidence := *s.car.evidence
	c.evidence, c.opened = &evidence, new(*s.car.opened)
	c.evidence.Logs, c.logs, c.runners = nil, nil, nil
	c.inputs, c.faults, c.remarks = nil, nil, nil
	c.plugins, c.found, c.columns, c.handed, c.handing = nil, nil, nil, nil, new(sync.Mutex)
	for _, k := range s.car.plugins {
		k := *k
		k.dead = nil
		c.plugins = append(c.plugins, &k)
	}
	log, faults := cleanLog(raw, wantedLog{kind: "run", run: s.run}, logChannels(c.folder))
	if len(faults) > 0 {
		t.Error(faults)
	}
	c.letIn(log)
	c.health(t.Context())
	look := c.Look(t.Context())
	for _, f := range look.Faults {
		t.Error(f)
	}
	for _, f := range c.columns { // written for this look alone
		if err := os.RemoveAll(filepath.Dir(f.times)); err != nil {
			t.Error(err)
		}
	}
	return look
}

// spoil is the log with one column spoiled.
func (s *loggedCar) spoil(ch *runlog.Channel, how spoiling) *runlog.Raw {
	out := *s.raw
	out.Columns = slices.Clone(s.raw.Columns)
	i := slices.IndexFunc(out.Columns, func(c runlog.Column) bool { return c.Name == ch.InLog })
	low, high := 0.0, 1.0
	if ch.Range {
		low, high = ch.Low, ch.High
		if u, err := units.Lookup(ch.Unit); err == nil {
			low, high = u.Of(low), u.Of(high)
		}
	}
	how.do(&out.Columns[i], low, high)
	return &out
}

// without is the log without a column.
func (s *loggedCar) without(ch *runlog.Channel) *runlog.Raw {
	out := *s.raw
	out.Columns = slices.DeleteFunc(slices.Clone(s.raw.Columns), func(c runlog.Column) bool { return c.Name == ch.InLog })
	return &out
}

func called(it check.Item) string { return strings.TrimSpace(it.Card.ID + " " + it.Position) }

// A sweep is one changed log, and what it may not do to an item.
type sweep struct {
	name    string
	raw     func() *runlog.Raw
	wrong   func(before, after check.Outcome) bool
	cut     bool
	removed string // the channel that is not in the log any more
}

func failPasses(before, after check.Outcome) bool {
	return before == check.Fail && (after == check.Pass || after == check.NotApplicable)
}

func improves(before, after check.Outcome) bool {
	return before != check.Pass && after == check.Pass || before != check.NotApplicable && after == check.NotApplicable
}

// sweeps are all changes of a car's log. On a healthy one a stuck sensor has no fail to hide.
func (s *loggedCar) sweeps(healthy bool) (all []sweep) {
	channels := logChannels(s.car.folder)
	for i := range channels {
		ch := &channels[i]
		all = append(all, sweep{name: ch.InLog + " removed", raw: func() *runlog.Raw { return s.without(ch) }, wrong: improves, removed: ch.Name})
		for _, how := range append(slices.Clone(stuck), subtle...) {
			if !healthy {
				all = append(all, sweep{name: ch.InLog + " " + how.name, raw: func() *runlog.Raw { return s.spoil(ch, how) }, wrong: failPasses})
			}
		}
	}
	return append(all, s.cuts()...)
}

// stuck are the run with each channel standing still, in every way.
func (s *loggedCar) stuck() (all []sweep) {
	channels := logChannels(s.car.folder)
	for i := range channels {
		for _, how := range stuck {
			all = append(all, sweep{name: channels[i].InLog + " " + how.name, raw: func() *runlog.Raw { return s.spoil(&channels[i], how) }, wrong: failPasses})
		}
	}
	return all
}

// saysNothing has channels.yaml say no more of its channels than a team starts with: nothing by which one that
// stands still would be found.
func saysNothing(t *testing.T, file string) {
	t.Helper()
	data, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	bare := regexp.MustCompile(`, (moves_with: \[[^]]*\]|pair_with: \w+|works_at: \w+|still: \w+ s)`).ReplaceAll(data, nil)
	if len(bare) == len(data) {
		t.Fatal("nothing was taken out of channels.yaml")
	}
	if err := os.WriteFile(file, bare, 0o644); err != nil {
		t.Fatal(err)
	}
}

// cuts are the run ended at ten places.
func (s *loggedCar) cuts() (all []sweep) {
	const places = 10
	for k := range places {
		at := s.raw.Times[len(s.raw.Times)-1] * float64(k+1) / (places + 1)
		all = append(all, sweep{name: fmt.Sprintf("cut at %.0f s", at), raw: func() *runlog.Raw { return cutAt(s.raw, at) }, wrong: failPasses, cut: true})
	}
	return all
}

// saysSo: an item that a cut run no longer decides says that it was not exercised. Where it was, and the log ends in
// the midst of it or a reading near its end may be either, it says how far it came, or what reads no closer.
func saysSo(message string) bool {
	return strings.Contains(message, "exercised") ||
		strings.Contains(message, "the limit lies between") && (strings.Contains(message, " or more at ") || strings.Contains(message, " reads within "))
}

// told: an item of a plugin may go with the column it is of, where the one that looks whether each channel was logged says so;
// and where its whole list cannot be made, the check says that instead.
func (s *loggedCar) told(w sweep, it check.Item, now map[string]check.Item) bool {
	if s.car.pluginCheck(it.Card.ID) == nil {
		return false
	}
	if whole, there := now[it.Card.ID]; there && whole.Outcome == check.NoData {
		return true
	}
	return w.removed != "" && slices.Contains(strings.Fields(it.Position), w.removed) && now["sensorhealth.rate "+w.removed].Outcome == check.NoData
}

// judge does one sweep and says what it hid, "change | item" each, with why that is wrong.
func (s *loggedCar) judge(t *testing.T, w sweep) map[string]string {
	hidden := map[string]string{}
	after := s.look(t, w.raw())
	now := map[string]check.Item{}
	for _, it := range after.Items {
		now[called(it)] = it
	}
	for _, it := range s.before.Items {
		n, there := now[called(it)]
		switch {
		case !there && s.told(w, it, now):
		case !there:
			hidden[w.name+" | "+called(it)] = "it vanished"
		case w.wrong(it.Outcome, n.Outcome):
			hidden[w.name+" | "+called(it)] = fmt.Sprintf("%s became %s: %s", it.Outcome, n.Outcome, n.Message)
		case w.cut && it.Outcome != check.NoData && n.Outcome == check.NoData && !saysSo(n.Message):
			hidden[w.name+" | "+called(it)] = "does not say that it was not exercised: " + n.Message
		}
	}
	order := []check.Verdict{check.Ready, check.NeedsNames, check.NoGo}
	if slices.Index(order, after.Verdict) < slices.Index(order, s.before.Verdict) {
		hidden[w.name+" | verdict"] = fmt.Sprintf("%s became %s", s.before.Verdict, after.Verdict)
	}
	return hidden
}

var update = flag.Bool("update", false, "write what the sweep over logs found into testdata/sensor-health.txt")

// TestSweepOverLogs takes away, freezes, cuts off, delays and drowns in noise each column of the newest run's log, and cuts every run
// at ten places. Nothing may hide a fail or make an item vanish; and no channel that stands still may hide
// a fail where channels.yaml does not tell what it moves with. What noise and delay do hide stands in
// testdata/sensor-health.txt: work for a deeper look at the sensors. This compares the two.
func TestSweepOverLogs(t *testing.T) {
	if testing.Short() {
		t.Skip("looks at the car two hundred times")
	}
	healthy := filepath.Join(t.TempDir(), "healthy")
	if err := demo.Write(healthy, true); err != nil {
		t.Fatal(err)
	}
	bare := filepath.Join(t.TempDir(), "bare")
	if err := demo.Write(bare, false); err != nil {
		t.Fatal(err)
	}
	saysNothing(t, filepath.Join(bare, "channels.yaml"))
	var mu sync.Mutex
	var found []string
	for _, of := range []struct {
		dir string
		run int
	}{{tern3, 57}, {bare, 57}, {healthy, 57}, {healthy, 56}, {healthy, 55}} {
		s := openLogged(t, of.dir, of.run)
		next := make(chan sweep)
		var workers sync.WaitGroup
		for range runtime.GOMAXPROCS(0) {
			workers.Go(func() {
				for w := range next {
					for what, why := range s.judge(t, w) {
						mu.Lock()
						switch {
						case of.dir == healthy:
							t.Errorf("healthy, run %d, %s: %s", of.run, what, why)
						case of.dir == bare:
							t.Errorf("with bare channels, %s: %s", what, why)
						default:
							found = append(found, what)
							t.Logf("%s: %s", what, why)
						}
						mu.Unlock()
					}
				}
			})
		}
		var all []sweep
		switch {
		case of.run != 57:
			all = s.cuts()
		case of.dir == bare:
			all = s.stuck()
		default:
			all = s.sweeps(of.dir == healthy)
		}
		for _, w := range all {
			next <- w
		}
		close(next)
		workers.Wait()
	}
	slices.Sort(found)
	const file = "../../testdata/sensor-health.txt"
	data, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	var head, known []string
	for line := range strings.Lines(string(data)) {
		if line = strings.TrimSpace(line); strings.HasPrefix(line, "#") {
			head = append(head, line)
		} else if line != "" {
			known = append(known, line)
		}
	}
	for _, line := range found {
		if !slices.ContainsFunc(subtle, func(s spoiling) bool { return strings.Contains(line, " "+s.name+" | ") }) {
			t.Errorf("%s: hidden by something plain", line)
		}
	}
	if *update {
		if err := os.WriteFile(file, []byte(strings.Join(append(head, found...), "\n")+"\n"), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if !slices.Equal(found, known) {
		t.Errorf("found\n%s\nlisted\n%s\nif that is as it should be: go test ./internal/readiness -run SweepOverLogs -update",
			strings.Join(found, "\n"), strings.Join(known, "\n"))
	}
}
