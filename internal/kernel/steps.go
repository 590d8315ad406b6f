package kernel

import (
	"fmt"
	"math"
	"slices"
)

// Step is a value from a time on.
type Step struct {
	At    float64 // s
	Value float64 // SI; a yes-no channel has 0 or 1
}

// Pulses are the steps of a yes-no channel that is no from the time start, and yes for a while
// from each of the starts. Pulses that touch are one.
func Pulses(start, lasts float64, starts ...float64) []Step {
	out := []Step{{At: start}}
	set := func(t, v float64) {
		if k := len(out) - 1; out[k].At >= t {
			out[k].Value = v
			return
		}
		out = append(out, Step{At: t, Value: v})
	}
	for _, t := range slices.Sorted(slices.Values(starts)) {
		set(t, 1)
		set(t+lasts, 0)
	}
	return out
}

// Steps is an exact log: each channel's value steps to its points and holds. Its rows are the
// times of all points. It ends at the latest time any channel states, and the last row stands
// for that moment alone. Points of a channel must come in order of time and be finite.
func Steps(channels map[string][]Step) (*Log, error) {
	l := &Log{Columns: map[string]*Column{}}
	names := sortedKeys(channels)
	for _, name := range names {
		for i, p := range channels[name] {
			if !finite(p.At) || !finite(p.Value) {
				return nil, fmt.Errorf("channel %s: point %d is not a finite number", name, i+1)
			}
			if i > 0 && p.At <= channels[name][i-1].At {
				return nil, fmt.Errorf("channel %s: point %d at %v s does not come after the one before, at %v s",
					name, i+1, p.At, channels[name][i-1].At)
			}
			l.Times = append(l.Times, p.At)
		}
	}
	slices.Sort(l.Times)
	l.Times = slices.Compact(l.Times)
	if len(l.Times) == 0 {
		return nil, fmt.Errorf("the log has no points: give at least one")
	}
	l.End = l.Times[len(l.Times)-1]
	for _, name := range names {
		c := &Column{Hold: math.Inf(1), Rows: []int32{}}
		for _, p := range channels[name] {
			i, _ := slices.BinarySearch(l.Times, p.At)
			c.Rows = append(c.Rows, int32(i))
			c.Values = append(c.Values, p.Value+0)
		}
		l.Columns[name] = c
	}
	return l, nil
}

// FromRows is a log with one value per row, NaN where there is none. Rows are period
// apart on the whole; a value stands for hold. It is meant for tests and small tables.
func FromRows(times []float64, period, hold float64, columns map[string][]float64) (*Log, error) {
	if len(times) == 0 {
		return nil, fmt.Errorf("the log has no rows")
	}
	l := &Log{Times: times, End: times[len(times)-1] + period, Columns: map[string]*Column{}}
	for _, name := range sortedKeys(columns) {
		values := columns[name]
		if len(values) != len(times) {
			return nil, fmt.Errorf("channel %s has %d values for %d rows", name, len(values), len(times))
		}
		c := &Column{Period: period, Hold: hold, Rows: []int32{}}
		for i, v := range values {
			if finite(v) {
				c.Rows = append(c.Rows, int32(i))
				c.Values = append(c.Values, v+0)
			}
		}
		if len(c.Rows) == len(times) {
			c.Rows = nil
		}
		l.Columns[name] = c
	}
	return l, l.Check()
}
