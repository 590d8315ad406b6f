package readiness

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/kernel"
	"github.com/paintmark/paintmark/internal/runlog"
	"github.com/paintmark/paintmark/internal/source"
)

// BroughtLog is a log that somebody brings for a run.
type BroughtLog struct{ Kind, Path string }

// TakenLog is a brought log as its run sheet names it.
type TakenLog struct {
	File    string // in the log folder, with forward slashes
	SHA256  string
	Kind    string
	Counter string // what the logger counted this run as, "" where it does not
}

// Taken is what the logs of a new run came to.
type Taken struct {
	Logs    []TakenLog
	Counted []Counted
	Remarks []string // what was left out of the logs

	opened []*openedLog
}

// TakeIn opens the logs of a new run and counts its meters. It refuses a log of another car
// or logger, one that stands on a run sheet already (the same bytes, or the same run of the
// logger exported again), and one outside the log folder, which no sheet could name. It
// always hashes the whole file, and writes nothing.
func TakeIn(ctx context.Context, folder *car.Folder, dir string, options Options, brought []BroughtLog) (*Taken, source.Faults) {
	graph := kernel.NewGraph()
	set, faults := newMeters(folder, graph)
	if len(faults) > 0 {
		return nil, faults
	}
	own := logger{folder.Logger.Serial, folder.Logger.Car, folder.Logger.RunCounter}
	taken := &Taken{}
	var logs []meterLog
	for _, b := range brought {
		name, ok := inLogFolder(dir, options.Logs, b.Path)
		if !ok {
			faults.Add(source.Pos{File: filepath.Base(b.Path)}, "this log is not in the log folder, "+filepath.ToSlash(options.Logs), "put it there; a run sheet names logs by their place in that folder")
			continue
		}
		log, more := openLog(ctx, b.Path, wantedLog{file: b.Path, kind: b.Kind}, own, logChannels(folder), options, true)
		faults = append(faults, more...)
		if log == nil {
			continue
		}
		t := TakenLog{File: name, SHA256: log.sha256, Kind: b.Kind, Counter: log.counter}
		if what := onASheet(folder, t); what != "" {
			faults.Add(source.Pos{File: log.file}, what, "each log is taken in once; correct the sheet if it is wrong")
			continue
		}
		if slices.ContainsFunc(taken.Logs, func(o TakenLog) bool { return o.SHA256 == t.SHA256 }) {
			faults.Add(source.Pos{File: log.file}, "this log is given twice", "leave one out")
			continue
		}
		taken.Logs = append(taken.Logs, t)
		taken.Remarks = append(taken.Remarks, log.remarks...)
		taken.opened = append(taken.opened, log)
		logs = append(logs, newMeterLog(b.Kind, graph, log.data))
	}
	if len(faults) > 0 || len(logs) == 0 {
		return taken, faults.Sorted()
	}
	taken.Counted, faults = set.count(ctx, folder.Roots(folder.AsOf), logs)
	return taken, faults.Sorted()
}

// inLogFolder is a log's name inside the log folder, which may have folders of its own.
func inLogFolder(dir, logs, path string) (string, bool) {
	if !filepath.IsAbs(logs) {
		logs = filepath.Join(dir, filepath.FromSlash(logs))
	}
	absolute, err1 := filepath.Abs(logs)
	file, err2 := filepath.Abs(path)
	if err1 != nil || err2 != nil {
		return "", false
	}
	name, err := filepath.Rel(absolute, file)
	if err != nil || !filepath.IsLocal(name) {
		return "", false
	}
	return filepath.ToSlash(name), true
}

// onASheet says which run sheet a log stands on already, "" where on none. The warm-up and
// the run of one outing may share the logger's number, never two of one kind.
func onASheet(folder *car.Folder, t TakenLog) string {
	for _, r := range folder.Runs() {
		no := known(r.Body.Get("no"))
		for _, l := range r.Body.Get("logs").Items {
			kind := known(l.Get("kind"))
			if kind == "" {
				kind = "run"
			}
			switch {
			case strings.EqualFold(known(l.Get("sha256")), t.SHA256):
				return fmt.Sprintf("this log was taken in with run %s (%s)", no, r.File)
			case t.Counter != "" && known(l.Get("counter")) == t.Counter && kind == t.Kind:
				return fmt.Sprintf("the logger's run %s was taken in as run %s (%s), from other bytes: the same run exported again", t.Counter, no, r.File)
			}
		}
	}
	return ""
}

// NotTakenIn lists the logs of a folder that no run sheet names, by the number the logger
// gave each, which is the number of the run. A log without such a number is a fault, and so
// are two logs of one number: nobody knows then which run they are of.
func NotTakenIn(ctx context.Context, folder *car.Folder, dir string, options Options, from string) (runs []int, logs map[int]BroughtLog, faults source.Faults) {
	entries, err := os.ReadDir(from) // sorted
	if err != nil {
		faults.Add(source.Pos{File: filepath.Base(from)}, "the folder cannot be read: "+reason(err), "look at its name")
		return nil, nil, faults
	}
	named := map[string]bool{}
	for _, r := range folder.Runs() {
		for _, l := range r.Body.Get("logs").Items {
			named[strings.ToLower(known(l.Get("sha256")))] = true
		}
	}
	logs = map[int]BroughtLog{}
	for _, e := range entries {
		if e.IsDir() || strings.HasPrefix(e.Name(), ".") {
			continue
		}
		path := filepath.Join(from, e.Name())
		sum, err := runlog.Digest(path)
		if err != nil {
			faults.Add(source.Pos{File: e.Name()}, "the log cannot be read: "+reason(err), "look at the file and its rights")
			continue
		}
		if named[sum] {
			continue
		}
		raw, more := runlog.Read(ctx, path, runlog.Options{Name: e.Name(), Progress: options.Progress})
		if len(more) > 0 {
			faults = append(faults, more...)
			continue
		}
		count := raw.Identity(folder.Logger.RunCounter).Run
		no, err := strconv.Atoi(strings.TrimSpace(count.Value))
		if err != nil || no < 1 {
			faults.Add(source.Pos{File: e.Name()}, "this log does not say which run it is of", "take it in by itself: paintmark in RUN "+e.Name())
			continue
		}
		if other, ok := logs[no]; ok {
			faults.Add(source.Pos{File: e.Name()}, fmt.Sprintf("%s is of the logger's run %d too", filepath.Base(other.Path), no), "take them in by themselves, with their kinds: paintmark in RUN run=FILE warm-up=FILE")
			continue
		}
		logs[no] = BroughtLog{Kind: "run", Path: path}
		runs = append(runs, no)
	}
	slices.Sort(runs)
	return runs, logs, faults.Sorted()
}
