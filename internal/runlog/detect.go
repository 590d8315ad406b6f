package runlog

import (
	"bytes"
	"slices"
	"strings"

	"github.com/paintmark/paintmark/internal/source"
)

// headLines is how many lines of the head the dialect is judged by.
const headLines = 300

// layout is how the rows of one file are to be read.
type layout struct {
	dialect  Dialect
	delim    byte
	mark     byte // decimal
	meta     []Meta
	names    []string // "" for a column that has none
	places   []source.Pos
	units    []string
	unitPos  []source.Pos
	timeCol  int
	time     TimeColumn
	timeUnit int64 // ns
	// tickScales is what a time with so many decimals is multiplied by to give
	// nanoseconds; 0 where that is no whole number.
	tickScales [8]int64
	// unitGuessed says that the file gives no unit for a counted time.
	unitGuessed bool
	faults      []Fault
	left        []bool // columns nobody asked for; nil: none
}

// cell is one cell of a line in the head.
type cell struct {
	text   []byte // without quotes and blanks around it
	start  int    // byte offset in the line
	quoted bool
}

// headLine is one line of the head.
type headLine struct {
	no    int
	text  []byte
	cells []cell
}

func (l headLine) column(offset int) int { return characters(l.text[:offset]) + 1 }

// width is the number of cells without the empty ones at the end.
func (l headLine) width() int {
	n := len(l.cells)
	for n > 0 && len(l.cells[n-1].text) == 0 {
		n--
	}
	return n
}

func (l headLine) blank() bool { return l.width() == 0 }

// splitLine cuts a line into cells.
func splitLine(line []byte, delim byte) []cell {
	var cells []cell
	for i := 0; ; {
		c, next, _ := nextCell(line, i, delim)
		cells = append(cells, c)
		if next < 0 {
			return cells
		}
		i = next
	}
}

// nextCell reads the cell that begins at offset i: it may stand in quotes,
// with blanks around them; a quote inside is doubled. next is the offset of
// the cell after it, or -1. closed is false for a quote that never ends.
func nextCell(line []byte, i int, delim byte) (c cell, next int, closed bool) {
	start := i
	for i < len(line) && isBlank(line[i], delim) {
		i++
	}
	if i < len(line) && line[i] == '"' {
		end, doubled := i+1, false
		for end < len(line) {
			if line[end] == '"' {
				if end+1 < len(line) && line[end+1] == '"' {
					doubled = true
					end += 2
					continue
				}
				break
			}
			end++
		}
		text := line[i+1 : min(end, len(line))]
		if doubled {
			text = bytes.ReplaceAll(text, []byte(`""`), []byte(`"`))
		}
		closed = end < len(line)
		next = -1
		if closed {
			if k := bytes.IndexByte(line[end:], delim); k >= 0 {
				next = end + k + 1
			}
		}
		return cell{trimBlanks(text, delim), i, true}, next, closed
	}
	end := len(line)
	next = -1
	if k := bytes.IndexByte(line[start:], delim); k >= 0 {
		end = start + k
		next = end + 1
	}
	if i > end {
		i = end
	}
	return cell{trimBlanks(line[i:end], delim), i, false}, next, true
}

func isBlank(ch, delim byte) bool {
	return ch == ' ' || (ch == '\t' && delim != '\t')
}

var noBreakSpace = []byte("\u00a0")

func trimBlanks(text []byte, delim byte) []byte {
	for len(text) > 0 && (isBlank(text[0], delim) || text[0] == '\r') {
		text = text[1:]
	}
	for len(text) > 0 && (isBlank(text[len(text)-1], delim) || text[len(text)-1] == '\r') {
		text = text[:len(text)-1]
	}
	if len(text) > 0 && (text[0] == 0xc2 || text[len(text)-1] == 0xa0) {
		text = bytes.TrimSuffix(bytes.TrimPrefix(text, noBreakSpace), noBreakSpace)
	}
	return text
}

// shape is what a cell looks like.
type shape uint8

const (
	emptyShape shape = iota
	numberShape
	stampShape
	wordShape // a word for missing, yes or no
	textShape
)

// shapeOf judges a cell; mark is the decimal mark it used, or 0.
func shapeOf(text []byte) (s shape, mark byte) {
	switch {
	case len(text) == 0:
		return emptyShape, 0
	case bytes.IndexByte(text, ':') >= 0:
		if _, _, ok := clockTime(text); ok {
			return stampShape, 0
		}
	}
	if _, ok := parseNumber(text, '.'); ok {
		if bytes.IndexByte(text, '.') >= 0 {
			mark = '.'
		}
		return numberShape, mark
	}
	if _, ok := parseNumber(text, ','); ok {
		return numberShape, ','
	}
	if isMissing(text) {
		return wordShape, 0
	}
	if _, ok := truth(text); ok {
		return wordShape, 0
	}
	return textShape, 0
}

// isData says that a line looks like a row of numbers, and how many it has.
func (l headLine) isData() (numbers int, ok bool) {
	texts := 0
	for _, c := range l.cells {
		switch s, _ := shapeOf(c.text); s {
		case numberShape, stampShape:
			numbers++
		case textShape:
			texts++
		}
	}
	return numbers, numbers > texts
}

// split cuts the head into lines and cells.
func splitHead(head []byte, eol, delim byte) []headLine {
	var lines []headLine
	for no := 1; len(head) > 0 && no <= headLines; no++ {
		line := head
		if i := bytes.IndexByte(head, eol); i >= 0 {
			line, head = head[:i], head[i+1:]
		} else {
			head = nil
		}
		line = bytes.TrimSuffix(line, []byte("\r"))
		if no == 1 {
			line = bytes.TrimPrefix(line, []byte("\xef\xbb\xbf"))
		}
		lines = append(lines, headLine{no: no, text: line, cells: splitLine(line, delim)})
	}
	return lines
}

// detect finds out the dialect from the head of the file.
func detect(t *text, file string) (*layout, *refusal) {
	head := t.wholeHead()
	if len(bytes.TrimSpace(bytes.TrimPrefix(head, []byte("\xef\xbb\xbf")))) == 0 {
		if !t.atEnd && len(t.head) == headSize {
			return nil, tooLong(1)
		}
		return nil, refuse(0, 0, "copy it from the logger again", "the file is empty")
	}
	var lines []headLine
	l := &layout{}
	best := 0
	for _, delim := range []byte{',', ';', '\t', '|'} {
		split := splitHead(head, t.eol, delim)
		score := 0
		for _, line := range split {
			if n, ok := line.isData(); ok && line.width() >= 2 {
				score += n
			}
		}
		if score > best {
			best, lines, l.delim = score, split, delim
		}
	}
	if best == 0 {
		return nil, noColumns(head, t.eol)
	}
	first := firstData(lines)
	l.findMark(lines[first:])
	if bad := l.findHeader(lines, first, file); bad != nil {
		return nil, bad
	}
	if bad := l.findTime(lines, first); bad != nil {
		return nil, bad
	}
	l.dialect.Encoding, l.dialect.Packed = t.encoding, t.packed
	l.dialect.Delimiter, l.dialect.Decimal = string(l.delim), string(l.mark)
	l.dialect.LineEnd = "LF"
	switch {
	case t.eol == '\r':
		l.dialect.LineEnd = "CR"
	case bytes.Contains(head, []byte("\r\n")):
		l.dialect.LineEnd = "CRLF"
	}
	for _, c := range lines[first].cells {
		l.dialect.Quoted = l.dialect.Quoted || c.quoted
	}
	return l, l.tooNarrow(lines[first:])
}

// noColumns says why a file has nothing that looks like columns of numbers.
func noColumns(head []byte, eol byte) *refusal {
	for _, line := range splitHead(head, eol, ',') {
		if line.blank() {
			continue
		}
		for _, delim := range []byte{',', ';', '\t', '|'} {
			if len(splitLine(line.text, delim)) > 1 {
				return refuse(line.no, 1, "export the log as CSV with its numbers", "no rows of numbers below this line")
			}
		}
		return refuse(line.no, 1, "export the log with a time column and comma, semicolon, tab or | between cells", "only one column, or no columns at all")
	}
	return refuse(1, 1, "export the log as CSV", "no columns of numbers")
}

// firstData is the index of the first row of data: the first line of numbers
// as wide as most of them, and the lines of numbers right above it.
func firstData(lines []headLine) int {
	count := map[int]int{}
	mode := 0
	for _, l := range lines {
		if _, ok := l.isData(); !ok || l.width() < 2 {
			continue
		}
		n := len(l.cells)
		count[n]++
		if count[n] > count[mode] || (count[n] == count[mode] && n > mode) {
			mode = n
		}
	}
	first := 0
	for i, l := range lines {
		if _, ok := l.isData(); ok && len(l.cells) == mode {
			first = i
			break
		}
	}
	for i := first - 1; i >= 0; i-- {
		if _, ok := lines[i].isData(); !ok || len(lines[i].cells) < 2 {
			break
		}
		if s, _ := shapeOf(lines[i].cells[0].text); s != numberShape && s != stampShape {
			break
		}
		first = i
	}
	return first
}

// findMark finds the decimal mark: the one more cells use.
func (l *layout) findMark(data []headLine) {
	points, commas := 0, 0
	for _, line := range data {
		for _, c := range line.cells {
			switch _, mark := shapeOf(c.text); mark {
			case '.':
				points++
			case ',':
				commas++
			}
		}
	}
	l.mark = '.'
	if commas > points {
		l.mark = ','
	}
}

// tooNarrow refuses a file whose rows are mostly wider than its header: a
// comma that is both the decimal mark and between cells, or a wrong header.
func (l *layout) tooNarrow(data []headLine) *refusal {
	wide, rows := 0, 0
	for _, line := range data {
		if line.blank() {
			continue
		}
		rows++
		if line.width() > len(l.names) {
			wide++
		}
	}
	if wide*2 <= rows {
		return nil
	}
	remedy := "give every column a name"
	if l.delim == ',' {
		remedy = "give every column a name; with decimal commas, export with a semicolon between cells"
	}
	return refuse(l.dialect.Header, 1, remedy, "%d names, but most rows below have more cells", len(l.names))
}

// findHeader finds the line of names, the line of units and the lines above.
func (l *layout) findHeader(lines []headLine, first int, file string) *refusal {
	header, units := headerLine(lines, first)
	if header < 0 {
		return refuse(lines[first].no, 1, "export the log with the column names in the first row", "no column names: the first row is numbers already")
	}
	h := lines[header]
	width := h.width()
	if width > maxColumns {
		return refuse(h.no, h.column(h.cells[maxColumns].start), "export fewer channels", "more than %d columns", maxColumns)
	}
	if width < 2 {
		return refuse(h.no, 1, "export the log with a name for every column", "no column names above the numbers of line %d", lines[first].no)
	}
	l.names = make([]string, width)
	l.places = make([]source.Pos, width)
	l.units = make([]string, width)
	l.unitPos = make([]source.Pos, width)
	whole := make([]string, width)
	for i, c := range h.cells[:width] {
		name := c.text
		if i == 0 {
			name = trimBlanks(bytes.TrimLeft(name, "#%"), l.delim)
		}
		whole[i] = asText(name)
		l.places[i] = source.Pos{File: file, Line: h.no, Column: h.column(c.start)}
		l.names[i], l.units[i] = cutUnit(whole[i])
		if l.units[i] != "" {
			l.unitPos[i] = l.places[i]
		}
	}
	l.keepApart(whole)
	if units >= 0 {
		u := lines[units]
		for i, c := range u.cells {
			if i < width && len(c.text) > 0 {
				l.units[i] = strings.TrimSpace(bare(asText(c.text)))
				l.unitPos[i] = source.Pos{File: file, Line: u.no, Column: u.column(c.start)}
			}
		}
		l.dialect.Units = u.no
	}
	l.dialect.Header = h.no
	l.dialect.First = lines[max(header, units)].no + 1
	for i := range lines[:header] {
		if !lines[i].blank() {
			l.meta = append(l.meta, metaLine(lines[i], file))
		}
	}
	return l.refuseDoubles()
}

// headerLine finds the line of names above the first row of numbers, and the
// line of units below it; -1 where there is none. It is the nearest line that
// names the time, or else the nearest that can hold names. What lies between
// it and the numbers is no more than rows that cannot be read.
func headerLine(lines []headLine, first int) (header, units int) {
	header, units = -1, -1
	var above []int // nearest first
	best := len(timeNames())
	for i := first - 1; i >= 0; i-- {
		if lines[i].blank() {
			continue
		}
		above = append(above, i)
		if _, rank := timeName(lines[i]); rank < best && lines[i].width() >= 2 && !lines[i].hasNumbers() {
			header, best = i, rank
		}
	}
	if header >= 0 {
		above = above[:slices.Index(above, header)]
	}
	switch {
	case header >= 0:
		if n := len(above); n > 0 && isUnitsRow(lines[above[n-1]], lines[header]) {
			units = above[n-1]
		}
	case len(above) > 1 && isUnitsRow(lines[above[0]], lines[above[1]]):
		header, units = above[1], above[0]
	case len(above) > 0:
		header = above[0]
	}
	return header, units
}

// hasNumbers says that some cell is a number or a stamp.
func (l headLine) hasNumbers() bool {
	for _, c := range l.cells {
		if s, _ := shapeOf(c.text); s == numberShape || s == stampShape {
			return true
		}
	}
	return false
}

// keepApart puts back what stands in brackets where the names would be the
// same without it: it was no unit.
func (l *layout) keepApart(whole []string) {
	count := map[string]int{}
	for _, name := range l.names {
		count[name]++
	}
	for i, name := range l.names {
		if count[name] > 1 && whole[i] != name {
			l.names[i], l.units[i], l.unitPos[i] = whole[i], "", source.Pos{}
		}
	}
}

func (l *layout) refuseDoubles() *refusal {
	seen := map[string]int{}
	for i, name := range l.names {
		if name == "" {
			l.faults = append(l.faults, Fault{Kind: NoName, Line: l.places[i].Line, Column: l.places[i].Column, Text: "a column without a name is left out"})
			continue
		}
		if first, ok := seen[name]; ok {
			return refuse(l.places[i].Line, l.places[i].Column, "give each column its own name in the logger",
				"two columns are called %q, the first at column %d", name, l.places[first].Column)
		}
		seen[name] = i
	}
	return nil
}

// keepOnly leaves out the columns nobody asked for.
func (l *layout) keepOnly(opts Options) {
	l.left = make([]bool, len(l.names))
	for i, name := range l.names {
		l.left[i] = !opts.wants(name)
	}
}

// isChannel says that a column has a name and is not the time.
func (l *layout) isChannel(k int) bool { return k != l.timeCol && l.names[k] != "" }

// wanted says that a column is kept.
func (l *layout) wanted(k int) bool { return l.isChannel(k) && (l.left == nil || !l.left[k]) }

// metaLine takes a line above the header apart: the key, then what it says.
func metaLine(line headLine, file string) Meta {
	m := Meta{Pos: source.Pos{File: file, Line: line.no, Column: 1}}
	var parts []string
	for i, c := range line.cells[:line.width()] {
		text := asText(c.text)
		if i == 0 {
			text = strings.TrimSpace(strings.TrimLeft(text, "#%/"))
		}
		if text != "" {
			parts = append(parts, text)
		}
	}
	if len(parts) == 1 {
		if i := strings.IndexAny(parts[0], ":=\t;,"); i > 0 {
			parts = []string{parts[0][:i], parts[0][i+1:]}
		}
	}
	if len(parts) > 0 {
		m.Key = strings.TrimSpace(strings.TrimRight(strings.TrimSpace(parts[0]), ":="))
		m.Value = strings.TrimSpace(strings.Join(parts[1:], ", "))
	}
	return m
}
