package runlog

import (
	"fmt"
	"math/bits"
	"slices"
)

// gapSteps is how many usual steps may lie between two rows before it is
// called a gap; the same three for which a value stands.
const gapSteps = 3

// settle puts the gathered rows in order of time, names what is out of order,
// and makes the columns.
func (s *store) settle(file string) (*Raw, *refusal) {
	l := s.layout
	if len(s.stamps) == 0 {
		if len(s.faults.list) > 0 {
			f := s.faults.list[0]
			return nil, refuse(f.Line, f.Column, "export the log again", "no row can be read: %s", f.Text)
		}
		return nil, refuse(l.dialect.Header, 1, "check that the logger was recording", "no rows below the header")
	}
	r := &Raw{File: file, Dialect: l.dialect, Meta: l.meta, Time: l.time, Rows: len(s.stamps), lines: s.lines}
	var places []int // of the columns in the file
	for i := range s.cols {
		c := &s.cols[i]
		if l.isChannel(i) {
			r.names = append(r.names, l.names[i])
		}
		if !l.wanted(i) {
			continue
		}
		col := Column{
			Name: l.names[i], Unit: l.units[i], Pos: l.places[i], UnitPos: l.unitPos[i],
			Values: c.values, Words: c.words, Texts: c.odd.count,
		}
		if c.odd.count > 0 {
			col.faults = []Fault{c.notNumbers(l.names[i])}
		}
		if c.sparse {
			col.Rows = c.rows
			if col.Rows == nil {
				col.Rows = []int32{}
			}
		}
		if len(c.bad) > 0 {
			col.Bad = make([]uint64, (len(c.values)+63)/64)
			for _, k := range c.bad {
				col.Bad[k>>6] |= 1 << (k & 63)
			}
		}
		r.Columns = append(r.Columns, col)
		places = append(places, i)
	}
	if len(r.names) == 0 {
		return nil, refuse(l.dialect.Header, 1, "export at least one channel", "only one column, the time")
	}
	lost := s.markRagged(r, places)
	s.orderClock()
	s.leaveOut(r)
	first := s.stamps[0]
	r.Times = newSlab[float64](len(s.stamps))
	for i, ns := range s.stamps {
		r.Times[i] = float64(ns-first) / second
	}
	step := usualStep(s.stamps, nil)
	r.Step = step / second
	s.findGaps(r)
	for i := range r.Columns {
		c := &r.Columns[i]
		own := step
		if c.Rows != nil {
			own = usualStep(s.stamps, c.Rows)
		}
		if own > 0 {
			c.Step, c.Rate = own/second, second/own
		}
		c.Missing = max(0, c.countMissing(len(r.Times))-lost[i])
	}
	if l.unitGuessed && r.Step >= longStep {
		s.faults.add(Fault{
			Kind: LongStep, Line: l.time.Pos.Line, Column: l.time.Pos.Column,
			Text: fmt.Sprintf("column %s gives no unit and steps by %g; taken as seconds; name it time_ms if it counts milliseconds", l.time.Name, r.Step),
		})
	}
	r.own = s.faults.list
	r.gatherFaults()
	return r, nil
}

// gatherFaults puts the faults of the log and of its columns together.
func (r *Raw) gatherFaults() {
	var columns faultList
	for i := range r.Columns {
		for _, f := range r.Columns[i].faults {
			columns.add(f)
		}
	}
	r.Faults = slices.Concat(r.own, columns.list)
	slices.SortStableFunc(r.Faults, func(a, b Fault) int { return a.Line - b.Line })
}

// longStep is a step from row to row, in seconds, that no run log has.
const longStep = 2

// orderClock carries a time of day over midnight.
func (s *store) orderClock() {
	if s.layout.time.Kind != Clock {
		return
	}
	const half = day / 2
	var shift int64
	before := s.stamps[0]
	for i, ns := range s.stamps {
		switch step := ns - before; {
		case step < -half:
			shift += day
		case step > half && shift > 0: // back over midnight: one row out of order
			shift -= day
		}
		before = ns
		s.stamps[i] = ns + shift
	}
}

// leaveOut drops the rows whose time does not come after the one before, and
// names each. Nothing is ever sorted: a row that is out of order has a wrong
// time, and there is no telling which right one.
func (s *store) leaveOut(r *Raw) {
	t := s.stamps
	if len(s.noTime) == 0 && increasing(t) {
		return
	}
	n := len(t)
	var out []int32
	typical := typicalStep(t)
	last, started := int64(0), false
	missing := s.noTime
	for i := 0; i < n; i++ {
		if len(missing) > 0 && int(missing[0]) == i {
			s.faults.add(Fault{Kind: NoTime, Line: r.Line(i), Column: 1, Text: "a row without a time is left out"})
			out, missing = append(out, int32(i)), missing[1:]
			continue
		}
		// A stamp far ahead of the two that follow, which go on from the ones before.
		if i+2 < n && t[i] > t[i+1] && t[i] > t[i+2] && t[i+1] < t[i+2] && (!started || t[i+1] > last) &&
			t[i]-t[i+1] > 10*typical {
			s.faults.add(Fault{Kind: Ahead, Line: r.Line(i), Column: 1, Text: "a time far after those of the rows below; the row is left out"})
			out = append(out, int32(i))
			continue
		}
		if !started || t[i] > last {
			last, started = t[i], true
			continue
		}
		if k := restarts(t, i, last); k > 0 {
			s.faults.add(Fault{
				Kind: Restart, Line: r.Line(i), Column: 1,
				Text: fmt.Sprintf("time starts again here; %d rows are left out; split the file where one log ends and the next begins", k),
			})
			for ; k > 0; k-- {
				out = append(out, int32(i))
				i++
			}
			i--
			continue
		}
		f := Fault{Kind: Backward, Line: r.Line(i), Column: 1, Text: "a time before that of the row above; the row is left out"}
		if t[i] == last {
			f = Fault{Kind: Doubled, Line: r.Line(i), Column: 1, Text: "a time that was there already; the row is left out"}
		}
		s.faults.add(f)
		out = append(out, int32(i))
	}
	if len(out) > 0 {
		s.drop(r, out)
	}
}

func increasing(t []int64) bool {
	for i := 1; i < len(t); i++ {
		if t[i] <= t[i-1] {
			return false
		}
	}
	return true
}

// restarts counts the rows from i on that run forward by themselves, all of
// them before last; fewer than ten are only rows out of order.
func restarts(t []int64, i int, last int64) int {
	const least = 10
	k := 1
	for i+k < len(t) && t[i+k] > t[i+k-1] && t[i+k] <= last {
		k++
	}
	if k < least {
		return 0
	}
	return k
}

// typicalStep is the median step forward of a sample of the rows.
func typicalStep(t []int64) int64 {
	const most = 1 << 14
	stride := max(1, len(t)/most)
	steps := make([]int64, 0, most+2)
	for i := 1; i < len(t); i += stride {
		if d := t[i] - t[i-1]; d > 0 {
			steps = append(steps, d)
		}
	}
	if len(steps) == 0 {
		return 0
	}
	slices.Sort(steps)
	return steps[len(steps)/2]
}

// drop takes rows out of the grid, of every column and of the line numbers.
func (s *store) drop(r *Raw, out []int32) {
	n := len(s.stamps)
	fresh := make([]int32, n) // the new number of a row, -1 where left out
	k, o := int32(0), 0
	for i := range fresh {
		if o < len(out) && int(out[o]) == i {
			fresh[i] = -1
			o++
			continue
		}
		fresh[i] = k
		s.stamps[k] = s.stamps[i]
		k++
	}
	s.stamps = s.stamps[:k]
	for i := range r.Columns {
		r.Columns[i].drop(fresh)
	}
	var lines []lineMark
	for i, f := range fresh {
		if f < 0 {
			continue
		}
		if shift := int32(r.Line(i)) - f; len(lines) == 0 || lines[len(lines)-1].shift != shift {
			lines = append(lines, lineMark{f, shift})
		}
	}
	r.lines = lines
	ragged := r.ragged[:0]
	for _, row := range r.ragged {
		if f := fresh[row]; f >= 0 {
			ragged = append(ragged, f)
		}
	}
	r.ragged = ragged
}

// drop takes the own samples of rows that are left out.
func (c *Column) drop(fresh []int32) {
	k := 0
	for i := range c.Values {
		f := fresh[c.Row(i)]
		if f < 0 {
			continue
		}
		c.Values[k] = c.Values[i]
		if c.Rows != nil {
			c.Rows[k] = f
		}
		if c.Bad != nil {
			bad := c.Bad[i>>6] >> (i & 63) & 1
			c.Bad[k>>6] = c.Bad[k>>6]&^(1<<(k&63)) | bad<<(k&63)
		}
		k++
	}
	c.Values = c.Values[:k]
	if c.Rows != nil {
		c.Rows = c.Rows[:k]
	}
	if c.Bad != nil {
		for i := k; i < len(c.Bad)*64; i++ {
			c.Bad[i>>6] &^= 1 << (i & 63)
		}
		c.Bad = c.Bad[:(k+63)/64]
	}
}

// usualStep is the step between own rows in nanoseconds: the mean of those
// within half of the median, so that a clock that is coarse or trembles does not
// shift the rate. rows nil means every row.
func usualStep(stamps []int64, rows []int32) float64 {
	n := len(stamps)
	if rows != nil {
		n = len(rows)
	}
	at := func(i int) int64 {
		if rows != nil {
			return stamps[rows[i]]
		}
		return stamps[i]
	}
	const most = 1 << 14
	stride := max(1, n/most)
	steps := make([]int64, 0, min(n, 2*most))
	for i := 1; i < n; i += stride {
		steps = append(steps, at(i)-at(i-1))
	}
	if len(steps) == 0 {
		return 0
	}
	slices.Sort(steps)
	median := steps[len(steps)/2]
	sum, count := 0.0, 0
	for _, d := range steps {
		if d >= median-median/2 && d <= median+median/2 {
			sum += float64(d)
			count++
		}
	}
	return sum / float64(count)
}

// findGaps names the spans without rows, and finds the widest.
func (s *store) findGaps(r *Raw) {
	if r.Step == 0 {
		return
	}
	for i := 1; i < len(r.Times); i++ {
		d := r.Times[i] - r.Times[i-1]
		r.widest = max(r.widest, d)
		if d > gapSteps*r.Step*(1+1e-6) {
			s.faults.add(Fault{
				Kind: Gap, Line: r.Line(i), Column: 1, From: r.Times[i-1], To: r.Times[i],
				Text: fmt.Sprintf("no rows for %.3g s, from %.3f s to %.3f s", d, r.Times[i-1], r.Times[i]),
			})
		}
	}
}

// countMissing counts the cells without a number, and the blanks that are out
// of the column's own step: a 5 Hz column among 100 Hz rows misses none.
func (c *Column) countMissing(rows int) int {
	missing := 0
	for _, word := range c.Bad {
		missing += bits.OnesCount64(word)
	}
	if c.Rows == nil {
		return missing
	}
	if len(c.Rows) == 0 {
		return rows
	}
	const most = 1 << 14
	stride := max(1, len(c.Rows)/most)
	var steps []int32
	for i := 1; i < len(c.Rows); i += stride {
		steps = append(steps, c.Rows[i]-c.Rows[i-1])
	}
	usual := 1
	if len(steps) > 0 {
		slices.Sort(steps)
		usual = int(steps[len(steps)/2])
	}
	lost := func(rows int) int { return max(0, (rows+usual/2)/usual-1) }
	missing += int(c.Rows[0]) / usual
	for i := 1; i < len(c.Rows); i++ {
		missing += lost(int(c.Rows[i] - c.Rows[i-1]))
	}
	return missing + (rows-1-int(c.Rows[len(c.Rows)-1]))/usual
}

// markRagged names the rows with a wrong number of cells and takes their
// values away, for there is no telling which cell is whose. A short row is
// trusted where every column it lacks is blank in most rows anyway: some
// programs do not write the blanks at the end. lost is how many cells of each
// column this explains.
func (s *store) markRagged(r *Raw, places []int) (lost []int) {
	lost = make([]int, len(r.Columns))
	width := len(s.layout.names)
	rows := len(s.stamps)
	slowFrom := width // every column from here on is blank in most rows
	for k := width - 1; k >= 0; k-- {
		if !s.layout.isChannel(k) {
			continue
		}
		if s.cols[k].filled > rows/2 {
			break
		}
		slowFrom = k
	}
	absent := make([]int, width+1) // rows that end before a column, by where they end
	for _, g := range s.ragged {
		row, line := int(g.row), r.Line(int(g.row))
		cells := int(g.cells)
		if cells >= slowFrom && cells < width {
			s.faults.add(Fault{Kind: ShortRow, Line: line, Column: 1, Text: fmt.Sprintf("%d cells under %d names; the rest is taken as blank", cells, width)})
			continue
		}
		f := Fault{Kind: ShortRow, Line: line, Column: 1}
		if cells > width {
			f.Kind = LongRow
		}
		f.Text = fmt.Sprintf("%d cells under %d names; the row's values are left out", cells, width)
		s.faults.add(f)
		r.ragged = append(r.ragged, g.row)
		absent[min(cells, width)]++
		for i := 0; i < len(places) && places[i] < cells; i++ {
			c := &r.Columns[i]
			if own := c.own(row); own >= 0 && !c.IsBad(own) {
				c.setBad(own)
				lost[i]++
			}
		}
	}
	ended, k := 0, 0
	for i, place := range places {
		for ; k <= place; k++ {
			ended += absent[k]
		}
		if len(r.Columns[i].Values) > rows/2 {
			lost[i] += ended
		}
	}
	return lost
}

// own is the index of the own sample in a row, -1 where the cell is blank.
func (c *Column) own(row int) int {
	if c.Rows == nil {
		return row
	}
	i, ok := slices.BinarySearch(c.Rows, int32(row))
	if !ok {
		return -1
	}
	return i
}

func (c *Column) setBad(own int) {
	if c.Bad == nil {
		c.Bad = make([]uint64, (len(c.Values)+63)/64)
	}
	c.Bad[own>>6] |= 1 << (own & 63)
	c.Values[own] = 0
}
