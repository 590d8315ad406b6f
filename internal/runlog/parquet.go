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
	"slices"
	"strings"

	"github.com/parquet-go/parquet-go"

	"github.com/paintmark/paintmark/internal/source"
)

// A Parquet log is one wide table: a column of times and one for each channel,
// at the top level. Nulls are rows in which a channel has no sample. Lines in
// faults are row numbers, from 1.

var parquetMagic = []byte("PAR1")

// wholeOf gives all of r where it begins with magic; rest is what to read where it does not. What
// such files are read by is at their end: a stream has to be kept.
func wholeOf(r io.Reader, magic []byte, opts Options) (rest io.Reader, all *io.SectionReader, bad *refusal) {
	start := make([]byte, len(magic))
	if file, ok := r.(*os.File); ok {
		n, _ := file.ReadAt(start, 0)
		info, err := file.Stat()
		if err != nil || n < len(start) || !bytes.Equal(start, magic) {
			return r, nil, nil
		}
		return nil, io.NewSectionReader(file, 0, info.Size()), nil
	}
	b := bufio.NewReaderSize(r, 64<<10)
	if start, _ := b.Peek(len(magic)); !bytes.Equal(start, magic) {
		return b, nil, nil
	}
	kept, err := io.ReadAll(io.LimitReader(b, opts.MaxBytes+1))
	switch {
	case err != nil:
		return nil, nil, readError(err)
	case int64(len(kept)) > opts.MaxBytes:
		return nil, nil, tooBig(opts)
	}
	return nil, io.NewSectionReader(bytes.NewReader(kept), 0, int64(len(kept))), nil
}

// gatherParquet reads a Parquet table; only the columns wanted are decoded.
func gatherParquet(ctx context.Context, table *io.SectionReader, opts Options) (*store, *refusal) {
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
	return s, nil
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
	rows := int64(0)
	for g, group := range file.RowGroups() {
		if group.NumRows() < 0 || group.NumRows() > math.MaxInt64-rows {
			return nil, nil, damage("footer", fmt.Errorf("row group %d claims %d rows", g+1, group.NumRows()))
		}
		rows += group.NumRows()
	}
	if rows != file.NumRows() {
		return nil, nil, damage("footer", fmt.Errorf("%d rows in its row groups, %d in all", rows, file.NumRows()))
	}
	if rows > math.MaxInt32 {
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
	if bytes := rows * 8 * int64(len(leaves)); bytes > opts.MaxBytes {
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
