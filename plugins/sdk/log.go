package sdk

import (
	"fmt"
	"math"
	"slices"
	"sync"
)

// Log is one log of the car.
type Log struct {
	Kind string  // run, warm-up, stands, cold or return
	Run  int     // of the run it belongs to
	End  float64 // s from its first row, when the last row stops standing

	channels map[string]func() (*Channel, error)
}

// Channel is one channel of a log, cleaned: what was out of range, at its fault value or not
// there is NaN. All checks of a program share it, so that nobody may write to it.
type Channel struct {
	Name string
	// Times are those of its own samples, s from the log's first row, rising.
	Times []float64
	// Values are in SI, one per time, NaN where taken away. A yes-no channel has 0 and 1.
	Values []float64
	Within float64 // each value reads within plus or minus this; 0: nobody says, and it is taken at its face
	Period float64 // s between samples, 0 where it has none
	Hold   float64 // s a value stands when none follows; after that it is missing
	Gaps   []Span  // what nobody saw, and why

	worked sync.Map // what Once keeps
}

// NewLog makes a log. Authors meet it in tests only.
func NewLog(kind string, run int, end float64, channels ...*Channel) *Log {
	l := &Log{Kind: kind, Run: run, End: end, channels: map[string]func() (*Channel, error){}}
	for _, c := range channels {
		l.channels[c.Name] = func() (*Channel, error) { return c, nil }
	}
	return l
}

// lazy adds a channel that is read when it is first asked for.
func (l *Log) lazy(name string, read func() (*Channel, error)) {
	l.channels[name] = sync.OnceValues(read)
}

// has says that the log has a channel, which is not read for it.
func (l *Log) has(name string) bool { return l != nil && l.channels[name] != nil }

// channel is nil where the log does not have it.
func (l *Log) channel(name string) (*Channel, error) {
	read, ok := l.channels[name]
	if !ok {
		return nil, nil
	}
	c, err := read()
	if err != nil {
		return nil, fmt.Errorf("the channel %s cannot be read: %w", name, err)
	}
	return c, nil
}

// Once is what several checks work out of a channel: it is done when first asked for, and kept with the
// channel under a key that no other work has.
func Once[T any](c *Channel, key any, work func() T) T {
	done, _ := c.worked.LoadOrStore(key, sync.OnceValue(work))
	return done.(func() T)()
}

// Along are the values that stand at rising times, as At gives them.
func (c *Channel) Along(times []float64) []float64 {
	out := make([]float64, len(times))
	next := 0
	for i, t := range times {
		for next < len(c.Times) && c.Times[next] <= t {
			next++
		}
		if out[i] = math.NaN(); next > 0 && t < c.Times[next-1]+c.Hold {
			out[i] = c.Values[next-1]
		}
	}
	return out
}

// At is the value that stands at a time, NaN where none does.
func (c *Channel) At(t float64) float64 {
	next, exact := slices.BinarySearch(c.Times, t)
	if exact {
		next++
	}
	if next == 0 || t >= c.Times[next-1]+c.Hold {
		return math.NaN()
	}
	return c.Values[next-1]
}
