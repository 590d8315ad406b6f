package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"
	"time"

	arrowfile "github.com/apache/arrow-go/v18/parquet/file"
	"github.com/parquet-go/parquet-go"
)

// The peers read the time and ten columns of the Parquet log to float64 with the page readers of
// two libraries, each in the fastest way we found: one list of all rows for each column, made once,
// and the parts of columns in row groups handed out to as many goroutines as there are processors.

// tenAndTime are the columns' places.
func tenAndTime() []int {
	places := make([]int, 11)
	for i := range places {
		places[i] = i
	}
	return places
}

// parts hands out every column's part of every row group. read puts it down in to.
func parts(groups []int64, read func(group, column int, to []float64) error) (string, error) {
	places := tenAndTime()
	rows := int64(0)
	starts := make([]int64, len(groups))
	for g, n := range groups {
		starts[g] = rows
		rows += n
	}
	lists := make([][]float64, len(places))
	for i := range lists {
		lists[i] = make([]float64, rows)
	}
	workers := runtime.GOMAXPROCS(0)
	errs := make([]error, workers)
	var next atomic.Int64
	var group sync.WaitGroup
	for w := range workers {
		group.Go(func() {
			for k := int(next.Add(1) - 1); k < len(groups)*len(places) && errs[w] == nil; k = int(next.Add(1) - 1) {
				g, c := k/len(places), k%len(places)
				errs[w] = read(g, places[c], lists[c][starts[g]:][:groups[g]])
			}
		})
	}
	group.Wait()
	if err := errors.Join(errs...); err != nil {
		return "", err
	}
	worked = time.Since(began)
	return greatest(lists[1:]), nil
}

var began time.Time

func readParquetGo(dir string) (string, error) {
	began = time.Now()
	f, err := os.Open(filepath.Join(dir, parquetName))
	if err != nil {
		return "", err
	}
	info, err := f.Stat()
	if err != nil {
		return "", err
	}
	file, err := parquet.OpenFile(f, info.Size(), parquet.SkipPageIndex(true), parquet.SkipBloomFilters(true))
	if err != nil {
		return "", err
	}
	groups := file.RowGroups()
	var rows []int64
	for _, g := range groups {
		rows = append(rows, g.NumRows())
	}
	return parts(rows, func(g, column int, to []float64) error {
		pages := groups[g].ColumnChunks()[column].Pages()
		defer pages.Close() //nolint:errcheck // it was only read
		for {
			page, err := pages.ReadPage()
			if errors.Is(err, io.EOF) {
				return nil
			}
			if err != nil {
				return err
			}
			if page.NumNulls() > 0 || int(page.NumValues()) > len(to) {
				return errors.New("nulls, or more values than rows")
			}
			here := to[:page.NumValues()]
			to = to[len(here):]
			data := page.Data()
			switch dict := page.Dictionary(); {
			case dict != nil && page.Type().Kind() == parquet.Double:
				words := dict.Page().Data()
				all := words.Double()
				for i, k := range data.Int32() {
					here[i] = all[k]
				}
			case dict != nil:
				words := dict.Page().Data()
				all := words.Int64()
				for i, k := range data.Int32() {
					here[i] = float64(all[k])
				}
			case page.Type().Kind() == parquet.Double:
				copy(here, data.Double())
			default:
				for i, v := range data.Int64() {
					here[i] = float64(v)
				}
			}
			parquet.Release(page)
		}
	})
}

func readArrowParquet(dir string) (string, error) {
	began = time.Now()
	file, err := arrowfile.OpenParquetFile(filepath.Join(dir, parquetName), true)
	if err != nil {
		return "", err
	}
	var rows []int64
	for g := range file.NumRowGroups() {
		rows = append(rows, file.MetaData().RowGroup(g).NumRows())
	}
	room := sync.Pool{New: func() any { return new(arrowRoom) }}
	return parts(rows, func(g, column int, to []float64) error {
		chunk, err := file.RowGroup(g).Column(column)
		if err != nil {
			return err
		}
		r := room.Get().(*arrowRoom)
		defer room.Put(r)
		r.levels = slices.Grow(r.levels[:0], len(to))[:len(to)]
		for len(to) > 0 {
			n := 0
			switch chunk := chunk.(type) {
			case *arrowfile.Float64ColumnChunkReader:
				_, n, err = chunk.ReadBatch(int64(len(to)), to, r.levels, nil)
			case *arrowfile.Int64ColumnChunkReader:
				r.whole = slices.Grow(r.whole[:0], len(to))[:len(to)]
				_, n, err = chunk.ReadBatch(int64(len(to)), r.whole, r.levels, nil)
				for i, v := range r.whole[:n] {
					to[i] = float64(v)
				}
			default:
				return fmt.Errorf("a column of %s", chunk.Type())
			}
			if err != nil {
				return err
			}
			if n == 0 {
				return errors.New("fewer values than rows")
			}
			to = to[n:]
		}
		return nil
	})
}

// arrowRoom is what reading one part needs beside its list.
type arrowRoom struct {
	levels []int16
	whole  []int64
}
