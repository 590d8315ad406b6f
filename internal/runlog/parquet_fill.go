package runlog

import (
	"context"
	"errors"
	"fmt"
	"io"
	"sync"

	"github.com/parquet-go/parquet-go"
	"github.com/parquet-go/parquet-go/encoding"
)

// fillParquet decodes the columns, on all processors: each row group's part of each column by
// itself, straight to where it belongs.
func (s *store) fillParquet(ctx context.Context, file *parquet.File, leaves []*parquet.Column, opts Options) *refusal {
	groups := file.RowGroups()
	starts := make([]int, len(groups))
	for g := 1; g < len(groups); g++ {
		starts[g] = starts[g-1] + int(groups[g-1].NumRows())
	}
	rows := int(file.NumRows())
	times := make([]*parquetTimes, len(groups))
	numbers := make([][]*parquetNumbers, len(leaves)) // by column and row group
	s.stamps = newSlab[int64](rows)
	var wanted []int
	for k := range leaves {
		if k == s.layout.timeCol || s.layout.wanted(k) {
			wanted = append(wanted, k)
			numbers[k] = make([]*parquetNumbers, len(groups))
		}
	}
	bads := make([]*refusal, len(groups)*len(wanted))
	done, mu := 0, sync.Mutex{}
	allOf(len(bads), func(i int) {
		g, k := i/len(wanted), wanted[i%len(wanted)]
		from, to := starts[g], starts[g]+int(groups[g].NumRows())
		var sink parquetSink
		if k == s.layout.timeCol {
			times[g] = &parquetTimes{newParquetPart(s.stamps[from:to], from), s.layout.timeUnit}
			sink = times[g]
		} else {
			numbers[k][g] = &parquetNumbers{newParquetPart(s.cols[k].values[from:to], from)}
			sink = numbers[k][g]
		}
		if ctx.Err() != nil {
			bads[i] = stopped()
			return
		}
		bads[i] = readParquetPart(file, g, leaves[k], sink, opts)
		if opts.Progress != nil {
			mu.Lock()
			done++
			opts.Progress(file.Size()*int64(done)/int64(len(bads)), file.Size())
			mu.Unlock()
		}
	})
	for _, bad := range bads {
		if bad != nil {
			return bad
		}
	}
	for g, part := range times {
		for _, i := range part.odd {
			row := starts[g] + int(i)
			s.noTime = append(s.noTime, int32(row))
			if row > 0 {
				s.stamps[row] = s.stamps[row-1]
			}
		}
	}
	allOf(len(wanted), func(i int) {
		if k := wanted[i]; k != s.layout.timeCol {
			s.cols[k].join(numbers[k], starts, rows)
		}
	})
	return nil
}

// join makes a column of its parts, which lie in its room, each at the start of its row group.
func (c *storeColumn) join(parts []*parquetNumbers, starts []int, rows int) {
	for _, p := range parts {
		c.sparse = c.sparse || p.sparse
	}
	if c.sparse {
		c.rows = make([]int32, 0, rows)
	}
	for g, p := range parts {
		for _, i := range p.odd {
			c.bad = append(c.bad, int32(len(c.values))+i)
		}
		if !c.sparse {
			c.values = c.values[:len(c.values)+len(p.values)]
			continue
		}
		c.values = append(c.values, p.values...)
		if p.sparse {
			c.rows = append(c.rows, p.inRows...)
			continue
		}
		for i := range p.values {
			c.rows = append(c.rows, int32(starts[g]+i))
		}
	}
}

// readParquetPart reads what row group g has of a column.
func readParquetPart(file *parquet.File, g int, c *parquet.Column, sink parquetSink, opts Options) (bad *refusal) {
	where := fmt.Sprintf("row group %d, column %s", g+1, c.Name())
	defer damaged(where, &bad)
	group := file.RowGroups()[g]
	rows := group.NumRows()
	meta := &file.Metadata().RowGroups[g].Columns[c.Index()].MetaData
	if err := soundPages(file, meta, rows, file.Size(), opts.MaxBytes); err != nil {
		return damage(where, err)
	}
	pages := parquetPages{sink: sink, kind: c.Type().Kind(), top: byte(c.MaxDefinitionLevel())}
	before := sink.rows()
	if err := pages.readChunk(group.ColumnChunks()[c.Index()]); err != nil {
		return damage(where, err)
	}
	if n := int64(sink.rows() - before); n != rows {
		return damage(where, fmt.Errorf("%d rows, %d expected", n, rows))
	}
	return nil
}

// parquetPages reads the pages of a part.
type parquetPages struct {
	sink       parquetSink
	kind       parquet.Kind
	top        byte // the definition level of a value; below it is a null
	dictionary parquet.Dictionary
	words      parquetSink // those of the dictionary
}

// readChunk reads all pages.
func (p *parquetPages) readChunk(chunk parquet.ColumnChunk) error {
	pages := chunk.Pages()
	defer pages.Close() //nolint:errcheck // it was only read
	for {
		page, err := pages.ReadPage()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		err = p.read(page)
		parquet.Release(page)
		if err != nil {
			return err
		}
	}
}

// read hands the values and nulls of a page to the sink.
func (p *parquetPages) read(page parquet.Page) error {
	var levels []byte
	if page.NumNulls() > 0 {
		levels = page.DefinitionLevels()
	}
	dictionary := page.Dictionary()
	switch {
	case dictionary != nil:
		if dictionary != p.dictionary {
			p.dictionary, p.words = dictionary, p.sink.words(dictionary.Len())
			if err := p.put(p.words, dictionary.Page().Data(), nil); err != nil {
				return err
			}
		}
		data := page.Data()
		return runs(levels, p.top, data.Int32(), func(run []int32) { p.sink.look(p.words, run) }, p.sink.nulls)
	case p.kind == parquet.Boolean:
		return booleans(page, p.sink)
	}
	return p.put(p.sink, page.Data(), levels)
}

// put hands plain values, and the nulls that levels say lie between them, to a sink.
func (p *parquetPages) put(sink parquetSink, data encoding.Values, levels []byte) error {
	switch p.kind {
	case parquet.Double:
		return runs(levels, p.top, data.Double(), sink.numbers, sink.nulls)
	case parquet.Float:
		return runs(levels, p.top, data.Float(), widened[float32](sink.numbers), sink.nulls)
	case parquet.Int64:
		return runs(levels, p.top, data.Int64(), sink.wholes, sink.nulls)
	case parquet.Int32:
		return runs(levels, p.top, data.Int32(), widened[int32](sink.wholes), sink.nulls)
	}
	return fmt.Errorf("a dictionary of %s", p.kind)
}

// widened puts down values of four bytes as eight, so few at a time that they stay in the
// processor's nearest memory.
func widened[F float32 | int32, T float64 | int64](put func([]T)) func([]F) {
	var room [1024]T
	return func(run []F) {
		for len(run) > 0 {
			part := run[:min(len(run), len(room))]
			for i, v := range part {
				room[i] = T(v)
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
