package runlog

import (
	"cmp"
	"maps"
	"runtime"
	"slices"
	"sync"

	"github.com/paintmark/paintmark/internal/kernel"
)

// Dead is a span of a channel that must not be believed, although every sample in it looks
// sane.
type Dead struct {
	Channel  string
	From, To float64 // s; what stands anywhere in [From, To) goes
	Why      string  // "stood still at 38 deg while wing_command moved"
	Pair     bool    // it differs from its declared pair, and nobody knows which of them is right
	Unless   string  // what to say in channels.yaml if it is right all the same; "" where nothing is to be said
}

// FindDead looks for dead sensors in a cleaned log: flat lines against a neighbour that
// moves, values held at an end of the range, and declared pairs that disagree. It looks at
// the log as it is and takes nothing away, so what it finds does not depend on the order of
// the channels. Sorted by channel and time.
func FindDead(log *kernel.Log, channels []Channel) []Dead {
	h := health{log: log, channels: make(map[string]*Channel, len(channels))}
	for i := range channels {
		h.channels[channels[i].Name] = &channels[i]
	}
	alone := make([][]Dead, len(channels)) // flat or held at an end
	var group sync.WaitGroup
	next := make(chan int)
	for range min(runtime.GOMAXPROCS(0), len(channels)) {
		group.Go(func() {
			for i := range next {
				alone[i] = h.alone(&channels[i])
			}
		})
	}
	for i := range channels {
		next <- i
	}
	close(next)
	group.Wait()
	dead := slices.Concat(alone...)
	var apart []Dead
	for i := range channels {
		apart = append(apart, h.apart(&channels[i], dead)...)
	}
	dead = append(dead, apart...)
	sortDead(dead)
	return slices.Compact(dead)
}

func sortDead(dead []Dead) {
	slices.SortFunc(dead, func(a, b Dead) int {
		return cmp.Or(cmp.Compare(a.Channel, b.Channel), cmp.Compare(a.From, b.From), cmp.Compare(a.To, b.To), cmp.Compare(a.Why, b.Why))
	})
}

// TakeAway gives the log without the dead spans: an own sample that stands anywhere in one
// becomes missing, with the reason. It only ever takes away, and the order of the spans does
// not matter. What it changes it copies first; the log given may be shared. A span of a
// channel that the log does not hold, or of no length, takes nothing.
func TakeAway(log *kernel.Log, dead []Dead) *kernel.Log {
	byName := map[string][]Dead{}
	for _, d := range dead {
		if log.Columns[d.Channel] != nil && d.From < d.To {
			byName[d.Channel] = append(byName[d.Channel], d)
		}
	}
	if len(byName) == 0 {
		return log
	}
	out := *log
	out.Columns = maps.Clone(log.Columns)
	for name, spans := range byName {
		sortDead(spans)
		out.Columns[name] = without(log, out.Columns[name], slices.Compact(spans))
	}
	return &out
}

// without is a copy of a column without some spans.
func without(log *kernel.Log, c *kernel.Column, spans []Dead) *kernel.Column {
	out := *c
	out.Bad = slices.Clone(c.Bad)
	if out.Bad == nil {
		out.Bad = make([]uint64, (len(c.Values)+63)/64)
	}
	out.Gaps = slices.Clone(c.Gaps)
	s := samples{log, c}
	for _, d := range spans {
		first := s.first(d.From)
		if first > 0 && s.until(first-1) > d.From {
			first-- // taken before the span, and stands into it
		}
		for i := first; i < len(c.Values) && s.since(i) < d.To; i++ {
			out.Bad[i>>6] |= 1 << (i & 63)
		}
		out.Gaps = append(out.Gaps, kernel.Gap{From: d.From, To: d.To, Why: d.Why})
	}
	slices.SortFunc(out.Gaps, func(a, b kernel.Gap) int {
		return cmp.Or(cmp.Compare(a.From, b.From), cmp.Compare(a.To, b.To), cmp.Compare(a.Why, b.Why))
	})
	out.Gaps = slices.Compact(out.Gaps)
	return &out
}

// samples are a column's own samples with their times.
type samples struct {
	log *kernel.Log
	*kernel.Column
}

// time is when own sample i was taken.
func (s samples) time(i int) float64 {
	if s.Rows != nil {
		i = int(s.Rows[i])
	}
	return s.log.Time(i)
}

// since is when own sample i begins to stand: a first one that comes within a period of the
// log's start stands from there.
func (s samples) since(i int) float64 {
	if t, start := s.time(i), s.log.Time(0); i > 0 || t-start > s.Period*(1+1e-9) {
		return t
	}
	return s.log.Time(0)
}

// until is when own sample i stops standing.
func (s samples) until(i int) float64 {
	end := s.log.End
	if i+1 < len(s.Values) {
		end = s.time(i + 1)
	}
	return min(end, s.time(i)+s.Hold)
}

// first is the first own sample at t or later.
func (s samples) first(t float64) int {
	lo, hi := 0, len(s.Values)
	for lo < hi {
		if mid := (lo + hi) / 2; s.time(mid) < t {
			lo = mid + 1
		} else {
			hi = mid
		}
	}
	return lo
}

// value is own sample i, in SI.
func (s samples) value(i int) float64 { return s.Line.SI(s.Values[i]) }

func (s samples) bad(i int) bool { return s.Bad != nil && s.Bad[i>>6]>>(i&63)&1 != 0 }

// period is the time between two own samples, s.
func (s samples) period() float64 {
	if s.Period > 0 {
		return s.Period
	}
	if n := len(s.Values); n > 1 {
		return (s.time(n-1) - s.time(0)) / float64(n-1)
	}
	return 0
}
