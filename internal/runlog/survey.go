package runlog

import "math"

// Look is what one column of a log holds, before anyone has declared it. Its
// numbers are in the logger's unit.
type Look struct {
	Column *Column
	Shape  Shape // guessed from the values

	Samples int     // with a number
	Missing float64 // share of the samples that should be there
	Min     float64 // NaN where there is no number; without the suspected fault value
	Max     float64
	// The longest span of one and the same value, in seconds of the log.
	FlatFrom, FlatTo float64
	// FaultValue is a value at the end of the scale that the column jumps to
	// and stays on, as a sensor does when its wire breaks; nil where there is none.
	FaultValue *float64
}

// Survey describes every column of a log, in the order of the file.
func Survey(raw *Raw) []Look {
	looks, times := make([]Look, len(raw.Columns)), raw.AllTimes()
	for i := range raw.Columns {
		looks[i] = raw.Columns[i].look(times)
	}
	return looks
}

// extreme is a value at one end of a column's scale and the next one to it.
type extreme struct {
	value, next float64
	count       int
}

// add takes in a value; sign is 1 for the lower end, -1 for the upper.
func (e *extreme) add(v, sign float64) {
	switch {
	case e.count == 0 || (e.value-v)*sign > 0:
		if e.count > 0 {
			e.next = e.value
		}
		e.value, e.count = v, 1
	case v == e.value:
		e.count++
	case math.IsNaN(e.next) || (e.next-v)*sign > 0:
		e.next = v
	}
}

func (c *Column) look(times []float64) Look {
	l := Look{Column: c, Min: math.NaN(), Max: math.NaN()}
	low, high := extreme{next: math.NaN()}, extreme{next: math.NaN()}
	truths, wholes := true, true
	since, value := 0.0, math.NaN()
	flat := func(to float64) {
		if !math.IsNaN(value) && to-since > l.FlatTo-l.FlatFrom {
			l.FlatFrom, l.FlatTo = since, to
		}
	}
	last := 0.0
	for i, v := range c.Values {
		t := times[c.Row(i)]
		if c.IsBad(i) {
			flat(last)
			value = math.NaN()
			continue
		}
		if v != value {
			flat(last)
			since, value = t, v
		}
		last = t
		l.Samples++
		low.add(v, 1)
		high.add(v, -1)
		truths = truths && (v == 0 || v == 1)
		wholes = wholes && v == math.Trunc(v)
	}
	flat(last)
	if n := l.Samples + c.Missing; n > 0 {
		l.Missing = float64(c.Missing) / float64(n)
	}
	if l.Samples == 0 {
		return l
	}
	l.Min, l.Max = low.value, high.value
	switch {
	case truths:
		l.Shape = YesNo
	case wholes && l.Min >= -1 && l.Max <= mostGears:
		l.Shape = Count
	default:
		l.suspect(low, high)
	}
	return l
}

// mostGears is the largest whole number that is taken for a gear or a switch
// position rather than for a measured value that has no decimals.
const mostGears = 12

// suspect looks for a fault value: one end of the scale, more than half the
// span of all other values away from them, and read at least three times.
func (l *Look) suspect(low, high extreme) {
	const least = 3
	switch {
	case low.count >= least && low.next < high.value && low.next-low.value > (high.value-low.next)/2:
		l.FaultValue, l.Min = &low.value, low.next
	case high.count >= least && high.next > low.value && high.value-high.next > (high.next-low.value)/2:
		l.FaultValue, l.Max = &high.value, high.next
	}
}
