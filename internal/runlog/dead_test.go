package runlog

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"github.com/paintmark/paintmark/internal/kernel"
)

// made is a log of channels at rates of their own, each a function of time.
type made struct {
	log      *kernel.Log
	channels []Channel
}

const ms = 1e-3

func newMade(seconds float64) *made {
	m := &made{log: &kernel.Log{End: seconds, Columns: map[string]*kernel.Column{}}}
	for i := range int(seconds / ms) {
		m.log.Times = append(m.log.Times, float64(i)*ms)
	}
	return m
}

// add puts a channel in: every milliseconds, with the value at each of its times.
func (m *made) add(ch Channel, every int, value func(t float64) float64) {
	c := &kernel.Column{Period: float64(every) * ms, Hold: 3 * float64(every) * ms}
	for row := 0; row < len(m.log.Times); row += every {
		c.Rows = append(c.Rows, int32(row))
		c.Values = append(c.Values, value(m.log.Times[row]))
	}
	if ch.Unit == "" && ch.Shape == Number {
		ch.Unit = "rpm"
	}
	m.log.Columns[ch.Name] = c
	m.channels = append(m.channels, ch)
}

func (m *made) find() string {
	var out []string
	for _, d := range FindDead(m.log, m.channels) {
		out = append(out, fmt.Sprintf("%s %.6g to %.6g %s", d.Channel, d.From, d.To, d.Why))
	}
	return strings.Join(out, "\n")
}

func square(period float64, low, high float64) func(float64) float64 {
	return func(t float64) float64 {
		if math.Mod(t, period) < period/2 {
			return low
		}
		return high
	}
}

func steady(v float64) func(float64) float64 { return func(float64) float64 { return v } }

// si is the factor of rpm.
const rpmSI = math.Pi / 30

func ranged(name string, low, high float64, moves ...string) Channel {
	return Channel{Name: name, Range: true, Low: low, High: high, MovesWith: moves}
}

func TestFlatLine(t *testing.T) {
	for _, c := range []struct {
		name string
		make func(m *made)
		want string
	}{
		{"still while its neighbour moves", func(m *made) {
			m.add(ranged("a", -100, 100, "b"), 10, steady(3*rpmSI))
			m.add(ranged("b", 0, 1000), 10, square(8, 100, 300))
		}, "a 0 to 60 stood still at 3 rpm while b moved"},
		{"its neighbour stands", func(m *made) {
			m.add(ranged("a", -100, 100, "b"), 10, steady(3))
			m.add(ranged("b", 0, 1000), 10, steady(300))
		}, ""},
		{"its neighbour moves too little", func(m *made) {
			m.add(ranged("a", -100, 100, "b"), 10, steady(3))
			m.add(ranged("b", 0, 1000), 10, square(8, 100, 199))
		}, ""},
		{"its neighbour goes there and back twice", func(m *made) {
			m.add(ranged("a", -100, 100, "b"), 10, steady(3))
			m.add(ranged("b", 0, 1000), 10, square(30, 100, 900))
		}, ""},
		{"its neighbour only drifts", func(m *made) {
			m.add(ranged("a", -100, 100, "b"), 10, steady(3))
			m.add(ranged("b", 0, 1000), 10, func(t float64) float64 { return 16 * t })
		}, ""},
		{"no neighbour is declared", func(m *made) {
			m.add(ranged("a", -100, 100), 10, steady(3))
			m.add(ranged("b", 0, 1000), 10, square(8, 100, 300))
		}, ""},
		{"the neighbour is not logged", func(m *made) {
			m.add(ranged("a", -100, 100, "b"), 10, steady(3))
			m.channels = append(m.channels, ranged("b", 0, 1000))
		}, ""},
		{"the neighbour is dead itself", func(m *made) {
			m.add(ranged("a", -100, 100, "b"), 10, steady(3))
			m.add(ranged("b", 0, 1000, "a"), 10, steady(5))
		}, ""},
		{"one bit of noise is life", func(m *made) {
			m.add(ranged("a", -100, 100, "b"), 10, square(18, 3, 3.1))
			m.add(ranged("b", 0, 1000), 10, square(1, 100, 300))
		}, ""},
		{"it dies half way", func(m *made) {
			m.add(ranged("a", -100, 100, "b"), 10, func(t float64) float64 { return min(t, 30) * rpmSI })
			m.add(ranged("b", 0, 1000), 10, square(8, 100, 300))
		}, "a 30 to 60 stood still at 30 rpm while b moved"},
		{"it stands for less than it may", func(m *made) {
			ch := ranged("a", -100, 100, "b")
			ch.Still = 20
			m.add(ch, 10, func(t float64) float64 { return math.Floor(t / 19) })
			m.add(ranged("b", 0, 1000), 10, square(1, 100, 300))
		}, ""},
		{"a slow temperature", func(m *made) {
			m.add(Channel{Name: "a", Unit: "°C", MovesWith: []string{"b"}}, 200, func(t float64) float64 { return 350 + math.Floor(t/28) })
			m.add(ranged("b", 0, 1000), 10, square(1, 100, 300))
		}, ""},
		{"a dead temperature", func(m *made) {
			m.add(Channel{Name: "a", Unit: "°C", MovesWith: []string{"b"}}, 200, steady(363.15))
			m.add(ranged("b", 0, 1000), 10, square(1, 100, 300))
		}, "a 0 to 60 stood still at 90 °C while b moved"},
		{"few samples say little", func(m *made) {
			m.add(ranged("a", -100, 100, "b"), 2000, steady(3))
			m.add(ranged("b", 0, 1000), 10, square(1, 100, 300))
		}, ""},
		{"a switch that never moves", func(m *made) {
			m.add(Channel{Name: "a", Shape: YesNo, MovesWith: []string{"b", "c"}}, 50, steady(1))
			m.add(ranged("b", 0, 1000), 10, square(8, 100, 300))
			m.add(Channel{Name: "c", Shape: YesNo}, 10, square(8, 0, 1))
		}, "a 0 to 60 stood still at yes while b and c moved"},
		{"a gear that never moves", func(m *made) {
			m.add(Channel{Name: "a", Shape: Count, MovesWith: []string{"c"}}, 50, steady(2))
			m.add(Channel{Name: "c", Shape: YesNo}, 10, square(8, 0, 1))
		}, "a 0 to 60 stood still at 2 while c moved"},
	} {
		t.Run(c.name, func(t *testing.T) {
			m := newMade(60)
			c.make(m)
			if got := m.find(); got != c.want {
				t.Errorf("got %q, want %q", got, c.want)
			}
		})
	}
}

// Samples that are missing tell neither that a channel moved nor that it stood.
func TestFlatLineOverMissing(t *testing.T) {
	m := newMade(60)
	m.add(ranged("a", -100, 100, "b"), 10, steady(0))
	m.add(ranged("b", 0, 1000), 10, square(4, 100, 300))
	a := m.log.Columns["a"]
	a.Bad = make([]uint64, (len(a.Values)+63)/64)
	for i := 0; i < len(a.Values); i += 7 {
		a.Bad[i>>6] |= 1 << (i & 63)
	}
	if got, want := m.find(), "a 0.01 to 59.99 stood still at 0 rpm while b moved"; got != want {
		t.Errorf("one of seven missing: %q, want %q", got, want)
	}
	for i := 700; i < len(a.Values); i++ {
		a.Bad[i>>6] |= 1 << (i & 63)
	}
	if got := m.find(); got != "" {
		t.Errorf("six seconds of samples are not ten: %q", got)
	}
}

func TestHeldAtTheEnd(t *testing.T) {
	from := func(t0, lasts, v, else_ float64) func(float64) float64 {
		return func(t float64) float64 {
			if t >= t0-1e-9 && t < t0+lasts-1e-9 {
				return v
			}
			return else_ + t*1e-6
		}
	}
	bar := func(low, high float64) Channel {
		return Channel{Name: "p", Unit: "bar", Reads: "gauge", Range: true, Low: low * 1e5, High: high * 1e5}
	}
	works := func(ch Channel, e Ends) Channel { ch.WorksAt = e; return ch }
	for _, c := range []struct {
		name string
		ch   Channel
		rate int
		f    func(float64) float64
		want string
	}{
		{"pegged", bar(0, 3), 10, from(2, 0.5, 3e5, 1e5), "p 2 to 2.5 held at the end of its range, 3 bar"},
		{"for too short", bar(0, 3), 10, from(2, 0.19, 3e5, 1e5), ""},
		{"too few samples", bar(0, 3), 200, from(2, 0.4, 3e5, 1e5), ""},
		{"near the end", bar(0, 3), 10, from(2, 0.5, 2.99e5, 1e5), ""},
		{"at zero it works", bar(0, 3), 10, from(2, 5, 0, 1e5), ""},
		{"at zero it does not, says the channel", works(bar(0, 3), NoEnd), 10, from(2, 5, 0, 1e5), "p 2 to 7 held at the end of its range, 0 bar"},
		{"below zero it does not", bar(-1, 3), 10, from(2, 5, -1e5, 1e5), "p 2 to 7 held at the end of its range, -1 bar"},
		{"at the top it works, says the channel", works(bar(0, 3), BothEnds), 10, from(2, 5, 3e5, 1e5), ""},
		{"a share works at both", Channel{Name: "p", Unit: "%", Range: true, Low: 0, High: 1}, 10, from(2, 5, 1, 0), ""},
		{"a gear works at both", Channel{Name: "p", Shape: Count, Range: true, Low: 0, High: 6}, 10, from(2, 5, 6, 0), ""},
		{"a temperature at its lowest", Channel{Name: "p", Unit: "°C", Range: true, Low: 253.15, High: 453.15}, 200, from(2, 5, 253.15, 300), "p 2 to 7 held at the end of its range, -20 °C"},
	} {
		t.Run(c.name, func(t *testing.T) {
			m := newMade(10)
			m.add(c.ch, c.rate, c.f)
			if got := m.find(); got != c.want {
				t.Errorf("got %q, want %q", got, c.want)
			}
		})
	}
}

func TestPairApart(t *testing.T) {
	pedal := func(name, pair string) Channel {
		return Channel{Name: name, Unit: "%", Range: true, High: 1, Pair: pair}
	}
	wave := func(t float64) float64 { return 0.5 + 0.4*math.Sin(t) }
	apart := func(t0, lasts, by float64) func(float64) float64 {
		return func(t float64) float64 {
			if t >= t0-1e-9 && t < t0+lasts-1e-9 {
				return wave(t) + by
			}
			return wave(t)
		}
	}
	for _, c := range []struct {
		name  string
		a, b  func(float64) float64
		every int // of b
		want  string
	}{
		{"agree", wave, wave, 10, ""},
		{"apart", wave, apart(3, 0.3, 0.12), 10, "a 3 to 3.3 b and a differed by up to 12 %\nb 3 to 3.3 b and a differed by up to 12 %"},
		{"apart by less", wave, apart(3, 0.3, 0.09), 10, ""},
		{"not for long", wave, apart(3, 0.1, 0.3), 10, ""},
		{"at other rates", wave, apart(3, 0.4, 0.2), 50, "a 3 to 3.4 b and a differed by up to 21.6 %\nb 3 to 3.4 b and a differed by up to 21.6 %"},
	} {
		t.Run(c.name, func(t *testing.T) {
			m := newMade(10)
			m.add(pedal("a", ""), 10, c.a)
			m.add(pedal("b", "a"), c.every, c.b)
			if got := m.find(); got != c.want {
				t.Errorf("got %q, want %q", got, c.want)
			}
		})
	}
	// The one that stands still is the one that is dead; the other is believed.
	m := newMade(60)
	m.add(pedal("a", ""), 10, wave)
	m.add(pedal("b", "a"), 10, steady(0.5))
	if got, want := m.find(), "b 0 to 60 stood still at 50 % while a moved"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}

// anyLog draws a log of a few channels that stand, jump, peg and disagree, with holes.
func anyLog(t *rapid.T) *made {
	m := newMade(float64(rapid.IntRange(1, 30).Draw(t, "seconds")))
	names := []string{"a", "b", "c"}
	for i, name := range names {
		ch := Channel{Name: name, Range: true, Low: -100, High: 100, Still: 1}
		ch.Shape = rapid.SampledFrom([]Shape{Number, Number, YesNo, Count}).Draw(t, "shape")
		ch.WorksAt = rapid.SampledFrom([]Ends{UsualEnds, NoEnd, BothEnds}).Draw(t, "ends")
		for k, other := range names {
			if k != i && rapid.Bool().Draw(t, "neighbour") {
				ch.MovesWith = append(ch.MovesWith, other)
			}
		}
		if i > 0 && rapid.Bool().Draw(t, "pair") {
			ch.Pair = names[i-1]
		}
		long := rapid.IntRange(1, 3000).Draw(t, "long")
		levels := rapid.SliceOfN(rapid.SampledFrom([]float64{-100, 0, 1, 40, 100}), 1, 6).Draw(t, "levels")
		if ch.Shape == YesNo {
			levels = rapid.SliceOfN(rapid.SampledFrom([]float64{0, 1}), 1, 6).Draw(t, "truths")
		}
		m.add(ch, rapid.IntRange(1, 50).Draw(t, "every"), func(s float64) float64 { return levels[int(s/ms)/long%len(levels)] })
		col := m.log.Columns[name]
		if hole := rapid.IntRange(0, len(col.Values)).Draw(t, "hole"); hole < len(col.Values) {
			col.Bad = make([]uint64, (len(col.Values)+63)/64)
			for k := hole; k < min(len(col.Values), hole+40); k++ {
				col.Bad[k>>6] |= 1 << (k & 63)
				col.Values[k] = 0
			}
		}
	}
	return m
}

// What is passed over by the block hides nothing that looking at every sample finds.
func TestDeadByTheBlock(t *testing.T) {
	found := 0
	rapid.Check(t, func(t *rapid.T) {
		m := anyLog(t)
		for i := range m.channels {
			m.channels[i].Still = 3 // longer than a block at 1 kHz
		}
		thorough := FindDead(m.log, m.channels)
		for _, c := range m.log.Columns {
			c.Zones = (&Column{Values: c.Values, Bad: c.Bad}).zones(c.Line)
		}
		hasty := FindDead(m.log, m.channels)
		if !slices.Equal(hasty, thorough) {
			t.Fatalf("by the block %v\nsample by sample %v", hasty, thorough)
		}
		for _, d := range thorough {
			if strings.Contains(d.Why, "stood still") {
				found++
			}
		}
	})
	if found == 0 {
		t.Error("nothing stood still in any log")
	}
}

// Cleaning only ever takes away: no value changes, no sample comes back, no reason is lost,
// and neither the order of the channels nor that of the spans matters. What is given stays
// as it was.
func TestCleaningOnlyTakesAway(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := anyLog(t)
		before := map[string]kernel.Column{}
		for name, c := range m.log.Columns {
			cp := *c
			cp.Values, cp.Bad = slices.Clone(c.Values), slices.Clone(c.Bad)
			before[name] = cp
		}
		dead := FindDead(m.log, m.channels)
		for i := range rapid.IntRange(0, 4).Draw(t, "more") { // as a plugin would bring them
			from := rapid.Float64Range(-1, 31).Draw(t, "from")
			dead = append(dead, Dead{
				Channel: rapid.SampledFrom([]string{"a", "b", "c", "none"}).Draw(t, "whose"),
				From:    from, To: from + rapid.Float64Range(-1, 9).Draw(t, "for"), Why: fmt.Sprint("reason ", i),
			})
		}
		out := TakeAway(m.log, dead)

		shuffled := rapid.Permutation(m.channels).Draw(t, "channels")
		if again := FindDead(m.log, shuffled); !slices.Equal(again, FindDead(m.log, m.channels)) {
			t.Errorf("found %v, and with the channels in another order %v", FindDead(m.log, m.channels), again)
		}
		other := TakeAway(m.log, rapid.Permutation(dead).Draw(t, "dead"))
		half := rapid.IntRange(0, len(dead)).Draw(t, "half")
		twice := TakeAway(TakeAway(m.log, dead[half:]), dead[:half])
		for name, was := range before {
			now := samples{out, out.Columns[name]}
			given := samples{m.log, m.log.Columns[name]}
			if !slices.Equal(given.Values, was.Values) || !slices.Equal(given.Bad, was.Bad) {
				t.Fatalf("%s: what was given has changed", name)
			}
			for i, v := range was.Values {
				gone := given.bad(i)
				for _, d := range dead {
					gone = gone || d.Channel == name && d.From < d.To && given.since(i) < d.To && given.until(i) > d.From
				}
				if now.bad(i) != gone || now.Values[i] != v {
					t.Fatalf("%s at %v: %v, missing %v; was %v, should be missing %v", name, given.time(i), now.Values[i], now.bad(i), v, gone)
				}
			}
			for i, g := range now.Gaps {
				if i > 0 && g.From < now.Gaps[i-1].From {
					t.Fatalf("%s: gaps out of order: %v", name, now.Gaps)
				}
			}
			for _, o := range []*kernel.Log{other, twice} {
				if c := o.Columns[name]; !slices.Equal(c.Values, now.Values) || !slices.Equal(taken(c), taken(now.Column)) || !slices.Equal(c.Gaps, now.Gaps) {
					t.Fatalf("%s: another order of the spans comes to another column", name)
				}
			}
		}
	})
}

func taken(c *kernel.Column) []uint64 {
	if c.Bad == nil {
		return make([]uint64, (len(c.Values)+63)/64)
	}
	return c.Bad
}

// What is found in a log does not depend on how often it is sampled on top: a channel's own
// samples are what counts, not the rows of others.
func TestDeadIsNotOfTheGrid(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := anyLog(t)
		thin := &kernel.Log{End: m.log.End, Columns: map[string]*kernel.Column{}}
		var rows []int
		at := map[int32]int32{}
		for _, c := range m.log.Columns {
			for _, r := range c.Rows {
				rows = append(rows, int(r))
			}
		}
		slices.Sort(rows)
		for _, r := range slices.Compact(rows) {
			at[int32(r)] = int32(len(thin.Times))
			thin.Times = append(thin.Times, m.log.Times[r])
		}
		for name, c := range m.log.Columns {
			cp := *c
			cp.Rows = nil
			for _, r := range c.Rows {
				cp.Rows = append(cp.Rows, at[r])
			}
			thin.Columns[name] = &cp
		}
		if got, want := FindDead(thin, m.channels), FindDead(m.log, m.channels); !slices.Equal(got, want) {
			t.Errorf("%v, without the other rows %v", want, got)
		}
	})
}

// Whatever a log holds, looking for dead sensors ends, and what it says lies in the log.
func FuzzFindDead(f *testing.F) {
	f.Add([]byte{0, 0, 0, 1, 1, 9, 9, 9, 255, 255, 255, 3})
	f.Add(slices.Repeat([]byte{255, 0}, 80))
	f.Fuzz(func(t *testing.T, data []byte) {
		m := &made{log: &kernel.Log{Columns: map[string]*kernel.Column{}}}
		for i := range data {
			m.log.Times = append(m.log.Times, float64(i)*0.1)
		}
		if len(data) == 0 {
			return
		}
		m.log.End = float64(len(data)) * 0.1
		for k, name := range []string{"a", "b"} {
			c := &kernel.Column{Hold: math.Inf(1), Bad: make([]uint64, (len(data)+63)/64)}
			for i, d := range data {
				v := float64(d >> (4 * k) & 15)
				if v == 7 {
					c.Bad[i>>6] |= 1 << (i & 63)
					v = 0
				}
				c.Values = append(c.Values, v)
			}
			m.log.Columns[name] = c
			ch := ranged(name, 0, 15, string(rune('b'-k)))
			ch.Unit, ch.Pair, ch.Still = "1", string(rune('b'-k)), 0.1
			m.channels = append(m.channels, ch)
		}
		for _, d := range FindDead(m.log, m.channels) {
			if !(0 <= d.From && d.From < d.To && d.To <= m.log.End) || d.Why == "" {
				t.Errorf("%+v", d)
			}
		}
	})
}
