package runlog

import (
	"fmt"
	"sync"
)

// store gathers the batches into columns, in the order of the file whatever
// order they are parsed in.
type store struct {
	layout *layout
	text   *text

	mu     sync.Mutex
	turn   *sync.Cond
	next   int // block to be handed out
	placed int // blocks put down
	done   int64
	bad    *refusal

	stamps []int64
	cols   []storeColumn
	roomy  bool // there is room for every row of every column
	lines  []lineMark
	ragged []raggedRow
	noTime []int32 // rows whose time is missing and stands at the one before
	faults faultList
}

type storeColumn struct {
	values []float64
	rows   []int32
	sparse bool
	bad    []int32 // own samples without a number
	odd    oddCells
	words  int
	filled int // cells that are not blank, of columns that are left out too
}

// faultList keeps the first faults of each kind and counts the rest.
type faultList struct {
	list  []Fault
	count map[FaultKind]int
	last  map[FaultKind]int // index of the last one listed
}

func (fl *faultList) add(f Fault) {
	if fl.count == nil {
		fl.count, fl.last = map[FaultKind]int{}, map[FaultKind]int{}
	}
	if fl.count[f.Kind]++; fl.count[f.Kind] <= listed {
		fl.last[f.Kind] = len(fl.list)
		fl.list = append(fl.list, f)
		return
	}
	fl.list[fl.last[f.Kind]].More += 1 + f.More
}

func newStore(l *layout, t *text) *store {
	s := &store{layout: l, text: t, cols: make([]storeColumn, len(l.names))}
	s.turn = sync.NewCond(&s.mu)
	for _, f := range l.faults {
		s.faults.add(f)
	}
	s.stamps = newSlab[int64](int(t.lines))[:0]
	if width := int64(len(l.names) - 1); t.lines*width <= t.cells+t.cells/4 {
		s.makeRoom(int(t.lines))
	}
	return s
}

// makeRoom gives every column that is wanted room for so many samples. It is not touched before
// it is written to: a column of few samples takes little memory.
func (s *store) makeRoom(rows int) {
	var wanted []*storeColumn
	for i := range s.cols {
		if s.layout.isChannel(i) && s.layout.wanted(i) {
			wanted = append(wanted, &s.cols[i])
		}
	}
	s.roomy = true
	slab := newSlab[float64](rows * len(wanted))
	for i, c := range wanted {
		c.values = slab[i*rows : i*rows : (i+1)*rows]
	}
}

// take hands out the next block, -1 where there is none.
func (s *store) take() int {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.bad != nil || s.next == len(s.text.blocks) {
		return -1
	}
	s.next++
	return s.next - 1
}

// put waits for the blocks before i, makes room for the batch, and copies it
// while others may make theirs.
func (s *store) put(i int, b *batch, progress func(done, total int64)) {
	s.mu.Lock()
	for s.placed != i {
		s.turn.Wait()
	}
	if s.bad == nil {
		s.bad = b.bad
	}
	if s.bad == nil && len(s.stamps)+b.rows > cap(s.stamps) {
		s.bad = changed()
	}
	var room [][]float64
	if s.bad == nil {
		room = s.reserve(b)
		s.done += int64(s.text.blocks[i].size)
		if progress != nil {
			progress(s.done, s.text.size)
		}
	}
	if !s.roomy && room != nil { // a column may move when it grows
		b.copyTo(room)
		room = nil
	}
	s.placed++
	s.text.blocks[i].kept = nil
	s.turn.Broadcast()
	s.mu.Unlock()
	b.copyTo(room)
}

// reserve puts down all of a batch but the numbers, and makes room for them.
func (s *store) reserve(b *batch) [][]float64 {
	first := len(s.stamps)
	s.stamps = append(s.stamps, b.stamps...)
	for _, m := range b.lines {
		shift := m.shift - int32(first)
		if n := len(s.lines); n == 0 || s.lines[n-1].shift != shift {
			s.lines = append(s.lines, lineMark{m.row + int32(first), shift})
		}
	}
	for _, r := range b.ragged {
		s.ragged = append(s.ragged, raggedRow{r.row + int32(first), r.cells})
	}
	for _, f := range b.faults {
		s.faults.add(f)
	}
	for k := range s.cols {
		c := &s.cols[k]
		c.words += int(b.words[k])
		c.filled += int(b.filled[k])
		if odd := b.odd[k]; odd.count > 0 {
			if c.odd.count == 0 {
				c.odd = odd
				c.odd.count = 0
			}
			c.odd.count += odd.count
		}
		if !c.sparse && int(b.filled[k]) < b.rows && s.layout.wanted(k) {
			c.sparse = true
			for row := range first {
				c.rows = append(c.rows, int32(row))
			}
		}
	}
	if b.uneven {
		s.addRows(b, first)
		return nil
	}
	width := len(s.cols)
	room := b.room[:0]
	for k := range s.cols {
		c := &s.cols[k]
		if !s.layout.wanted(k) {
			room = append(room, nil)
			continue
		}
		before := len(c.values)
		c.values = extend(c.values, int(b.filled[k]))
		room = append(room, c.values[before:])
		if !c.sparse && !b.hasBad[k] {
			continue
		}
		own := before
		for row, at := 0, k; row < b.rows; row, at = row+1, at+width {
			form := b.forms[at]
			if form == blankForm {
				continue
			}
			if form == badForm {
				c.bad = append(c.bad, int32(own))
			}
			if c.sparse {
				c.rows = append(c.rows, int32(first+row))
			}
			own++
		}
	}
	b.room = room
	return room
}

// addRows puts down a batch whose rows differ in length, cell by cell: its
// work grows with the cells that are there, not with the names above them.
func (s *store) addRows(b *batch, first int) {
	start := 0
	for row, end := range b.ends {
		for k, form := range b.forms[start:end] {
			if form == blankForm || !s.layout.wanted(k) {
				continue
			}
			c := &s.cols[k]
			if form == badForm {
				c.bad = append(c.bad, int32(len(c.values)))
			}
			c.values = append(c.values, number(b.digits[start+k], form))
			if c.sparse {
				c.rows = append(c.rows, int32(first+row))
			}
		}
		start = int(end)
	}
}

// extend makes a slice n longer without clearing what is there.
func extend(values []float64, n int) []float64 {
	if need := len(values) + n; need <= cap(values) {
		return values[:need]
	}
	return append(values, make([]float64, n)...)
}

// copyTo puts the numbers of a batch into the room made for them.
func (b *batch) copyTo(room [][]float64) {
	for k, to := range room {
		if len(to) > 0 {
			numbers(to, b.digits[k:], b.forms[k:], len(b.filled))
		}
	}
}

// notNumbers is the fault of a column's unreadable cells.
func (c *storeColumn) notNumbers(name string) Fault {
	text := fmt.Sprintf("%q in column %s is not a number; it counts as missing", c.odd.text, name)
	return Fault{Kind: NotNumber, Line: c.odd.line, Column: c.odd.column, Text: text, More: c.odd.count - 1}
}
