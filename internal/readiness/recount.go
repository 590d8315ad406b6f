package readiness

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/kernel"
	"github.com/paintmark/paintmark/internal/source"
)

// Recounted is one run whose meters were counted again from its logs.
type Recounted struct {
	Run     int
	Record  *car.Record
	Counted []Counted
	// Absent names the logs that are not at hand; then nothing was counted.
	Absent []string
}

// Recount counts the meters of runs again, from the logs their sheets name, by the
// definitions as they are now. Runs without a log are left out; no runs given means all.
func Recount(ctx context.Context, folder *car.Folder, dir string, options Options, runs []int) ([]Recounted, source.Faults) {
	graph := kernel.NewGraph()
	set, faults := newMeters(folder, graph)
	if len(faults) > 0 {
		return nil, faults
	}
	roots := folder.Roots(folder.AsOf)
	own := logger{folder.Logger.Serial, folder.Logger.Car, folder.Logger.RunCounter}
	var out []Recounted
	for _, r := range folder.Runs() {
		no := int(r.Body.Get("no").Int)
		wanted := newestLogs(folder, no)
		if len(runs) > 0 && !slices.Contains(runs, no) || len(wanted) == 0 {
			continue
		}
		done := Recounted{Run: no, Record: r}
		var logs []meterLog
		for _, w := range wanted {
			path := filepath.Join(options.Logs, filepath.FromSlash(w.file))
			if !filepath.IsAbs(options.Logs) {
				path = filepath.Join(dir, path)
			}
			if _, err := os.Stat(path); err != nil {
				done.Absent = append(done.Absent, w.file)
				continue
			}
			log, more := openLog(ctx, path, w, own, logChannels(folder), options, false)
			faults = append(faults, more...)
			if log == nil {
				done.Absent = append(done.Absent, w.file)
				continue
			}
			logs = append(logs, newMeterLog(w.kind, graph, log.data))
		}
		if len(done.Absent) == 0 {
			var more source.Faults
			done.Counted, more = set.count(ctx, roots, logs)
			faults = append(faults, more...)
		}
		out = append(out, done)
		if ctx.Err() != nil {
			faults.Add(source.Pos{File: r.File}, fmt.Sprintf("stopped at run %d", no), "run it again")
			break
		}
	}
	return out, faults.Sorted()
}
