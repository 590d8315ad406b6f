package runlog

import (
	"bytes"
	"math"
	"strings"
)

// What stands in a batch where there is no number. They are NaNs no cell can
// spell, told apart by their bits.
var (
	blankCell = math.Float64frombits(blankBits)
	badCell   = math.Float64frombits(badBits)
)

const (
	blankBits = 0x7ff8_0000_0000_0b1a
	badBits   = 0x7ff8_0000_0000_0bad
)

// batch is what one block of text holds, row after row. It is used again for
// the next block.
type batch struct {
	rows   int
	stamps []int64   // ns, one for each row
	cells  []float64 // row after row; the time's own column is left blank
	ends   []int32   // where each row ends in cells
	uneven bool      // some row is short: it ends with its own last cell
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
	return &batch{filled: make([]int32, width), hasBad: make([]bool, width), odd: make([]oddCells, width), words: make([]int32, width)}
}

func (b *batch) reset() {
	b.rows, b.stamps, b.cells, b.ends, b.uneven = 0, b.stamps[:0], b.cells[:0], b.ends[:0], false
	b.lines, b.ragged, b.faults, b.more, b.bad = b.lines[:0], b.ragged[:0], b.faults[:0], nil, nil
	clear(b.filled)
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
// bytes behind it. line is the number of its first line; skip is how many
// lines to leave out, the header and what is above it.
func (l *layout) parse(text []byte, line int, b *batch, eol byte) {
	b.reset()
	shift := math.MinInt // of the last line mark
	for len(text) > 0 {
		end := bytes.IndexByte(text, eol)
		row := text[:end]
		text = text[end+1:]
		if line < l.dialect.First {
			line++
			continue
		}
		if len(row) > maxLine {
			b.bad = tooLong(line)
			return
		}
		if l.row(row, line, b) && line-(b.rows-1) != shift {
			shift = line - (b.rows - 1)
			b.lines = append(b.lines, lineMark{int32(b.rows - 1), int32(shift)})
		}
		line++
	}
}

// row reads one row; false where it holds none.
func (l *layout) row(row []byte, line int, b *batch) bool {
	row = bytes.TrimSuffix(row, []byte("\r"))
	width := len(l.names)
	base := len(b.cells)
	timeSeen, timeFault, extra := false, false, false
	var stamp int64
	count, filled := 0, 0
	for i := 0; i >= 0; count++ {
		c, next, closed := nextCell(row, i, l.delim)
		if !closed {
			b.fault(Fault{Kind: NotNumber, Line: line, Column: characters(row[:c.start]) + 1, Text: "a quote that begins here does not end on its line"})
		}
		i = next
		if len(c.text) > 0 {
			filled++
		}
		switch {
		case count >= width:
			extra = extra || len(c.text) > 0
		case count == l.timeCol:
			b.cells = append(b.cells, blankCell)
			var ok bool
			if stamp, ok = l.stamp(c.text); ok {
				timeSeen = true
			} else if len(c.text) > 0 {
				timeFault = true
				b.fault(Fault{
					Kind: NoTime, Line: line, Column: characters(row[:c.start]) + 1,
					Text: "the time \"" + short(c.text) + "\" cannot be read; the row is left out",
				})
			}
		default:
			b.cells = append(b.cells, l.number(c, row, line, count, b))
		}
	}
	if filled == 0 { // a blank line
		b.cells = b.cells[:base]
		return false
	}
	if !timeSeen {
		if !timeFault {
			b.fault(Fault{Kind: NoTime, Line: line, Column: 1, Text: "a row without a time is left out"})
		}
		b.cells = b.cells[:base]
		return false
	}
	for k, v := range b.cells[base:] {
		switch math.Float64bits(v) {
		case blankBits:
			continue
		case badBits:
			b.hasBad[k] = true
		}
		b.filled[k]++
	}
	if extra || count < width {
		b.ragged = append(b.ragged, raggedRow{int32(b.rows), int32(count)})
	}
	b.uneven = b.uneven || count < width
	b.ends = append(b.ends, int32(len(b.cells)))
	b.stamps = append(b.stamps, stamp)
	b.rows++
	return true
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

// number reads any other cell.
func (l *layout) number(c cell, row []byte, line, col int, b *batch) float64 {
	if len(c.text) == 0 {
		return blankCell
	}
	if v, ok := parseNumber(c.text, l.mark); ok {
		return v + 0 // -0 is put down as 0
	}
	if isMissing(c.text) {
		return badCell
	}
	if v, ok := truth(c.text); ok {
		b.words[col]++
		return v
	}
	odd := &b.odd[col]
	if odd.count == 0 {
		odd.line, odd.column, odd.text = line, characters(row[:c.start])+1, short(c.text)
	}
	odd.count++
	return badCell
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
