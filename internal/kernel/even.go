package kernel

import "sync"

// Even are the times of rows that follow one another a whole number of nanoseconds apart: row i starts at
// float64(i*Step)/1e9 s. A few of them are computed sooner than they come from memory.
type Even struct {
	Rows int
	Step int64 // ns
	// Kept gives all times from where they are kept, nil where they are not; it may be nil itself.
	Kept func() []float64

	once sync.Once
	all  []float64
}

// EvenTimes says how these times are even; nil where they are not, to the last bit.
func EvenTimes(times []float64) *Even {
	if len(times) < 2 || !(times[1] > 0 && times[1] < 1e9) {
		return nil
	}
	e := &Even{Rows: len(times), Step: int64(times[1]*1e9 + 0.5)}
	for i, t := range times {
		if t != e.time(i) {
			return nil
		}
	}
	return e
}

func (e *Even) time(i int) float64 { return float64(int64(i)*e.Step) / 1e9 }

// times are all of them, fetched or worked out when first needed.
func (e *Even) times() []float64 {
	e.once.Do(func() {
		if e.Kept != nil {
			e.all = e.Kept()
		}
		if len(e.all) == e.Rows {
			return
		}
		e.all = make([]float64, e.Rows)
		for i := range e.all {
			e.all[i] = e.time(i)
		}
	})
	return e.all
}

// Rows is how many rows a log has.
func (l *Log) Rows() int {
	if l.Times == nil && l.Even != nil {
		return l.Even.Rows
	}
	return len(l.Times)
}

// Time is when a row starts, s.
func (l *Log) Time(i int) float64 {
	if l.Times == nil {
		return l.Even.time(i)
	}
	return l.Times[i]
}

// AllTimes is when each row starts, s.
func (l *Log) AllTimes() []float64 {
	if l.Times == nil && l.Even != nil {
		return l.Even.times()
	}
	return l.Times
}
