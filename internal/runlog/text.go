package runlog

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"context"
	"errors"
	"io"
	"os"
	"runtime"
	"runtime/debug"
	"sync"
	"sync/atomic"
)

const (
	// blockSize is how much text is read and parsed at a time: small enough for
	// text and numbers to stay in the second-level cache, large enough for the
	// cost of handing it out to vanish.
	blockSize = 128 << 10
	// maxLine is the longest line that is read.
	maxLine = 128 << 10
	// maxColumns is the most columns a log may have.
	maxColumns = 4096
	// headSize is how much of the file its dialect is judged by.
	headSize = 2 * maxLine
	// spare is readable space behind every block, so that the parser may look
	// ahead without asking.
	spare = 16
)

// text is a log's text, cut into blocks of whole lines. A plain file is mapped,
// or where that cannot be read a block at a time, so that memory does not grow
// with it; packed or recoded text is kept.
type text struct {
	file     *os.File  // nil where the blocks are kept
	mapped   []byte    // the file; nil where it is not mapped
	stream   io.Reader // what is still to be unpacked
	head     []byte    // the first whole lines
	atEnd    bool      // head is all there is
	size     int64     // unpacked bytes
	eol      byte
	encoding string
	packed   string

	blocks []block
	lines  int64
	cells  int64 // line ends and delimiters: at least the number of cells
}

// block is a run of whole lines.
type block struct {
	off  int64
	size int
	kept []byte // with spare capacity
	line int    // of its first line, counted from 1
}

// openText finds out how the bytes are to be read and reads the head.
func openText(r io.Reader, opts Options) (*text, *refusal) {
	t := &text{encoding: "UTF-8"}
	file, _ := r.(*os.File)
	if file != nil {
		info, err := file.Stat()
		if err != nil {
			return nil, readError(err)
		}
		if info.IsDir() {
			return nil, refuse(0, 0, "name the file in it", "this is a folder, not a log")
		}
		if info.Mode().IsRegular() {
			t.file, t.size = file, info.Size()
		}
	}
	b := bufio.NewReaderSize(r, 64<<10)
	start, err := b.Peek(4096)
	if err != nil && !errors.Is(err, io.EOF) {
		return nil, readError(err)
	}
	if bytes.HasPrefix(start, gzipMagic) {
		z, err := gzip.NewReader(b)
		if err != nil {
			return nil, readError(err)
		}
		t.packed, t.file = "gzip", nil
		b = bufio.NewReaderSize(z, 64<<10)
		if start, err = b.Peek(4096); err != nil && !errors.Is(err, io.EOF) {
			return nil, readError(err)
		}
	}
	wide := sniffUTF16(start)
	switch {
	case wide != nil:
		t.encoding, t.file = "UTF-16", nil
		b = bufio.NewReaderSize(wide.NewDecoder().Reader(b), 64<<10)
	case bytes.HasPrefix(start, []byte("\xef\xbb\xbf")):
		t.encoding = "UTF-8 with BOM"
	}
	t.stream = b
	head := make([]byte, headSize)
	n, err := fill(b, head)
	if err != nil && !errors.Is(err, io.EOF) {
		return nil, readError(err)
	}
	t.atEnd = err != nil
	head = head[:n]
	if bad := refuseBinary(head[:min(n, 4096)]); bad != nil {
		return nil, bad
	}
	t.eol = '\n'
	if bytes.IndexByte(head, '\n') < 0 && bytes.IndexByte(head, '\r') >= 0 {
		t.eol = '\r'
	}
	t.head = head
	if t.file != nil && t.size > opts.MaxBytes {
		return nil, tooBig(opts)
	}
	return t, nil
}

// fill reads until buf is full. Its error is io.EOF only at a proper end.
func fill(r io.Reader, buf []byte) (n int, err error) {
	for n < len(buf) && err == nil {
		var k int
		k, err = r.Read(buf[n:])
		n += k
	}
	return n, err
}

func readError(err error) *refusal {
	if errors.Is(err, io.ErrUnexpectedEOF) || errors.Is(err, gzip.ErrChecksum) || errors.Is(err, gzip.ErrHeader) {
		return refuse(0, 0, "copy it from the logger again", "the packed file is damaged or cut short")
	}
	return refuse(0, 0, "copy it from the logger again", "cannot be read: %v", err)
}

func tooBig(opts Options) *refusal {
	return refuse(0, 0, "export a shorter span or fewer channels", "more than %d MiB of text", opts.MaxBytes>>20)
}

func tooLong(line int) *refusal {
	return refuse(line, 1, "export the log as CSV with one row on each line", "a line of more than %d KiB", maxLine>>10)
}

// wholeHead is the head without the line it ends in the middle of.
func (t *text) wholeHead() []byte {
	if t.atEnd {
		return t.head
	}
	return t.head[:bytes.LastIndexByte(t.head, t.eol)+1]
}

// cut finds the blocks and counts lines and cells.
func (t *text) cut(ctx context.Context, delim byte, opts Options) *refusal {
	if t.file != nil {
		return t.cutFile(ctx, delim, int64(opts.block))
	}
	return t.unpack(ctx, delim, opts)
}

// unpack reads the stream to its end into blocks.
func (t *text) unpack(ctx context.Context, delim byte, opts Options) *refusal {
	r := io.MultiReader(bytes.NewReader(t.head), t.stream)
	var rest []byte // the start of a line
	line := 1
	for {
		if ctx.Err() != nil {
			return stopped()
		}
		buf := make([]byte, len(rest)+opts.block, len(rest)+opts.block+spare)
		copy(buf, rest)
		n, err := fill(r, buf[len(rest):])
		if err != nil && !errors.Is(err, io.EOF) {
			return readError(err)
		}
		buf = buf[:len(rest)+n]
		t.size += int64(n)
		if t.size > opts.MaxBytes {
			return tooBig(opts)
		}
		end := bytes.LastIndexByte(buf, t.eol) + 1
		if err != nil {
			end = len(buf)
		}
		if end == 0 && len(buf) > maxLine {
			return tooLong(line)
		}
		rest = bytes.Clone(buf[end:])
		if end > 0 {
			lines := bytes.Count(buf[:end], []byte{t.eol})
			t.blocks = append(t.blocks, block{size: end, kept: buf[:end], line: line})
			t.cells += int64(bytes.Count(buf[:end], []byte{delim}))
			line += lines
		}
		if opts.Progress != nil {
			opts.Progress(t.size, 0)
		}
		if err != nil {
			t.lines = int64(line)
			t.cells += t.lines
			t.head = nil
			return nil
		}
	}
}

// piece is what was counted in one stretch of a file.
type piece struct {
	lines, cells int
	after        int64 // offset behind the last line end in it, -1 where it has none
}

// cutFile counts line ends over the file, on all processors.
func (t *text) cutFile(ctx context.Context, delim byte, size int64) *refusal {
	t.mapped = mapText(t.file, t.size)
	pieces := make([]piece, (t.size+size-1)/size)
	var next atomic.Int64
	var bad atomic.Pointer[refusal]
	var group sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		group.Go(func() {
			var buf []byte
			for i := next.Add(1) - 1; i < int64(len(pieces)) && ctx.Err() == nil && bad.Load() == nil; i = next.Add(1) - 1 {
				off := i * size
				worse := whileThere(func() *refusal {
					part, reuse, bad := t.at(off, int(min(size, t.size-off)), buf)
					if bad != nil {
						return bad
					}
					buf = reuse
					p := piece{bytes.Count(part, []byte{t.eol}), bytes.Count(part, []byte{delim}), -1}
					if last := bytes.LastIndexByte(part, t.eol); last >= 0 {
						p.after = off + int64(last) + 1
					}
					pieces[i] = p
					return nil
				})
				if worse != nil {
					bad.Store(worse)
				}
			}
		})
	}
	group.Wait()
	if ctx.Err() != nil {
		return stopped()
	}
	if bad := bad.Load(); bad != nil {
		return bad
	}
	start, line, lineAfter := int64(0), 1, 1
	t.blocks = make([]block, 0, len(pieces)+1)
	for _, p := range pieces {
		lineAfter += p.lines
		t.cells += int64(p.cells + p.lines)
		if p.after < 0 {
			continue
		}
		t.blocks = append(t.blocks, block{off: start, size: int(p.after - start), line: line})
		start, line = p.after, lineAfter
	}
	if start < t.size {
		t.blocks = append(t.blocks, block{off: start, size: int(t.size - start), line: line})
	}
	for _, b := range t.blocks {
		if int64(b.size) > 2*size+maxLine {
			return tooLong(b.line)
		}
	}
	t.lines = int64(line)
	t.cells++
	return nil
}

func changed() *refusal {
	return refuse(0, 0, "wait until it is copied, then read it again", "the file changes while it is read")
}

func stopped() *refusal {
	return refuse(0, 0, "read it again", "stopped before the end of the file")
}

// load gives the text of block i, ending in a line end, with spare bytes
// behind it. buf is used where the text is read from disk.
func (t *text) load(i int, buf []byte) (text, reuse []byte, bad *refusal) {
	b := &t.blocks[i]
	if text = b.kept; text == nil {
		if text, buf, bad = t.at(b.off, b.size, buf); bad != nil {
			return nil, buf, bad
		}
	}
	if len(text) > 0 && text[len(text)-1] != t.eol {
		if i < len(t.blocks)-1 {
			return nil, buf, changed()
		}
		text = append(text, t.eol)
	}
	if cap(text) < len(text)+spare-1 {
		text = append(make([]byte, 0, len(text)+spare), text...)
	}
	return text, buf, nil
}

// at gives n bytes of the file, with spare bytes behind them. buf is used where
// they are not mapped. It is called within whileThere.
func (t *text) at(off int64, n int, buf []byte) (part, reuse []byte, bad *refusal) {
	if end := off + int64(n); end+spare <= int64(len(t.mapped)) {
		return t.mapped[off : end : end+spare], buf, nil
	}
	if cap(buf) < n+spare {
		buf = make([]byte, n+spare)
	}
	if _, err := t.file.ReadAt(buf[:n], off); err != nil {
		return nil, buf, changed()
	}
	return buf[:n], buf, nil
}

// whileThere does what looks at a mapped file. Where the file grew shorter meanwhile,
// what is gone cannot be read any more: the processor faults.
func whileThere(do func() *refusal) (bad *refusal) {
	defer debug.SetPanicOnFault(debug.SetPanicOnFault(true))
	defer func() {
		switch p := recover().(type) {
		case nil:
		case interface{ Addr() uintptr }:
			bad = changed()
		default:
			panic(p)
		}
	}()
	return do()
}
