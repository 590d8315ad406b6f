package runlog

import (
	"bytes"
	"math"
	"slices"
	"strings"
)

// batch is what one block of text holds, row after row. It is used again for
// the next block.
type batch struct {
	rows   int
	stamps []int64  // ns, one for each row
	digits []uint64 // of each cell, row after row
	forms  []byte   // of each cell; the time's own column is left blank
	ends   []int32  // where each row ends in forms
	blank  bool     // some cell is blank, other than the time's own
	uneven bool     // some row is short: it ends with its own last cell
	lines  []lineMark
	ragged []raggedRow
	filled []int32 // cells that are not blank, per column
	hasBad []bool  // per column
	odd    []oddCells
	words  []int32
	faults []Fault
	more   map[FaultKind]int
	bad    *refusal

	loaded []byte      // reused for loading
	room   [][]float64 // reused for putting down
}

// raggedRow is a row with fewer or more cells than names.
type raggedRow struct {
	row   int32
	cells int32 // how many it has; more than the width is a long row
}

// oddCells counts the cells of a column that are no number, and keeps the first.
type oddCells struct {
	count, line, column int
	text                string
}

func newBatch(width int) *batch {
	return &batch{
		filled: make([]int32, width), hasBad: make([]bool, width), odd: make([]oddCells, width), words: make([]int32, width),
	}
}

func (b *batch) reset() {
	b.rows, b.stamps, b.digits, b.forms, b.ends, b.uneven = 0, b.stamps[:0], b.digits[:0], b.forms[:0], b.ends[:0], false
	b.blank = false
	b.lines, b.ragged, b.faults, b.more, b.bad = b.lines[:0], b.ragged[:0], b.faults[:0], nil, nil
	clear(b.hasBad)
	clear(b.odd)
	clear(b.words)
}

func (b *batch) fault(f Fault) {
	if len(b.faults) < listed {
		b.faults = append(b.faults, f)
		return
	}
	if b.more == nil {
		b.more = map[FaultKind]int{}
	}
	b.more[f.Kind]++
}

// parse reads the rows of one block. text ends in a line end and has spare
// bytes behind it; line is the number of its first line.
func (l *layout) parse(text []byte, line int, b *batch, eol byte) {
	b.reset()
	r := rowReader{layout: l, text: text[:len(text)+spare-1], eol: eol, batch: b, line: line}
	shift := math.MinInt // of the last line mark
	for p := 0; p < len(text); r.line++ {
		if r.line < l.dialect.First {
			p += bytes.IndexByte(text[p:], eol) + 1
			continue
		}
		end, held := r.row(p)
		if end-p > maxLine {
			b.bad = tooLong(r.line)
			return
		}
		if p = end; held && r.line-(b.rows-1) != shift {
			shift = r.line - (b.rows - 1)
			b.lines = append(b.lines, lineMark{int32(b.rows - 1), int32(shift)})
		}
	}
	b.count()
}

// rowReader reads row after row of a block. Plain cells are read eight bytes at a
// time; whatever else a cell may hold goes the long way round.
type rowReader struct {
	*layout
	text  []byte // the block and what may be read behind it
	eol   byte
	batch *batch
	line  int

	// Of the row in hand:
	start     int // where it begins
	end       int // its line end, -1 as long as nothing had to look for it
	digits    []uint64
	forms     []byte
	stamp     int64
	timed     bool // stamp is read
	timeFault bool // it could not be, and that has been named
	extra     bool // a cell beyond the names holds something
}

// row reads the row that begins at p; next is where the following one begins,
// held is false where there was no row to keep.
func (r *rowReader) row(p int) (next int, held bool) {
	if r.text[p] == r.eol {
		return p + 1, false
	}
	b, width := r.batch, len(r.names)
	base := len(b.forms)
	b.digits, b.forms = slices.Grow(b.digits, width), slices.Grow(b.forms, width)
	r.digits, r.forms = b.digits[base:base+width], b.forms[base:base+width]
	r.start, r.end = p, -1
	r.stamp, r.timed, r.timeFault, r.extra = 0, false, false, false
	count, last := 0, width-1
	for p >= 0 && count < width {
		n, q := plainCells(r.text, p, r.digits[count:last], r.forms[count:last], r.delim, r.mark)
		if count, p = count+n, q; count == last {
			if n, q = plainCells(r.text, p, r.digits[last:], r.forms[last:], r.eol, r.mark); n == 1 {
				count, p, r.end = width, -1, q-1
				continue
			}
		}
		p = r.number(count, p)
		count++
	}
	if p >= 0 {
		count = r.surplus(p)
	}
	if r.timeCol < count {
		r.plainTime()
	}
	return r.end + 1, r.keep(count, base)
}

// plainTime takes the time of the row from the digits of its cell.
func (r *rowReader) plainTime() {
	k := r.timeCol
	form := r.forms[k]
	r.forms[k] = blankForm
	if form == blankForm { // or told already
		return
	}
	scale := r.tickScales[form&fracForm]
	mantissa := digitsValue(r.digits[k])
	if scale == 0 || mantissa > math.MaxInt64/2/scale { // not whole nanoseconds, or no counted time
		r.tellTime(splitLine(r.rowText(), r.delim)[k])
		return
	}
	r.stamp, r.timed = mantissa*scale, true
	if form&minusForm != 0 {
		r.stamp = -r.stamp
	}
}

// rowText is the text of the row in hand, without its line end.
func (r *rowReader) rowText() []byte {
	if r.end < 0 {
		r.end = r.start + bytes.IndexByte(r.text[r.start:], r.eol)
	}
	return bytes.TrimSuffix(r.text[r.start:r.end], []byte("\r"))
}

// number reads cell k of the row, at p, whatever is in it; next is where the cell
// after it begins, -1 where this was the last.
func (r *rowReader) number(k, p int) (next int) {
	// A number that is only longer than eight bytes, or the last of the row.
	text, end := r.text, p
	for d := text[end]; d-'0' <= 9 || d == r.mark || d == '-' || d == '+' || d|0x20 == 'e'; d = text[end] {
		end++
	}
	next, last := end+1, false
	switch stop := text[end]; {
	case stop == r.delim:
	case stop == r.eol:
		r.end, last = end, true
	case stop == '\r' && text[end+1] == r.eol:
		r.end, last = end+1, true
	default:
		return r.odd(k, p)
	}
	if end == p {
		r.forms[k] = blankForm
	} else if k == r.timeCol {
		r.tellTime(cell{text: text[p:end], start: p - r.start})
	} else if v, ok := parseNumber(text[p:end], r.mark); ok {
		r.done(k, v)
	} else {
		return r.odd(k, p)
	}
	if last {
		return -1
	}
	return next
}

func (r *rowReader) done(k int, v float64) {
	r.forms[k], r.digits[k] = doneForm, math.Float64bits(v+0) // -0 is put down as 0
}

// odd reads a cell that may be quoted, blank at its ends, a word or nonsense.
func (r *rowReader) odd(k, p int) (next int) {
	row := r.rowText()
	c, next, closed := nextCell(row, p-r.start, r.delim)
	if !closed {
		r.batch.fault(Fault{Kind: NotNumber, Line: r.line, Column: characters(row[:c.start]) + 1, Text: "a quote that begins here does not end on its line"})
	}
	switch {
	case len(c.text) == 0:
		r.forms[k] = blankForm
	case k == r.timeCol:
		r.tellTime(c)
	default:
		r.value(c, row, k)
	}
	if next >= 0 {
		next += r.start
	}
	return next
}

// tellTime reads the time of the row.
func (r *rowReader) tellTime(c cell) {
	r.forms[r.timeCol] = blankForm
	if r.stamp, r.timed = r.layout.stamp(c.text); r.timed {
		return
	}
	r.timeFault = true
	r.batch.fault(Fault{
		Kind: NoTime, Line: r.line, Column: characters(r.rowText()[:c.start]) + 1,
		Text: "the time \"" + short(c.text) + "\" cannot be read; the row is left out",
	})
}

// surplus counts the cells from p on, for which there are no names.
func (r *rowReader) surplus(p int) (count int) {
	row := r.rowText()
	count = len(r.names)
	for i := p - r.start; i >= 0; count++ {
		var c cell
		c, i, _ = nextCell(row, i, r.delim)
		r.extra = r.extra || len(c.text) > 0
	}
	return count
}

// keep takes the row of so many cells into the batch, or drops it where it is
// blank or has no time.
func (r *rowReader) keep(count, base int) bool {
	b, width := r.batch, len(r.names)
	row := r.forms[:min(count, width)]
	if !r.timed {
		// A blank line is no row and no fault.
		if !r.timeFault && (r.extra || slices.ContainsFunc(row, func(form byte) bool { return form != blankForm })) {
			b.fault(Fault{Kind: NoTime, Line: r.line, Column: 1, Text: "a row without a time is left out"})
		}
		return false
	}
	b.digits, b.forms = b.digits[:base+len(row)], b.forms[:base+len(row)]
	b.uneven = b.uneven || count < width
	b.blank = b.blank || bytes.Count(row, []byte{blankForm}) > 1 // the time's own is one
	if r.extra || count < width {
		b.ragged = append(b.ragged, raggedRow{int32(b.rows), int32(count)})
	}
	b.ends = append(b.ends, int32(len(b.forms)))
	b.stamps = append(b.stamps, r.stamp)
	b.rows++
	return true
}

// count counts the cells of each column that are not blank.
func (b *batch) count() {
	if !b.blank && !b.uneven {
		for k := range b.filled {
			b.filled[k] = int32(b.rows)
		}
		return
	}
	clear(b.filled)
	start := int32(0)
	for _, end := range b.ends {
		row := b.forms[start:end]
		filled := b.filled[:len(row)]
		for k, form := range row {
			if form != blankForm {
				filled[k]++
			}
		}
		start = end
	}
}

// stamp reads a time cell.
func (l *layout) stamp(text []byte) (ns int64, ok bool) {
	if len(text) == 0 {
		return 0, false
	}
	if l.time.Kind == Counted {
		return countedTime(text, l.mark, l.timeUnit)
	}
	ns, kind, ok := clockTime(text)
	return ns, ok && kind == l.time.Kind
}

// value reads any other cell, which is not blank.
func (r *rowReader) value(c cell, row []byte, k int) {
	b := r.batch
	v, ok := parseNumber(c.text, r.mark)
	missing := !ok && isMissing(c.text)
	if !ok && !missing {
		if v, ok = truth(c.text); ok {
			b.words[k]++
		}
	}
	if ok {
		r.done(k, v)
		return
	}
	b.hasBad[k] = true
	r.forms[k] = badForm
	if missing {
		return
	}
	odd := &b.odd[k]
	if odd.count == 0 {
		odd.line, odd.column, odd.text = r.line, characters(row[:c.start])+1, short(c.text)
	}
	odd.count++
}

// short is a cell for a message.
func short(text []byte) string {
	const most = 24
	s := strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f {
			return '?'
		}
		return r
	}, asText(text[:min(len(text), 4*most)]))
	if r := []rune(s); len(r) > most {
		return string(r[:most]) + "..."
	}
	return s
}
