package runlog

import (
	"bufio"
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"runtime"
	"slices"
	"strings"
	"sync"
	"sync/atomic"

	"github.com/parquet-go/parquet-go"

	"github.com/paintmark/paintmark/internal/source"
)

// A Parquet log is one wide table: a column of times and one for each channel,
// at the top level. Nulls are rows in which a channel has no sample. Lines in
// faults are row numbers, from 1.

var parquetMagic = []byte("PAR1")

// asParquet looks whether r is a Parquet file; rest is what to read where it is not.
func asParquet(r io.Reader, opts Options) (rest io.Reader, table *io.SectionReader, bad *refusal) {
	start := make([]byte, len(parquetMagic))
	if file, ok := r.(*os.File); ok {
		n, _ := file.ReadAt(start, 0)
		info, err := file.Stat()
		if err != nil || n < len(start) || !bytes.Equal(start, parquetMagic) {
			return r, nil, nil
		}
		return nil, io.NewSectionReader(file, 0, info.Size()), nil
	}
	b := bufio.NewReaderSize(r, 64<<10)
	if start, _ := b.Peek(len(parquetMagic)); !bytes.Equal(start, parquetMagic) {
		return b, nil, nil
	}
	// Its footer is at the end: a stream has to be kept.
	all, err := io.ReadAll(io.LimitReader(b, opts.MaxBytes+1))
	switch {
	case err != nil:
		return nil, nil, readError(err)
	case int64(len(all)) > opts.MaxBytes:
		return nil, nil, tooBig(opts)
	}
	return nil, io.NewSectionReader(bytes.NewReader(all), 0, int64(len(all))), nil
}

// readParquet reads a Parquet log; only the columns wanted are decoded.
func readParquet(ctx context.Context, table *io.SectionReader, opts Options) (raw *Raw, bad *refusal) {
	file, bad := openParquet(table, table.Size())
	if bad != nil {
		return nil, bad
	}
	l, leaves, bad := parquetLayout(file, opts)
	if bad != nil {
		return nil, bad
	}
	l.keepOnly(opts)
	s := &store{layout: l, cols: make([]storeColumn, len(l.names)), lines: []lineMark{{0, 1}}}
	for _, f := range l.faults {
		s.faults.add(f)
	}
	s.makeRoom(int(file.NumRows()))
	if bad := s.fillParquet(ctx, file, leaves, opts); bad != nil {
		return nil, bad
	}
	return s.settle(opts.Name)
}

func openParquet(r io.ReaderAt, size int64) (file *parquet.File, bad *refusal) {
	defer damaged("footer", &bad)
	// The library makes room for a footer of whatever length the file claims.
	end := make([]byte, 8)
	if _, err := r.ReadAt(end, max(0, size-8)); err != nil && !errors.Is(err, io.EOF) || size < 12 ||
		!bytes.Equal(end[4:], parquetMagic) || int64(binary.LittleEndian.Uint32(end)) > size-12 {
		return nil, refuse(0, 0, "copy it from the logger again", "the Parquet file is damaged or cut short in its footer")
	}
	file, err := parquet.OpenFile(r, size, parquet.SkipPageIndex(true), parquet.SkipBloomFilters(true))
	if err != nil {
		return nil, refuse(0, 0, "copy it from the logger again", "the Parquet file is damaged or cut short in its footer: %v", err)
	}
	return file, nil
}

// damaged turns a panic over damaged data into a refusal that says where.
func damaged(where string, bad **refusal) {
	if p := recover(); p != nil {
		*bad = damage(where, fmt.Errorf("%v", p))
	}
}

func damage(where string, err error) *refusal {
	return refuse(0, 0, "copy it from the logger again", "the Parquet file is damaged in its %s: %v", where, err)
}

// parquetLayout lists the columns that can be read and finds the time among them.
func parquetLayout(file *parquet.File, opts Options) (l *layout, leaves []*parquet.Column, bad *refusal) {
	defer damaged("footer", &bad)
	l = &layout{dialect: Dialect{Encoding: "Parquet"}, timeCol: -1}
	if file.NumRows() > math.MaxInt32 {
		return nil, nil, refuse(0, 0, "export a shorter span", "more than %d rows", math.MaxInt32)
	}
	columns := file.Root().Columns()
	if len(columns) > maxColumns {
		return nil, nil, refuse(0, 0, "export fewer channels", "more than %d columns", maxColumns)
	}
	header := headLine{no: 1}
	var whole []string
	for i, c := range columns {
		pos := source.Pos{File: opts.Name, Line: 1, Column: i + 1}
		switch {
		case !c.Leaf() || c.Repeated():
			l.faults = append(l.faults, Fault{Kind: NotNumber, Line: 1, Column: i + 1, Text: fmt.Sprintf("column %s is nested; it is left out", c.Name())})
			continue
		case c.Name() == "":
			l.faults = append(l.faults, Fault{Kind: NoName, Line: 1, Column: i + 1, Text: "a column without a name is left out"})
			continue
		case !isNumeric(c):
			l.faults = append(l.faults, Fault{Kind: NotNumber, Line: 1, Column: i + 1, Text: fmt.Sprintf("column %s holds no numbers; it is left out", c.Name())})
			continue
		}
		leaves = append(leaves, c)
		name, unit := cutUnit(c.Name())
		whole = append(whole, c.Name())
		l.names, l.units = append(l.names, name), append(l.units, unit)
		l.places, l.unitPos = append(l.places, pos), append(l.unitPos, pos)
		header.cells = append(header.cells, cell{text: []byte(c.Name())})
	}
	l.keepApart(whole)
	if bad := l.refuseDoubles(); bad != nil {
		return nil, nil, bad
	}
	var rank int
	l.timeCol, rank = timeName(header)
	if i := slices.IndexFunc(leaves, func(c *parquet.Column) bool { return stampUnit(c) != 0 }); rank > 0 && i >= 0 {
		l.timeCol = i
	}
	if l.timeCol < 0 {
		return nil, nil, refuse(0, 0, "name the column that counts time: Time, time_ms, Clock or Stamp", "no time column among %s", someNames(l.names))
	}
	if bytes := file.NumRows() * 8 * int64(len(leaves)); bytes > opts.MaxBytes {
		return nil, nil, refuse(0, 0, "export a shorter span or fewer channels", "more than %d MiB of numbers", opts.MaxBytes>>20)
	}
	l.time = TimeColumn{Name: l.names[l.timeCol], Pos: l.places[l.timeCol], Kind: Stamp}
	if l.timeUnit = stampUnit(leaves[l.timeCol]); l.timeUnit == 0 {
		if bad := l.countedUnit(); bad != nil {
			return nil, nil, bad
		}
	}
	for _, kv := range file.Metadata().KeyValueMetadata {
		if !strings.Contains(kv.Key, ":") && len(kv.Value) <= 200 && printable(kv.Value) { // not what programs keep for themselves
			l.meta = append(l.meta, Meta{Key: kv.Key, Value: kv.Value, Pos: source.Pos{File: opts.Name, Line: 1, Column: 1}})
		}
	}
	return l, leaves, nil
}

// isNumeric says that a column holds numbers or truths.
func isNumeric(c *parquet.Column) bool {
	switch c.Type().Kind() {
	case parquet.Boolean, parquet.Int32, parquet.Int64, parquet.Float, parquet.Double:
		return true
	}
	return false
}

// stampUnit is the unit of a column of time stamps in nanoseconds, 0 for others.
func stampUnit(c *parquet.Column) int64 {
	t := c.Type().LogicalType()
	if t == nil || t.Value == nil || c.Type().Kind() != parquet.Int64 {
		return 0
	}
	switch text := t.String(); {
	case !strings.HasPrefix(text, "TIMESTAMP"):
		return 0
	case strings.Contains(text, "MILLIS"):
		return second / 1000
	case strings.Contains(text, "MICROS"):
		return 1000
	case strings.Contains(text, "NANOS"):
		return 1
	}
	return 0
}

// fillParquet decodes the columns, on all processors.
func (s *store) fillParquet(ctx context.Context, file *parquet.File, leaves []*parquet.Column, opts Options) *refusal {
	bads := make([]*refusal, len(leaves))
	times := &parquetTimes{unit: s.layout.timeUnit, stamps: newSlab[int64](int(file.NumRows()))[:0]}
	var next, done atomic.Int64
	var mu sync.Mutex
	var group sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), len(leaves)) {
		group.Go(func() {
			for {
				k := int(next.Add(1) - 1)
				if k >= len(leaves) {
					return
				}
				if k != s.layout.timeCol && !s.layout.wanted(k) {
					continue
				}
				var sink parquetSink = &parquetNumbers{storeColumn: &s.cols[k]}
				if k == s.layout.timeCol {
					sink = times
				}
				bads[k] = readParquetColumn(ctx, file, leaves[k], sink, opts)
				if opts.Progress != nil {
					mu.Lock()
					opts.Progress(file.Size()*done.Add(1)/int64(len(leaves)), file.Size())
					mu.Unlock()
				}
			}
		})
	}
	group.Wait()
	for _, bad := range bads {
		if bad != nil {
			return bad
		}
	}
	s.stamps, s.noTime = times.stamps, times.missing
	return nil
}

// parquetSink takes the values of a column, run after run.
type parquetSink interface {
	numbers(run []float64)
	wholes(run []int64)
	nulls(n int)
	rows() int
}

// parquetNumbers puts down a channel.
type parquetNumbers struct {
	*storeColumn
	row int32
}

func (n *parquetNumbers) numbers(run []float64) { putDown(n, run) }
func (n *parquetNumbers) wholes(run []int64)    { putDown(n, run) }

func putDown[T float64 | int64](n *parquetNumbers, run []T) {
	before := len(n.values)
	n.values = extend(n.values, len(run))
	to := n.values[before:][:len(run)]
	for i, whole := range run {
		v := float64(whole)
		if v-v != 0 { // NaN or infinite
			n.bad = append(n.bad, int32(before+i))
			v = 0
		}
		to[i] = v + 0 // -0 is put down as 0
	}
	if n.sparse {
		for i := range run {
			n.storeColumn.rows = append(n.storeColumn.rows, n.row+int32(i))
		}
	}
	n.row += int32(len(run))
}

func (n *parquetNumbers) nulls(count int) {
	if !n.sparse {
		n.sparse = true
		for row := range n.row {
			n.storeColumn.rows = append(n.storeColumn.rows, row)
		}
	}
	n.row += int32(count)
}

func (n *parquetNumbers) rows() int { return int(n.row) }

// parquetTimes puts down the times.
type parquetTimes struct {
	unit    int64
	stamps  []int64
	missing []int32
}

func (t *parquetTimes) numbers(run []float64) {
	for _, v := range run {
		if v *= float64(t.unit); !(math.Abs(v) < math.MaxInt64/2) {
			t.nulls(1)
			continue
		}
		t.stamps = append(t.stamps, int64(math.Round(v)))
	}
}

func (t *parquetTimes) wholes(run []int64) {
	for _, v := range run {
		if v > math.MaxInt64/2/t.unit || v < -math.MaxInt64/2/t.unit {
			t.nulls(1)
			continue
		}
		t.stamps = append(t.stamps, v*t.unit)
	}
}

func (t *parquetTimes) nulls(count int) {
	last := int64(0)
	if n := len(t.stamps); n > 0 {
		last = t.stamps[n-1]
	}
	for range count {
		t.missing = append(t.missing, int32(len(t.stamps)))
		t.stamps = append(t.stamps, last)
	}
}

func (t *parquetTimes) rows() int { return len(t.stamps) }

// readParquetColumn reads one column of all row groups.
func readParquetColumn(ctx context.Context, file *parquet.File, c *parquet.Column, sink parquetSink, opts Options) (bad *refusal) {
	defer damaged("row groups", &bad)
	pages := parquetPages{sink: sink, kind: c.Type().Kind(), top: byte(c.MaxDefinitionLevel())}
	for g, group := range file.RowGroups() {
		where := fmt.Sprintf("row group %d, column %s", g+1, c.Name())
		if ctx.Err() != nil {
			return stopped()
		}
		meta := &file.Metadata().RowGroups[g].Columns[c.Index()].MetaData
		if err := soundPages(file, meta, group.NumRows(), file.Size(), opts.MaxBytes); err != nil {
			return damage(where, err)
		}
		before := sink.rows()
		if bad := pages.readChunk(group.ColumnChunks()[c.Index()], int(group.NumRows()), where); bad != nil {
			return bad
		}
		if n := sink.rows() - before; n != int(group.NumRows()) {
			return damage(where, fmt.Errorf("%d rows, %d expected", n, group.NumRows()))
		}
	}
	return nil
}

// parquetPages reads the pages of a column.
type parquetPages struct {
	sink parquetSink
	kind parquet.Kind
	top  byte // the definition level of a value; below it is a null
}

// readChunk reads a column's part of one row group.
func (p *parquetPages) readChunk(chunk parquet.ColumnChunk, rows int, where string) (bad *refusal) {
	defer damaged(where, &bad)
	pages := chunk.Pages()
	defer pages.Close() //nolint:errcheck // it was only read
	for left := rows; ; {
		page, err := pages.ReadPage()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return damage(where, err)
		}
		if left -= int(page.NumValues()); left < 0 {
			return damage(where, errors.New("more rows than the row group has"))
		}
		err = p.read(page)
		parquet.Release(page)
		if err != nil {
			return damage(where, err)
		}
	}
}

// read hands the values and nulls of a page to the sink.
func (p *parquetPages) read(page parquet.Page) error {
	data, levels := page.Data(), page.DefinitionLevels()
	if dict := page.Dictionary(); dict != nil {
		words, indexes := dict.Page().Data(), data.Int32()
		// An index beyond the words panics, as damage does.
		switch p.kind {
		case parquet.Double:
			all := words.Double()
			return runs(levels, p.top, indexes, turned(p.sink.numbers, func(i int32) float64 { return all[i] }), p.sink.nulls)
		case parquet.Float:
			all := words.Float()
			return runs(levels, p.top, indexes, turned(p.sink.numbers, func(i int32) float64 { return float64(all[i]) }), p.sink.nulls)
		case parquet.Int64:
			all := words.Int64()
			return runs(levels, p.top, indexes, turned(p.sink.wholes, func(i int32) int64 { return all[i] }), p.sink.nulls)
		case parquet.Int32:
			all := words.Int32()
			return runs(levels, p.top, indexes, turned(p.sink.wholes, func(i int32) int64 { return int64(all[i]) }), p.sink.nulls)
		}
		return fmt.Errorf("a dictionary of %s", p.kind)
	}
	switch p.kind {
	case parquet.Double:
		return runs(levels, p.top, data.Double(), p.sink.numbers, p.sink.nulls)
	case parquet.Float:
		return runs(levels, p.top, data.Float(), turned(p.sink.numbers, func(v float32) float64 { return float64(v) }), p.sink.nulls)
	case parquet.Int64:
		return runs(levels, p.top, data.Int64(), p.sink.wholes, p.sink.nulls)
	case parquet.Int32:
		return runs(levels, p.top, data.Int32(), turned(p.sink.wholes, func(v int32) int64 { return int64(v) }), p.sink.nulls)
	}
	return booleans(page, p.sink)
}

// turned puts down what each value is turned into, so few at a time that they stay in the
// processor's nearest memory.
func turned[T, F any](put func([]T), turn func(F) T) func([]F) {
	var room [1024]T
	return func(run []F) {
		for len(run) > 0 {
			part := run[:min(len(run), len(room))]
			for i, v := range part {
				room[i] = turn(v)
			}
			put(room[:len(part)])
			run = run[len(part):]
		}
	}
}

// runs goes over the rows of a page; levels says which of them have a value.
func runs[T any](levels []byte, top byte, values []T, put func([]T), nulls func(int)) error {
	if len(levels) == 0 {
		put(values)
		return nil
	}
	for len(levels) > 0 {
		n := 0
		for n < len(levels) && levels[n] >= top {
			n++
		}
		if n > len(values) {
			return errors.New("fewer values than its levels say")
		}
		if n > 0 {
			put(values[:n])
		}
		values, levels = values[n:], levels[n:]
		for n = 0; n < len(levels) && levels[n] < top; {
			n++
		}
		if n > 0 {
			nulls(n)
		}
		levels = levels[n:]
	}
	return nil
}

// booleans reads a page of truths the slow way.
func booleans(page parquet.Page, sink parquetSink) error {
	values := page.Values()
	var buf [256]parquet.Value
	for {
		n, err := values.ReadValues(buf[:])
		for _, v := range buf[:n] {
			switch {
			case v.IsNull():
				sink.nulls(1)
			case v.Boolean():
				sink.wholes([]int64{1})
			default:
				sink.wholes([]int64{0})
			}
		}
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		if n == 0 {
			return io.ErrNoProgress
		}
	}
}
