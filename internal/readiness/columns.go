package readiness

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"sync"

	"github.com/apache/arrow-go/v18/arrow"
	"github.com/apache/arrow-go/v18/arrow/array"
	"github.com/apache/arrow-go/v18/arrow/ipc"
	"github.com/apache/arrow-go/v18/arrow/memory"

	"github.com/paintmark/paintmark/internal/kernel"
	"github.com/paintmark/paintmark/internal/runlog"
	pluginv1 "github.com/paintmark/paintmark/schemas/plugin/v1"
)

// columnFiles are the channels of one log as plugins read them, one Arrow file each: as the cache
// keeps them, in logger units with how to make SI of them, or written in SI where it does not. Either
// way the spans that must not be believed are said beside them, and the same numbers come of it.
type columnFiles struct {
	mu       sync.Mutex
	folder   func() (string, error) // private, for what has to be written
	log      *openedLog
	cache    *runlog.Cache
	channels []runlog.Channel

	times   string
	done    map[string]*pluginv1.Column
	kept    map[string]os.FileInfo // files of the cache that were handed over
	written int
}

// lost says that the files a log was handed over with are not what they were: another process made room in the cache
// before they were opened. From then on every channel is written instead.
func (f *columnFiles) lost(handed *pluginv1.Log) bool {
	f.mu.Lock()
	defer f.mu.Unlock()
	for path, was := range f.kept {
		if is, err := os.Stat(path); err != nil || !os.SameFile(was, is) {
			f.cache, f.kept, f.times = nil, nil, ""
			break
		}
	}
	return f.times != handed.GetTimes()
}

// hold notes a file of the cache that is handed over.
func (f *columnFiles) hold(path string) (ok bool) {
	info, err := os.Stat(path)
	if err != nil {
		return false
	}
	if f.kept == nil {
		f.kept = map[string]os.FileInfo{}
	}
	f.kept[path] = info
	return true
}

// hand gives a log with these channels; those it does not hold are left out.
func (f *columnFiles) hand(kind string, run int, names []string) (*pluginv1.Log, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.times == "" {
		times, kept := f.cache.Times(f.log.sha256)
		if !kept || !f.hold(times) {
			var err error
			if times, err = f.write(&kernel.Column{Values: f.log.data.AllTimes()}); err != nil {
				return nil, err
			}
		}
		f.times, f.done = times, map[string]*pluginv1.Column{}
	}
	out := &pluginv1.Log{Kind: kind, Run: int32(run), End: f.log.data.End, Times: f.times}
	for _, n := range names {
		c := f.log.data.Columns[n]
		if c == nil {
			continue
		}
		if f.done[n] == nil {
			column, err := f.column(n, c)
			if err != nil {
				return nil, err
			}
			f.done[n] = column
		}
		out.Columns = append(out.Columns, f.done[n])
	}
	return out, nil
}

// column is a channel as it is handed over.
func (f *columnFiles) column(name string, c *kernel.Column) (*pluginv1.Column, error) {
	out := &pluginv1.Column{Name: name, Scale: 1, Period: c.Period, Hold: c.Hold, Within: c.Within}
	for _, g := range c.Gaps {
		out.Unseen = append(out.Unseen, &pluginv1.Span{Channel: name, From: g.From, To: g.To, Why: g.Why})
	}
	if i := slices.IndexFunc(f.channels, func(ch runlog.Channel) bool { return ch.Name == name }); i >= 0 {
		if file, kept := f.cache.File(f.log.sha256, &f.channels[i]); kept && f.hold(file.Path) {
			out.Path, out.Scale, out.Offset = file.Path, file.Scale, file.Offset
			return out, nil
		}
	}
	var err error
	out.Path, err = f.write(c)
	return out, err
}

// write writes a column in SI.
func (f *columnFiles) write(c *kernel.Column) (path string, err error) {
	folder, err := f.folder()
	if err != nil {
		return "", err
	}
	path = filepath.Join(folder, fmt.Sprintf("%d.arrow", f.written))
	f.written++
	return path, writeArrow(path, c.SI(), c.Bad, c.Rows)
}

// writeArrow writes numbers to an Arrow IPC file: null where their bit of bad is set, with the
// row each stands in where they are not in every row.
func writeArrow(name string, values []float64, bad []uint64, rows []int32) error {
	b := array.NewFloat64Builder(memory.DefaultAllocator)
	defer b.Release()
	var valid []bool
	if bad != nil {
		valid = make([]bool, len(values))
		for i := range values {
			valid[i] = bad[i/64]>>(i%64)&1 == 0
		}
	}
	b.AppendValues(values, valid)
	fields := []arrow.Field{{Name: "value", Type: arrow.PrimitiveTypes.Float64, Nullable: true}}
	columns := []arrow.Array{b.NewArray()}
	if rows != nil {
		r := array.NewInt32Builder(memory.DefaultAllocator)
		defer r.Release()
		r.AppendValues(rows, nil)
		fields = append(fields, arrow.Field{Name: "row", Type: arrow.PrimitiveTypes.Int32})
		columns = append(columns, r.NewArray())
	}
	schema := arrow.NewSchema(fields, nil)
	out, err := os.OpenFile(name, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	w, err := ipc.NewFileWriter(out, ipc.WithSchema(schema))
	if err == nil {
		err = w.Write(array.NewRecordBatch(schema, columns, int64(len(values))))
		if closed := w.Close(); err == nil {
			err = closed
		}
	}
	if closed := out.Close(); err == nil {
		err = closed
	}
	return err
}

// channelNames are all channels of a log, sorted.
func channelNames(l *kernel.Log) []string {
	var out []string
	for n := range l.Columns {
		out = append(out, n)
	}
	slices.Sort(out)
	return out
}
