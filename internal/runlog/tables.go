package runlog

import (
	"archive/zip"
	"bytes"
	"cmp"
	"context"
	"fmt"
	"io"
	"path"
	"slices"
	"strings"
)

// A log of several rates may come as one table for each: Parquet or CSV files in one zip archive,
// which is one log with one digest. Their rows are put on one grid of times, in which each column
// has its own, as in a wide table with nulls.

var zipMagic = []byte("PK\x03\x04")

// mostTables is how many tables a log may have.
const mostTables = 64

// readTables reads the tables of an archive and joins them.
func readTables(ctx context.Context, archive *io.SectionReader, opts Options) (*Raw, *refusal) {
	z, err := zip.NewReader(archive, archive.Size())
	if err != nil {
		return nil, refuse(0, 0, "copy it from the logger again", "the zip archive is damaged or cut short: %v", err)
	}
	files := slices.DeleteFunc(z.File, func(f *zip.File) bool {
		return strings.HasSuffix(f.Name, "/") || strings.HasPrefix(path.Base(f.Name), ".") || strings.HasPrefix(f.Name, "__MACOSX/")
	})
	slices.SortStableFunc(files, func(a, b *zip.File) int { return strings.Compare(a.Name, b.Name) })
	if len(files) == 0 || slices.ContainsFunc(files, func(f *zip.File) bool { return f.Name == "[Content_Types].xml" }) {
		return nil, refuseBinary(zipMagic)
	}
	if len(files) > mostTables {
		return nil, refuse(0, 0, "pack one table for each rate", "%d files in the zip archive", len(files))
	}
	left := opts.MaxBytes
	var tables []*rateTable
	for _, f := range files {
		t, size, bad := readTable(ctx, f, left, opts)
		if bad != nil {
			return nil, &refusal{0, 0, fmt.Sprintf("table %q, line %d: %s", path.Base(f.Name), max(bad.line, 1), bad.what), bad.remedy}
		}
		tables = append(tables, t)
		if left -= size; left <= 0 {
			return nil, tooBig(opts)
		}
		if opts.Progress != nil {
			opts.Progress(opts.MaxBytes-left, 0)
		}
	}
	return joinTables(tables, opts.Name)
}

// rateTable is one of the tables of a log.
type rateTable struct {
	*Raw
	name   string
	stamps []int64 // ns, of its rows
	places []int32 // of its rows on the grid
}

func readTable(ctx context.Context, f *zip.File, most int64, opts Options) (*rateTable, int64, *refusal) {
	packed, err := f.Open()
	if err != nil {
		return nil, 0, readError(err)
	}
	defer packed.Close() //nolint:errcheck // it was only read
	data, err := io.ReadAll(io.LimitReader(packed, most+1))
	switch {
	case err != nil:
		return nil, 0, refuse(0, 0, "copy it from the logger again", "it is damaged: %v", err)
	case int64(len(data)) > most:
		return nil, 0, tooBig(opts)
	case bytes.HasPrefix(data, zipMagic) || bytes.HasPrefix(data, gzipMagic):
		return nil, 0, refuse(0, 0, "unpack it before the tables are put together", "it is packed once more")
	}
	opts.MaxBytes, opts.Progress = most, nil
	s, bad := gather(ctx, bytes.NewReader(data), opts)
	if bad != nil {
		return nil, 0, bad
	}
	raw, bad := s.settle(opts.Name)
	if bad != nil {
		return nil, 0, bad
	}
	return &rateTable{Raw: raw, name: path.Base(f.Name), stamps: s.stamps}, int64(len(data)), nil
}

// joinTables puts tables on one grid of times.
func joinTables(tables []*rateTable, file string) (*Raw, *refusal) {
	if bad := oneLog(tables); bad != nil {
		return nil, bad
	}
	var grid []int64
	for _, t := range tables {
		grid = union(grid, t.stamps)
	}
	first := tables[0]
	r := &Raw{
		File: file, Dialect: Dialect{Encoding: fmt.Sprintf("%d tables in a zip archive, %s", len(tables), first.Dialect)},
		Time: first.Time, Step: first.Step, Rows: len(grid), lines: []lineMark{{0, 1}},
	}
	r.Times = newSlab[float64](len(grid))
	for i, ns := range grid {
		r.Times[i] = float64(ns-grid[0]) / second
	}
	for _, t := range tables {
		if t.Step > 0 && t.Step < r.Step || r.Step == 0 {
			r.Step = t.Step
		}
		for _, m := range t.Meta {
			if !slices.ContainsFunc(r.Meta, func(o Meta) bool { return o.Key == m.Key && o.Value == m.Value }) {
				r.Meta = append(r.Meta, m)
			}
		}
		t.place(grid)
		r.names, r.own = append(r.names, t.names...), append(r.own, t.own...)
		r.Columns, r.ragged = append(r.Columns, t.Columns...), append(r.ragged, t.ragged...)
	}
	slices.Sort(r.ragged)
	r.gatherFaults()
	return r, nil
}

// oneLog refuses tables that are not of one log.
func oneLog(tables []*rateTable) *refusal {
	first, in := tables[0], map[string]string{}
	for _, t := range tables {
		if t.Time.Kind != first.Time.Kind {
			return refuse(0, 0, "export all tables with one clock", "the time is %s in table %q and %s in table %q", first.Time.Kind, first.name, t.Time.Kind, t.name)
		}
		a, b := first.Identity(""), t.Identity("")
		for _, of := range [][2]Meta{{a.Serial, b.Serial}, {a.Car, b.Car}, {a.Run, b.Run}} {
			if of[0].Value != "" && of[1].Value != "" && of[0].Value != of[1].Value {
				return refuse(0, 0, "pack the tables of one run", "table %q is of %s and table %q of %s", first.name, of[0].Value, t.name, of[1].Value)
			}
		}
		for _, name := range t.names {
			if other, ok := in[name]; ok {
				return refuse(0, 0, "export each channel in one table", "channel %s is in table %q and in table %q", name, other, t.name)
			}
			in[name] = t.name
		}
	}
	return nil
}

// place puts a table's columns, and what is said of it, on the grid.
func (t *rateTable) place(grid []int64) {
	t.places = make([]int32, len(t.stamps))
	row := 0
	for i, ns := range t.stamps {
		for grid[row] != ns {
			row++
		}
		t.places[i] = int32(row)
	}
	named := func(faults []Fault) {
		for i := range faults {
			f := &faults[i]
			f.Text = fmt.Sprintf("table %q: %s", t.name, f.Text)
			if f.From != 0 || f.To != 0 {
				later := float64(t.stamps[0]-grid[0]) / second
				f.From, f.To = f.From+later, f.To+later
			}
		}
	}
	named(t.own)
	for i, row := range t.ragged {
		t.ragged[i] = t.places[row]
	}
	for i := range t.Columns {
		c := &t.Columns[i]
		named(c.faults)
		switch {
		case c.Rows != nil:
			for k, row := range c.Rows {
				c.Rows[k] = t.places[row]
			}
		case len(t.stamps) < len(grid):
			c.Rows = t.places
		}
	}
}

// union is the times that are in a or in b, both increasing.
func union(a, b []int64) []int64 {
	if len(a) == 0 {
		return b
	}
	all := make([]int64, 0, len(a)+len(b)/8)
	for len(a) > 0 && len(b) > 0 {
		order := cmp.Compare(a[0], b[0])
		all = append(all, min(a[0], b[0]))
		if order <= 0 {
			a = a[1:]
		}
		if order >= 0 {
			b = b[1:]
		}
	}
	return append(append(all, a...), b...)
}
