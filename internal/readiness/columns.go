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
	pluginv1 "github.com/paintmark/paintmark/schemas/plugin/v1"
)

// columnFiles are the channels of one log as plugins read them: cleaned, in SI, one Arrow file
// each, written when the first check asks for it.
type columnFiles struct {
	mu     sync.Mutex
	folder string
	log    *kernel.Log
	times  string
	done   map[string]*pluginv1.Column
}

// hand gives a log with these channels; those it does not hold are left out.
func (f *columnFiles) hand(kind string, run int, names []string) (*pluginv1.Log, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.times == "" {
		name := filepath.Join(f.folder, "times.arrow")
		if err := writeArrow(name, f.log.Times, nil, nil); err != nil {
			return nil, err
		}
		f.times, f.done = name, map[string]*pluginv1.Column{}
	}
	out := &pluginv1.Log{Kind: kind, Run: int32(run), End: f.log.End, Times: f.times}
	for _, n := range names {
		c := f.log.Columns[n]
		if c == nil {
			continue
		}
		if f.done[n] == nil {
			file := filepath.Join(f.folder, fmt.Sprintf("%d.arrow", len(f.done)))
			if err := writeArrow(file, c.Values, c.Bad, c.Rows); err != nil {
				return nil, err
			}
			column := &pluginv1.Column{Name: n, Path: file, Scale: 1, Period: c.Period, Hold: c.Hold}
			for _, g := range c.Gaps {
				column.Unseen = append(column.Unseen, &pluginv1.Span{Channel: n, From: g.From, To: g.To, Why: g.Why})
			}
			f.done[n] = column
		}
		out.Columns = append(out.Columns, f.done[n])
	}
	return out, nil
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
