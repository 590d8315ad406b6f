package sdk

import (
	"fmt"
	"math"
	"slices"
	"sync"

	"github.com/apache/arrow-go/v18/arrow"
	"github.com/apache/arrow-go/v18/arrow/array"
	"github.com/apache/arrow-go/v18/arrow/ipc"
	"google.golang.org/protobuf/proto"

	pluginv1 "github.com/paintmark/paintmark/schemas/plugin/v1"
)

// keptLog are the channels of a log that were read, by their files and by what of them nobody saw: that is the same for
// all checks, but for those before and after a span was called dead.
type keptLog struct {
	times    string // the file of its times, which no other log has
	channels sync.Map

	mu    sync.Mutex
	grids []grid
}

// grid are the times of some rows of a log. Channels that are logged as often share one.
type grid struct {
	rows  []int32
	times []float64
}

// timesOf are the times of rows.
func (l *keptLog) timesOf(rows []int32, all []float64) ([]float64, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	for _, g := range l.grids {
		if slices.Equal(g.rows, rows) {
			return g.times, nil
		}
	}
	times := make([]float64, len(rows))
	for i, row := range rows {
		if row < 0 || int(row) >= len(all) {
			return nil, fmt.Errorf("row %d is not among its %d times", row, len(all))
		}
		times[i] = all[row]
	}
	l.grids = append(l.grids, grid{rows, times})
	return times, nil
}

// keptLogs are those asked about last: more than one look has.
var keptLogs struct {
	sync.Mutex
	logs []*keptLog
}

// keptLogOf is the log of a file of times.
func keptLogOf(times string) *keptLog {
	const most = 8
	keptLogs.Lock()
	defer keptLogs.Unlock()
	log := &keptLog{times: times}
	if i := slices.IndexFunc(keptLogs.logs, func(l *keptLog) bool { return l.times == times }); i >= 0 {
		log = keptLogs.logs[i]
		keptLogs.logs = slices.Delete(keptLogs.logs, i, i+1)
	}
	keptLogs.logs = append(keptLogs.logs, log)
	if len(keptLogs.logs) > most {
		keptLogs.logs = slices.Delete(keptLogs.logs, 0, 1)
	}
	return log
}

// column is read, done once.
func (l *keptLog) column(c *pluginv1.Column) (*Channel, error) {
	whole, err := proto.MarshalOptions{Deterministic: true}.Marshal(c)
	if err != nil {
		return nil, err
	}
	read, _ := l.channels.LoadOrStore(string(whole), sync.OnceValues(func() (*Channel, error) { return l.read(c) }))
	return read.(func() (*Channel, error))()
}

// read reads a channel from its files. Where nothing has to be changed the numbers are
// those of the mapped file, and must not be written to.
func (l *keptLog) read(c *pluginv1.Column) (*Channel, error) {
	values, err := openArrow(c.GetPath())
	if err != nil {
		return nil, err
	}
	clock, err := openArrow(l.times)
	if err != nil {
		return nil, err
	}
	value, err := numbers(values, "value")
	if err != nil {
		return nil, err
	}
	at, err := numbers(clock, "value")
	if err != nil {
		return nil, err
	}
	out := &Channel{Name: c.GetName(), Values: value.Float64Values(), Times: at.Float64Values(), Within: c.GetWithin(), Period: c.GetPeriod(), Hold: c.GetHold()}
	if rows, ok := column(values, "row").(*array.Int32); ok {
		if out.Times, err = l.timesOf(rows.Int32Values(), out.Times); err != nil {
			return nil, err
		}
	}
	if len(out.Times) != len(out.Values) {
		return nil, fmt.Errorf("%d values at %d times", len(out.Values), len(out.Times))
	}
	for _, s := range c.GetUnseen() {
		out.Gaps = append(out.Gaps, Span{Channel: c.GetName(), From: s.GetFrom(), To: s.GetTo(), Why: s.GetWhy()})
	}
	if scale, offset := c.GetScale(), c.GetOffset(); scale != 1 || offset != 0 || value.NullN() > 0 || len(out.Gaps) > 0 {
		out.Values = clean(out, value, scale, offset)
	}
	return out, nil
}

// clean gives the values in SI, NaN where there was none or where nobody may believe it.
func clean(c *Channel, raw *array.Float64, scale, offset float64) []float64 {
	out := make([]float64, len(c.Values))
	for i, x := range c.Values {
		out[i] = x*scale + offset
	}
	if raw.NullN() > 0 {
		for i := range out {
			if raw.IsNull(i) {
				out[i] = math.NaN()
			}
		}
	}
	for _, g := range c.Gaps {
		for i := firstAt(c.Times, g.From); i < len(out) && c.Times[i] < g.To; i++ {
			out[i] = math.NaN()
		}
	}
	return out
}

// firstAt is the first of rising times that is not before t.
func firstAt(times []float64, t float64) int {
	i, _ := slices.BinarySearch(times, t)
	return i
}

// batches are the files that were opened, by path. What a host names stays as it is while the plugin lives, so
// that each is mapped once, however many channels share its times and however often it is asked for.
var batches sync.Map

// openArrow maps an Arrow IPC file of one record batch. It stays mapped: a plugin lives as long
// as one look.
func openArrow(path string) (arrow.RecordBatch, error) {
	open, _ := batches.LoadOrStore(path, sync.OnceValues(func() (arrow.RecordBatch, error) { return mapArrow(path) }))
	return open.(func() (arrow.RecordBatch, error))()
}

func mapArrow(path string) (arrow.RecordBatch, error) {
	data, err := mapFile(path)
	if err != nil {
		return nil, err
	}
	file, err := ipc.NewMappedFileReader(data)
	if err != nil {
		return nil, err
	}
	if n := file.NumRecords(); n != 1 {
		return nil, fmt.Errorf("%d record batches, not one", n)
	}
	return file.RecordBatchAt(0)
}

// numbers is a field of numbers.
func numbers(batch arrow.RecordBatch, field string) (*array.Float64, error) {
	column, ok := column(batch, field).(*array.Float64)
	if !ok {
		return nil, fmt.Errorf("no field %s of float64", field)
	}
	return column, nil
}

// column is a field, nil where there is none.
func column(batch arrow.RecordBatch, field string) arrow.Array {
	if at := batch.Schema().FieldIndices(field); len(at) == 1 {
		return batch.Column(at[0])
	}
	return nil
}
