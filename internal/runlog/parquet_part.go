package runlog

import (
	"errors"
	"math"
	"slices"
)

// parquetSink takes what a row group has of a column, run after run, or the words of a
// dictionary. More than there is room for is damage: it panics.
type parquetSink interface {
	numbers(run []float64)
	wholes(run []int64)
	nulls(n int)
	words(n int, before parquetSink) parquetSink // for n words of a dictionary, in the room of one before
	look(words parquetSink, places []int32)
	rows() int
}

// parquetPart is what has been put down of a part: samples of a channel, or times in ns.
type parquetPart[T float64 | int64] struct {
	values []T
	odd    []int32 // places among values of those that are none
	row    int     // of the log, that comes next
	end    int     // the row behind the part
	inRows []int32 // of each value, once sparse
	sparse bool    // a null has come
}

// newParquetPart is a part from a row of the log on, with room for as many values as it has rows.
func newParquetPart[T float64 | int64](room []T, row int) parquetPart[T] {
	return parquetPart[T]{values: room[:0], row: row, end: row + len(room)}
}

func (p *parquetPart[T]) rows() int { return p.row }

// step goes on by n rows.
func (p *parquetPart[T]) step(n int) {
	if n > p.end-p.row {
		panic(errors.New("more rows than the row group has"))
	}
	p.row += n
}

// more makes n more values and gives them to be set.
func (p *parquetPart[T]) more(n int) []T {
	if p.step(n); p.sparse {
		for row := p.row - n; row < p.row; row++ {
			p.inRows = append(p.inRows, int32(row))
		}
	}
	before := len(p.values)
	p.values = p.values[:before+n]
	return p.values[before:]
}

// lookUp puts down words of a dictionary. A place beyond them panics, as damage does.
func (p *parquetPart[T]) lookUp(words *parquetPart[T], places []int32) {
	before, all := len(p.values), words.values
	to := p.more(len(places))
	for i, place := range places {
		to[i] = all[place]
	}
	if len(words.odd) == 0 {
		return
	}
	for i, place := range places {
		if _, odd := slices.BinarySearch(words.odd, place); odd {
			p.odd = append(p.odd, int32(before+i))
		}
	}
}

// parquetNumbers puts down a channel.
type parquetNumbers struct{ parquetPart[float64] }

func (n *parquetNumbers) numbers(run []float64) { putDown(n, run) }
func (n *parquetNumbers) wholes(run []int64)    { putDown(n, run) }

func putDown[T float64 | int64](n *parquetNumbers, run []T) {
	before := len(n.values)
	to := n.more(len(run))
	for i, whole := range run {
		v := float64(whole)
		if v-v != 0 { // NaN or infinite
			n.odd = append(n.odd, int32(before+i))
			v = 0
		}
		to[i] = v + 0 // -0 is put down as 0
	}
}

func (n *parquetNumbers) nulls(count int) {
	if !n.sparse {
		n.sparse = true
		for row := n.row - len(n.values); row < n.row; row++ {
			n.inRows = append(n.inRows, int32(row))
		}
	}
	n.step(count)
}

func (n *parquetNumbers) words(count int, before parquetSink) parquetSink {
	var room []float64
	if b, ok := before.(*parquetNumbers); ok {
		room = b.values[:0]
	}
	return &parquetNumbers{newParquetPart(slices.Grow(room, count)[:count], 0)}
}

func (n *parquetNumbers) look(words parquetSink, places []int32) {
	n.lookUp(&words.(*parquetNumbers).parquetPart, places)
}

// parquetTimes puts down the times; those that are none are odd.
type parquetTimes struct {
	parquetPart[int64]
	unit int64 // ns
}

func (t *parquetTimes) numbers(run []float64) {
	before := len(t.values)
	to := t.more(len(run))
	for i, v := range run {
		if v *= float64(t.unit); !(math.Abs(v) < math.MaxInt64/2) {
			t.odd = append(t.odd, int32(before+i))
			v = 0
		}
		to[i] = int64(math.Round(v))
	}
}

func (t *parquetTimes) wholes(run []int64) {
	before := len(t.values)
	to := t.more(len(run))
	for i, v := range run {
		if v > math.MaxInt64/2/t.unit || v < -math.MaxInt64/2/t.unit {
			t.odd = append(t.odd, int32(before+i))
			v = 0
		}
		to[i] = v * t.unit
	}
}

func (t *parquetTimes) nulls(count int) {
	before := len(t.values)
	clear(t.more(count))
	for i := range count {
		t.odd = append(t.odd, int32(before+i))
	}
}

func (t *parquetTimes) words(count int, _ parquetSink) parquetSink {
	return &parquetTimes{newParquetPart(make([]int64, count), 0), t.unit}
}

func (t *parquetTimes) look(words parquetSink, places []int32) {
	t.lookUp(&words.(*parquetTimes).parquetPart, places)
}
