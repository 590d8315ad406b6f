package readiness

import (
	"context"
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/expr"
	"github.com/paintmark/paintmark/internal/kernel"
	"github.com/paintmark/paintmark/internal/pack"
	"github.com/paintmark/paintmark/internal/runlog"
	"github.com/paintmark/paintmark/internal/source"
)

// wantedLog is a log as a run sheet names it, or one given by hand.
type wantedLog struct {
	file   string // as the sheet writes it; a path where it was given by hand
	sha256 string // "" where it was given by hand
	kind   string // run | warm-up | stands | cold | return
	run    int
	count  string     // what the logger counted this run as, "" where the sheet does not say
	pos    source.Pos // of the digest in the run sheet
}

// logger is who this car's logs come from.
type logger struct {
	serial, car string
	counter     string // name of the run counter in the log
}

// openedLog is a log that may answer.
type openedLog struct {
	wantedLog
	file   string
	sha256 string
	// counter is the number the logger itself gave this run, "" where it gives none.
	counter string
	// data is without the spans in dead.
	data *kernel.Log
	dead []runlog.Dead
	// pairs is with those of them in which a declared pair differs, for who judges the pair; nil
	// where none does.
	pairs *kernel.Log
	// remarks are what was wrong inside a log that is of use all the same.
	remarks []string
}

// openLog reads one log, makes sure that it is the one that is meant and of this car, and
// takes away what must not be believed. A log with faults of its own answers nothing.
//
// Where rehash is false a log that lies as it lay keeps the digest it had.
func openLog(ctx context.Context, path string, want wantedLog, own logger, channels []runlog.Channel, options Options, rehash bool) (*openedLog, source.Faults) {
	name := filepath.Base(want.file)
	var faults source.Faults
	stored, err := options.Cache.Digest(path, rehash)
	sum := stored.SHA256
	if err != nil {
		faults.Add(source.Pos{File: name}, "the log cannot be read: "+reason(err), "look at the file and its rights")
		return nil, faults
	}
	if want.sha256 != "" && !strings.EqualFold(sum, want.sha256) {
		faults.Add(want.pos, fmt.Sprintf("%s is not the log this sheet means: its SHA-256 starts %s", name, sum[:12]),
			"bring the right file, or correct the sheet with a record of its own")
		return nil, faults
	}
	raw, faults := options.Cache.Read(ctx, stored, runlog.Options{Name: name, Progress: options.Progress, Only: namesInLog(channels, own.counter)})
	if len(faults) > 0 {
		return nil, faults
	}
	if faults := own.identify(raw, want); len(faults) > 0 {
		return nil, faults
	}
	log, faults := cleanLog(raw, want, channels)
	log.file, log.sha256, log.counter = name, sum, raw.Identity(own.counter).Run.Value
	return log, faults
}

// cleanLog takes away what must not be believed: single samples first, then the spans in
// which a sensor was dead. Whoever else knows of dead spans adds them here, before anything
// is asked of the log.
func cleanLog(raw *runlog.Raw, want wantedLog, channels []runlog.Channel) (*openedLog, source.Faults) {
	data, faults := runlog.Clean(raw, channels)
	dead := runlog.FindDead(data, channels)
	if want.kind == "run" {
		dead = append(dead, runlog.FindStill(data, channels)...)
		slices.SortStableFunc(dead, func(a, b runlog.Dead) int { return strings.Compare(a.Channel, b.Channel) })
	}
	out := &openedLog{wantedLog: want, data: runlog.TakeAway(data, dead), dead: dead, remarks: append(remarks(raw), notBelieved(dead)...)}
	if alone := slices.DeleteFunc(slices.Clone(dead), func(d runlog.Dead) bool { return d.Pair }); want.kind == "run" && len(alone) < len(dead) {
		out.pairs = runlog.TakeAway(data, alone)
	}
	return out, faults
}

// letAnswer puts a log into the evidence of a look, and beside it, where a declared pair differs too far to be
// believed, the same log with both as they read: to that only a rule turns that judges the pair.
func (c *Car) letAnswer(log *openedLog) {
	put := func(l *openedLog) {
		runner := kernel.NewRunner(c.graph, l.data, kernel.Options{})
		c.logs, c.runners = append(c.logs, l), append(c.runners, runner)
		c.evidence.Logs = append(c.evidence.Logs, pack.Log{Kind: l.kind, Answers: expr.OnLog(runner), From: check.From{Kind: "log", Run: l.run}})
	}
	put(log)
	if log.pairs != nil {
		with := *log
		with.kind, with.data, with.pairs = pack.Pairs, log.pairs, nil
		put(&with)
	}
}

// notBelieved says which channels were dead, each with its first span: also one that no rule
// leans on is a sensor to mend.
func notBelieved(dead []runlog.Dead) []string {
	var out []string
	for i := 0; i < len(dead); {
		d, n := dead[i], 0
		for i < len(dead) && dead[i].Channel == d.Channel {
			i, n = i+1, n+1
		}
		words := fmt.Sprintf("%s: %s; not believed from %.2f to %.2f s", d.Channel, d.Why, d.From, d.To)
		if n > 1 {
			words += fmt.Sprintf(", and %s more", times(n-1))
		}
		if d.Unless != "" {
			words += "; " + d.Unless
		}
		out = append(out, words)
	}
	return out
}

// namesInLog are the columns that channels are read from, and the logger's run counter.
func namesInLog(channels []runlog.Channel, counter string) []string {
	names := make([]string, 0, len(channels)+1)
	for i := range channels {
		names = append(names, channels[i].InLog)
	}
	return append(names, counter)
}

// identify refuses a log of another logger, car or run.
func (l logger) identify(raw *runlog.Raw, want wantedLog) source.Faults {
	id := raw.Identity(l.counter)
	var faults source.Faults
	differs := func(m runlog.Meta, want, what, remedy string) {
		if want != "" && m.Value != "" && m.Value != want {
			faults.Add(m.Pos, fmt.Sprintf("this log is of %s %s, not %s", what, m.Value, want), remedy)
		}
	}
	const another = "another car's log? bring this car's, or correct channels.yaml"
	differs(id.Serial, l.serial, "logger", another)
	differs(id.Car, l.car, "car", another)
	differs(id.Run, want.count, "the logger's run", fmt.Sprintf("bring the log of run %d, or correct its run sheet", want.run))
	return faults
}

// remarks says what was left out of a log, by kind, with the first line of each.
func remarks(raw *runlog.Raw) []string {
	var kinds []runlog.FaultKind
	count, first := map[runlog.FaultKind]int{}, map[runlog.FaultKind]int{}
	for _, f := range raw.Faults {
		if count[f.Kind] == 0 {
			kinds = append(kinds, f.Kind)
			first[f.Kind] = f.Line
		}
		count[f.Kind] += 1 + f.More
	}
	var out []string
	for _, k := range kinds {
		out = append(out, fmt.Sprintf("%s: %s %s, first in line %d", raw.File, k, times(count[k]), first[k]))
	}
	return out
}

func times(n int) string {
	if n == 1 {
		return "once"
	}
	return fmt.Sprintf("%d times", n)
}
