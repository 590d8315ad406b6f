package runlog

import (
	"context"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"sync"

	"github.com/paintmark/paintmark/internal/source"
)

// MaxBytes is how much unpacked text a log may have where Options say nothing.
const MaxBytes = 4 << 30

// Options of reading.
type Options struct {
	// Name is the file's name in positions; "" is the last part of its path.
	Name string
	// MaxBytes is how much unpacked text is read at most; 0 is MaxBytes.
	MaxBytes int64
	// Progress hears of the bytes done, never from two goroutines at once.
	// total is 0 as long as it is not known.
	Progress func(done, total int64)
	// Only names the columns to read, as the log calls them; nil is all. The time
	// is always read. What is left out is not in Raw.
	Only []string

	block int // bytes of text parsed at a time; 0 is blockSize
}

// Read reads a log file. Its faults are why it cannot be used at all; what is
// wrong inside a log that can be used is in Raw.Faults. A cancelled context
// ends it with a fault.
//
// Ceilings: Options.MaxBytes of unpacked text, 4096 columns, 128 KiB in a line.
func Read(ctx context.Context, path string, opts Options) (*Raw, source.Faults) {
	if opts.Name == "" {
		opts.Name = filepath.Base(path)
	}
	file, err := os.Open(path)
	if err != nil {
		return nil, source.Faults{{Pos: source.Pos{File: opts.Name}, What: "cannot be opened: " + withoutPath(err), Remedy: "check the name and the log folder"}}
	}
	defer file.Close() //nolint:errcheck // it was only read
	return ReadFrom(ctx, file, opts)
}

// withoutPath is an error without the path in it, which may be absolute.
func withoutPath(err error) string {
	if p, ok := err.(*os.PathError); ok {
		return p.Err.Error()
	}
	return err.Error()
}

// ReadFrom reads a log from r, as Read does.
func ReadFrom(ctx context.Context, r io.Reader, opts Options) (*Raw, source.Faults) {
	if opts.MaxBytes == 0 {
		opts.MaxBytes = MaxBytes
	}
	if opts.block == 0 {
		opts.block = blockSize
	}
	raw, bad := read(ctx, r, opts)
	if bad != nil {
		return nil, source.Faults{bad.fault(opts.Name)}
	}
	return raw, nil
}

// wants says that a column is to be read.
func (o Options) wants(name string) bool { return o.Only == nil || slices.Contains(o.Only, name) }

func read(ctx context.Context, r io.Reader, opts Options) (*Raw, *refusal) {
	r, archive, bad := wholeOf(r, zipMagic, opts)
	switch {
	case bad != nil:
		return nil, bad
	case archive != nil:
		return readTables(ctx, archive, opts)
	}
	s, bad := gather(ctx, r, opts)
	if bad != nil {
		return nil, bad
	}
	return s.settle(opts.Name)
}

// gather reads one table.
func gather(ctx context.Context, r io.Reader, opts Options) (*store, *refusal) {
	r, table, bad := wholeOf(r, parquetMagic, opts)
	switch {
	case bad != nil:
		return nil, bad
	case table != nil:
		return gatherParquet(ctx, table, opts)
	}
	t, bad := openText(r, opts)
	if bad != nil {
		return nil, bad
	}
	l, bad := detect(t, opts.Name)
	if bad != nil {
		return nil, bad
	}
	l.keepOnly(opts)
	defer t.unmap()
	if bad := t.cut(ctx, l.delim, opts); bad != nil {
		return nil, bad
	}
	s := newStore(l, t)
	if bad := s.fill(ctx, opts); bad != nil {
		return nil, bad
	}
	return s, nil
}

// fill parses all blocks, on all processors, and puts them down in their order. One
// worker more than there are processors works while another waits for its turn.
func (s *store) fill(ctx context.Context, opts Options) *refusal {
	workers := min(runtime.GOMAXPROCS(0)+1, len(s.text.blocks))
	var group sync.WaitGroup
	for range workers {
		group.Go(func() {
			b := newBatch(len(s.layout.names))
			for i := s.take(); i >= 0; i = s.take() {
				if ctx.Err() != nil {
					b.bad = stopped()
				} else if bad := whileThere(func() *refusal { return s.parse(i, b) }); bad != nil {
					b.bad = bad
				}
				s.put(i, b, opts.Progress)
			}
		})
	}
	group.Wait()
	return s.bad
}

// parse reads block i into a batch.
func (s *store) parse(i int, b *batch) *refusal {
	text, reuse, bad := s.text.load(i, b.loaded)
	b.loaded = reuse
	if bad == nil {
		s.layout.parse(text, s.text.blocks[i].line, b, s.text.eol)
	}
	return bad
}
