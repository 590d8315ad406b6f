package runlog

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"sync"
	"sync/atomic"

	"github.com/paintmark/paintmark/internal/source"
)

// readerVersion goes up whenever the reader makes something else of the same
// bytes: what an older reader made of them is then never used again.
const readerVersion = 3

// CacheBytes is how much a cache may hold where nothing else is said.
const CacheBytes = 4 << 30

// Cache keeps the columns of logs from one run of the program to the next: for
// each column one Arrow IPC file in logger units, mapped into memory when it is
// wanted again, under the SHA-256 of the log, the column's name and the
// reader's version. Files are written whole under another name and then moved
// into place, so any number of processes may share a cache. Whatever in it is
// damaged is thrown away and read again from the log: a cache never changes an
// answer. A nil Cache keeps nothing and reads every log afresh.
type Cache struct {
	folder string
	limit  int64

	mu      sync.Mutex
	trouble error
	looked  sync.Map // by log: its times, once they were found sound
}

// NewCache is the cache in a folder, which is made when something is first kept.
// limit is how many bytes it may hold, CacheBytes where it is 0; what was used
// longest ago goes first.
func NewCache(folder string, limit int64) *Cache {
	if limit == 0 {
		limit = CacheBytes
	}
	return &Cache{folder: folder, limit: limit}
}

// TemporaryCache is a cache of this process alone, for those who need the files
// and may not keep them. remove takes it away.
func TemporaryCache() (c *Cache, remove func(), err error) {
	folder, err := os.MkdirTemp("", "paintmark-columns-")
	if err != nil {
		return nil, nil, err
	}
	return NewCache(folder, 0), func() { _ = os.RemoveAll(folder) }, nil
}

// Trouble is why something could not be kept, nil where all was. The answers
// are the same all the same; only the next run has to read the logs again.
func (c *Cache) Trouble() error {
	if c == nil {
		return nil
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.trouble
}

func (c *Cache) fault(err error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.trouble == nil {
		c.trouble = err
	}
}

// Read reads a log as the function of that name does, and gives the very same,
// but takes what it kept before instead of reading it again, and keeps what it
// reads. Times may then be nil, and AllTimes and Values mapped from files; they must not be written to.
func (c *Cache) Read(ctx context.Context, log Stored, opts Options) (*Raw, source.Faults) {
	if opts.Name == "" {
		opts.Name = filepath.Base(log.Path)
	}
	if c == nil {
		return Read(ctx, log.Path, opts)
	}
	kept, missing := c.load(log.SHA256, opts)
	if kept != nil && len(missing) == 0 {
		return kept, nil
	}
	if kept != nil {
		opts.Only = missing
	}
	fresh, faults := Read(ctx, log.Path, opts)
	if len(faults) > 0 {
		return nil, faults
	}
	if log.unchanged() && ctx.Err() == nil {
		if err := c.save(ctx, log.SHA256, fresh); err != nil && ctx.Err() == nil {
			c.fault(err)
		}
	}
	if kept != nil {
		fresh.join(kept)
	}
	return fresh, nil
}

// join takes in the columns of the same log that were read before.
func (r *Raw) join(before *Raw) {
	r.Columns = append(r.Columns, before.Columns...)
	place := make(map[string]int, len(r.names))
	for i, name := range r.names {
		place[name] = i
	}
	slices.SortStableFunc(r.Columns, func(a, b Column) int { return place[a.Name] - place[b.Name] })
	r.gatherFaults()
}

// home is the folder of what this reader made of one log.
func (c *Cache) home(sha string) string {
	return filepath.Join(c.folder, "reader-"+strconv.Itoa(readerVersion), sha)
}

// load gives the log as it was kept, with those of the wanted columns that are
// there; missing are the others. It gives nil where the log is not known.
func (c *Cache) load(sha string, opts Options) (r *Raw, missing []string) {
	home := c.home(sha)
	r, ok := loadLog(filepath.Join(home, logFile), opts.Name)
	if !ok {
		return nil, nil
	}
	var wanted []string
	for _, name := range r.names {
		if opts.wants(name) {
			wanted = append(wanted, name)
		}
	}
	names := wanted
	switch {
	case r.even == nil:
		names = append(slices.Clip(wanted), timesName)
	case used(filepath.Join(home, columnFile(timesName))) != nil: // it was damaged
		return nil, nil
	default:
		r.even.Kept = func() []float64 { return c.times(sha) }
	}
	columns := c.columns(sha, names, opts.Name)
	if r.even == nil {
		times := columns[len(wanted)]
		if times == nil || len(times.Values) == 0 {
			return nil, nil
		}
		r.Times = times.Values
	}
	rows := r.times().Rows()
	for i, name := range wanted {
		switch col := columns[i]; {
		case col == nil || !col.fits(rows):
			missing = append(missing, name)
		default:
			r.Columns = append(r.Columns, *col)
		}
	}
	r.gatherFaults()
	return r, missing
}

// columns gives those of the columns of a log that are kept, sound to the last byte; the others are nil.
func (c *Cache) columns(sha string, names []string, file string) []*Column {
	home := c.home(sha)
	columns := make([]*Column, len(names))
	allOf(len(columns), func(i int) {
		columns[i] = loadColumn(filepath.Join(home, columnFile(names[i])), sha, names[i], file)
	})
	c.verify(home, columns)
	return columns
}

// times gives the times of a log as they are kept, nil where they are not. They are looked at once.
func (c *Cache) times(sha string) []float64 {
	if times, ok := c.looked.Load(sha); ok {
		return times.([]float64)
	}
	col := c.columns(sha, []string{timesName}, "")[0]
	if col == nil {
		return nil
	}
	c.looked.Store(sha, col.Values)
	return col.Values
}

// verify holds every sample against the checksum of its block, on all processors, and drops the columns
// that are damaged.
func (c *Cache) verify(home string, columns []*Column) {
	const atOnce = 64 // blocks, 1 MiB of samples
	type part struct{ column, from int }
	var parts []part
	for i, col := range slices.Backward(columns) { // the times first: what rules look at is then still at hand
		for from := 0; col != nil && from < len(col.blocks); from += atOnce {
			parts = append(parts, part{i, from})
		}
	}
	damaged := make([]atomic.Bool, len(columns))
	allOf(len(parts), func(i int) {
		p := parts[i]
		if col := columns[p.column]; !col.sound(p.from, min(p.from+atOnce, len(col.blocks))) {
			damaged[p.column].Store(true)
		}
	})
	for i := range columns {
		if damaged[i].Load() {
			_ = os.Remove(filepath.Join(home, columnFile(columns[i].Name)))
			columns[i] = nil
		}
	}
}

// fits says that a column belongs to a log of so many rows.
func (c *Column) fits(rows int) bool {
	if c.Rows == nil {
		return len(c.Values) == rows
	}
	n := len(c.Rows)
	return n == len(c.Values) && (n == 0 || int(c.Rows[n-1]) < rows)
}

// save keeps a log and its columns. What is there already and sound is not
// written again by others' leave: the bytes would be the same.
func (c *Cache) save(ctx context.Context, sha string, r *Raw) error {
	home := c.home(sha)
	errs := make([]error, len(r.Columns)+1)
	allOf(len(errs), func(i int) {
		if errs[i] = ctx.Err(); errs[i] != nil {
			return
		}
		col := &Column{Name: timesName, Values: r.Times}
		if i < len(r.Columns) {
			col = &r.Columns[i]
		}
		errs[i] = saveColumn(filepath.Join(home, columnFile(col.Name)), sha, col)
	})
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	// The log itself last: without it the columns are not looked at.
	if err := saveLog(filepath.Join(home, logFile), r); err != nil {
		return err
	}
	return c.makeRoom(home)
}

// allOf does n things, on all processors.
func allOf(n int, do func(i int)) {
	var next atomic.Int64
	var group sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), n) {
		group.Go(func() {
			for i := next.Add(1) - 1; i < int64(n); i = next.Add(1) - 1 {
				do(int(i))
			}
		})
	}
	group.Wait()
}

// writeWhole writes a file whole or not at all, whatever others do meanwhile.
func writeWhole(path string, write func(*os.File) error) error {
	file, err := unfinishedIn(filepath.Dir(path))
	if err != nil {
		return err
	}
	err = write(file)
	if closed := file.Close(); err == nil {
		err = closed
	}
	if err == nil {
		err = os.Rename(file.Name(), path)
	}
	if err != nil {
		_ = os.Remove(file.Name())
	}
	return err
}

// unfinishedIn begins a file. Another process may take its folder away as long as that is empty.
func unfinishedIn(folder string) (file *os.File, err error) {
	for range 10 {
		if err = os.MkdirAll(folder, 0o700); err == nil {
			file, err = os.CreateTemp(folder, unfinished+"*")
		}
		if !errors.Is(err, fs.ErrNotExist) && !errors.Is(err, fs.ErrExist) {
			break
		}
	}
	return file, err
}

// unfinished begins the name of a file that is being written.
const unfinished = ".unfinished-"
