package readiness

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"sync/atomic"
	"testing"
	"testing/fstest"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/demo"
	"github.com/paintmark/paintmark/internal/runlog"
)

// bareCar is a car whose channels.yaml says nothing by which a channel that stands still would be found.
func bareCar(t *testing.T, folder fstest.MapFS) fstest.MapFS {
	t.Helper()
	file := filepath.Join(t.TempDir(), "channels.yaml")
	if err := os.WriteFile(file, folder["channels.yaml"].Data, 0o644); err != nil {
		t.Fatal(err)
	}
	saysNothing(t, file)
	data, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	out := fstest.MapFS{}
	for name, f := range folder {
		out[name] = f
	}
	out["channels.yaml"] = &fstest.MapFile{Data: data}
	return out
}

// stillHidesNothing takes each change that turns a rule over the log and, on a car with bare channels, lets one channel after
// the other that the rule reads stand still over the whole run: what was no pass is none then either. One
// way to stand still for each channel, and all with PAINTMARK_SWEEP=whole.
func stillHidesNothing(t *testing.T, b *bench, healthy fstest.MapFS, flips []flip) {
	bare := bareCar(t, healthy)
	type frost struct {
		flip    flip
		looked  looked
		channel *runlog.Channel
		how     spoiling
		raw     *runlog.Raw
	}
	var all []frost
	for k, f := range flips {
		folder, faults := bare, []demo.Fault(nil)
		if f.fault != "" {
			faults = f.faults()
		} else {
			folder = f.change(t, bare)
		}
		if l := b.look(t, folder, faults); l.rules[f.rule].AnsweredBy("run") {
			if outcome, says := l.worstOf(t, f.rule); outcome == check.Pass || outcome == check.NotApplicable {
				t.Errorf("%s: with bare channels %s comes to %s (%s)", f.pos, f.rule, outcome, says)
			}
			raw := b.log(t, faults)
			for i, ch := range l.reads(t, folder, f.rule) {
				for n, how := range stuck {
					if raw.Column(ch.InLog) == nil {
						continue // is not logged under that name: the change itself
					}
					if os.Getenv("PAINTMARK_SWEEP") == "whole" || n == (k+i)%len(stuck) {
						all = append(all, frost{f, l, ch, how, raw})
					}
				}
			}
		}
	}
	var hidden atomic.Int32
	onAllProcessors(len(all), func(i int) {
		x := all[i]
		raw := (&loggedCar{raw: x.raw}).spoil(x.channel, x.how)
		ev := *x.looked.ev
		ev.Logs = x.looked.over(t, raw)
		if outcome, says := (looked{x.looked.fitted, &ev}).worstOf(t, x.flip.rule); outcome == check.Pass || outcome == check.NotApplicable {
			hidden.Add(1)
			t.Errorf("%s: %s with %s %s comes to %s (%s)", x.flip.pos, x.flip.rule, x.channel.Name, x.how.name, outcome, says)
		}
	})
	t.Logf("%d changes, %d hide what was found", len(all), hidden.Load())
}

// reads are the channels that a rule reads, also through derived names.
func (l looked) reads(t *testing.T, folder fstest.MapFS, rule string) (out []*runlog.Channel) {
	t.Helper()
	f, faults := car.OpenFS(folder)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	e, ok := l.rules[rule].Explain(context.Background(), l.ev, l.rules[rule].Judge(context.Background(), l.ev)[0].Position)
	if !ok {
		t.Fatalf("%s does not explain itself", rule)
	}
	var texts []string
	for _, p := range e.Parts {
		texts = append(texts, p.Text)
	}
	names := func(name, text string) bool { return regexp.MustCompile(`\b` + name + `\b`).MatchString(text) }
	for i := 0; i < len(texts); i++ {
		for _, d := range f.Derived {
			if text := d.Text.Text; names(d.Name, texts[i]) && !slices.Contains(texts, text) {
				texts = append(texts, text)
			}
		}
	}
	for i := range l.channels {
		if slices.ContainsFunc(texts, func(text string) bool { return names(l.channels[i].Name, text) }) {
			out = append(out, &l.channels[i])
		}
	}
	return out
}

// No channel of a sound car stands still over a run, so nothing is found on one, whatever its channels.yaml says.
func TestNothingSoundStandsStill(t *testing.T) {
	if testing.Short() {
		t.Skip("runs the vehicle model five times")
	}
	tern, none := car.Open(tern3)
	fallow, nor := car.Open("../../testdata/cars/fallow-9")
	if len(none)+len(nor) > 0 {
		t.Fatal(none, nor)
	}
	for _, of := range []struct {
		run demo.Run
		car *car.Folder
	}{{demo.Run55(), tern}, {demo.Run56(), tern}, {demo.Run57(), tern}, {demo.HealthyRun57(), tern}, {demo.FallowRun(), fallow}} {
		channels := logChannels(of.car)
		for i := range channels {
			channels[i].MovesWith, channels[i].Pair, channels[i].Still = nil, "", 0
		}
		raw, faults := runlog.ReadFrom(t.Context(), bytes.NewReader(of.run.Record().CSV()), runlog.Options{Name: "run.csv"})
		if len(faults) > 0 {
			t.Fatal(faults)
		}
		log, faults := runlog.Clean(raw, channels)
		if len(faults) > 0 || len(log.Columns) < 10 {
			t.Fatalf("%d columns; %v", len(log.Columns), faults)
		}
		if dead := runlog.FindStill(log, channels); len(dead) > 0 {
			t.Errorf("run %d: %v", of.run.Number, dead)
		}
	}
}

// What is said of a channel that stood still names what it read, what moved, and what to say if it was right.
func TestStillIsNamed(t *testing.T) {
	if testing.Short() {
		t.Skip("looks as others do, at another log")
	}
	dir := t.TempDir()
	if err := demo.Write(dir, false); err != nil {
		t.Fatal(err)
	}
	saysNothing(t, filepath.Join(dir, "channels.yaml"))
	s := openLogged(t, dir, 57)
	channels := logChannels(s.car.folder)
	i := slices.IndexFunc(channels, func(c runlog.Channel) bool { return c.Name == "gearbox_temp" })
	look := s.look(t, s.spoil(&channels[i], frozen("at 104 °C", func([]float64, float64, float64) float64 { return 104 })))
	const why = "stood still at 104 °C all run while lat_g moved"
	want := "gearbox_temp: " + why + "; not believed from 0.00 to 95.68 s; if it may, say how long with still, or what it moves with, in channels.yaml"
	if !slices.Contains(look.Remarks, want) {
		t.Errorf("remarks %q, want %q among them", look.Remarks, want)
	}
	it := itemOf(t, look, "gearbox.oil-temp")
	if it.Outcome != check.NoData || !slices.ContainsFunc(it.Unseen, func(u check.Unseen) bool { return u.Channel == "gearbox_temp" && u.Why == why }) {
		t.Errorf("%s, %s, unseen %+v", it.Outcome, it.Message, it.Unseen)
	}
	// Said that it may, it is believed.
	ch := channels[i]
	ch.Still = 600
	channels[i] = ch
	log, faults := cleanLog(s.spoil(&ch, frozen("at 104 °C", func([]float64, float64, float64) float64 { return 104 })), wantedLog{kind: "run"}, channels)
	if len(faults) > 0 || len(log.dead) > 0 {
		t.Errorf("%v %v", faults, log.dead)
	}
}
