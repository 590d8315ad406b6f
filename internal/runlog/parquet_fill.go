package runlog

import (
	"context"
	"fmt"
	"sync"

	"github.com/parquet-go/parquet-go"
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
	room := sync.Pool{New: func() any { return new(parquetPages) }}
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
		pages := room.Get().(*parquetPages)
		bads[i] = readParquetPart(file, g, leaves[k], pages, sink, opts)
		room.Put(pages)
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
func readParquetPart(file *parquet.File, g int, c *parquet.Column, pages *parquetPages, sink parquetSink, opts Options) (bad *refusal) {
	where := fmt.Sprintf("row group %d, column %s", g+1, c.Name())
	defer damaged(where, &bad)
	group := &file.Metadata().RowGroups[g]
	from := parquetSource{
		table: file, size: file.Size(), meta: &group.Columns[c.Index()].MetaData, kind: c.Type().Kind(),
		optional: c.MaxDefinitionLevel() > 0, rows: group.NumRows, most: opts.MaxBytes,
	}
	before := sink.rows()
	if err := pages.read(from, sink); err != nil {
		return damage(where, err)
	}
	if n := int64(sink.rows() - before); n != from.rows {
		return damage(where, fmt.Errorf("%d rows, %d expected", n, from.rows))
	}
	return nil
}
