package runlog

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/paintmark/paintmark/internal/kernel"
	"github.com/paintmark/paintmark/internal/units"
)

// Starting limits of what a live sensor does. Common practice, but for the pair: two sensors
// of one pedal that are more than a tenth apart for more than 100 ms are a fault in the
// Formula SAE rules, T.4.2. A channel declares its own where these do not fit.
const (
	usualStill   = 10.0 // s a value may stand while its neighbour moves
	slowStill    = 30.0 // s, of a temperature
	fewSamples   = 50   // own samples that stand still before it counts, however slow the channel
	thereAndBack = 3    // times a neighbour goes there and back before it has moved
	swing        = 0.1  // share of its range that it goes
	heldSamples  = 3    // samples at an end of the range
	heldFor      = 0.2  // s at an end of the range
	pairApart    = 0.1  // share of the range
	pairFor      = 0.1  // s
	atTheEnd     = 1e-3 // share of the range that is still the end
)

// health looks at one cleaned log.
type health struct {
	log      *kernel.Log
	channels map[string]*Channel
}

func (h *health) samples(name string) (samples, bool) {
	c := h.log.Columns[name]
	return samples{h.log, c}, c != nil && len(c.Values) > 0
}

// alone finds the flat lines of a channel and what it held at an end of its range, in one
// pass over its samples.
func (h *health) alone(ch *Channel) (dead []Dead) {
	s, there := h.samples(ch.Name)
	if !there {
		return nil
	}
	low, high := ch.stops()
	neighbours := h.neighbours(ch)
	still, period := ch.still(s.period()), s.period()
	flat, held := run{}, run{}
	end := func() {
		dead = h.flat(dead, ch, s, flat, still, period, neighbours)
		flat = run{}
	}
	short := float64(blockSamples)*period < still*(1-1e-9) // a block is shorter than what counts as flat
	for i := 0; i < len(s.Values); i++ {
		if short && i%blockSamples == 0 && s.between(i/blockSamples, low, high) {
			// Within the block there is neither an end of the range nor a flat line that counts: it is looked at from
			// both ends as far as it is flat.
			dead, held = ch.held(dead, s, held, period), run{}
			to := i + blockSamples
			for i < to && (flat.n == 0 || s.value(i) == flat.value) {
				flat.add(i, s.value(i))
				i++
			}
			if i < to {
				end()
				v, first := s.value(to-1), to-1
				for first > i && s.value(first-1) == v {
					first--
				}
				flat = run{first, to - 1, to - first, v}
			}
			i = to - 1
			continue
		}
		if s.bad(i) {
			continue // tells nothing: neither that it moved nor that it stood
		}
		v := s.value(i)
		if flat.n > 0 && v != flat.value {
			end()
		}
		flat.add(i, v)
		if v > low && v < high {
			dead = ch.held(dead, s, held, period)
			held = run{}
			continue
		}
		held.add(i, v)
	}
	return ch.held(h.flat(dead, ch, s, flat, still, period, neighbours), s, held, period)
}

// between says that a block is whole, no sample of it was taken away, and all lie between two numbers.
func (s samples) between(block int, low, high float64) bool {
	from := block * blockSamples
	if from+blockSamples > len(s.Values) || s.Zones == nil || !(s.Zones[block].Least > low && s.Zones[block].Most < high) {
		return false
	}
	return s.Bad == nil || noneSet(s.Bad[from/64:(from+blockSamples)/64])
}

// run is a number of good samples in a row.
type run struct {
	first, last, n int
	value          float64 // of the first
}

func (r *run) add(i int, v float64) {
	if r.n == 0 {
		r.first, r.value = i, v
	}
	r.last = i
	r.n++
}

func (h *health) flat(dead []Dead, ch *Channel, s samples, r run, still, period float64, neighbours []*Channel) []Dead {
	if len(neighbours) == 0 || r.n < fewSamples || float64(r.n)*period < still*(1-1e-9) {
		return dead
	}
	from, to := s.time(r.first), s.until(r.last)
	var moved []string
	for _, n := range neighbours {
		if h.moved(n, from, to) {
			moved = append(moved, n.Name)
		}
	}
	if len(moved) == 0 {
		return dead
	}
	return append(dead, Dead{Channel: ch.Name, From: from, To: to, Why: fmt.Sprintf("stood still at %s while %s moved", ch.say(r.value), strings.Join(moved, " and "))})
}

func (ch *Channel) held(dead []Dead, s samples, r run, period float64) []Dead {
	if r.n < heldSamples || float64(r.n)*period < heldFor*(1-1e-9) {
		return dead
	}
	return append(dead, Dead{Channel: ch.Name, From: s.time(r.first), To: s.until(r.last), Why: fmt.Sprintf("held at the end of its range, %s", ch.say(r.value))})
}

// still is how long the channel may stand still, s.
func (ch *Channel) still(period float64) float64 {
	least := ch.Still
	if least == 0 {
		least = usualStill
		if u, bad := ch.declaredUnit(); bad == nil && u.Type.Kind == units.Point {
			least = slowStill
		}
	}
	return max(least, fewSamples*period)
}

// stops are the values from which a channel is at an end of its range where it does not
// work, SI.
func (ch *Channel) stops() (low, high float64) {
	low, high = math.Inf(-1), math.Inf(1)
	if !ch.Range || ch.Shape != Number {
		return low, high
	}
	room := atTheEnd * (ch.High - ch.Low)
	ends := ch.WorksAt
	if ends == UsualEnds {
		u, bad := ch.declaredUnit()
		if bad != nil {
			return low, high
		}
		ends = NoEnd
		switch lowest, highest := u.Of(ch.Low), u.Of(ch.High); {
		case u.Type == units.Number, math.Abs(lowest) < 1e-9 && math.Abs(highest) < 1e-9:
			ends = BothEnds
		case math.Abs(lowest) < 1e-9:
			ends = LowEnd
		case math.Abs(highest) < 1e-9:
			ends = HighEnd
		}
	}
	if ends != LowEnd && ends != BothEnds {
		low = ch.Low + room
	}
	if ends != HighEnd && ends != BothEnds {
		high = ch.High - room
	}
	return low, high
}

// say is a value in the declared unit.
func (ch *Channel) say(si float64) string {
	switch ch.Shape {
	case YesNo:
		if si != 0 {
			return "yes"
		}
		return "no"
	case Count:
		return strconv.FormatFloat(si, 'f', -1, 64)
	}
	u, bad := ch.declaredUnit()
	if bad != nil {
		return strconv.FormatFloat(si, 'g', 6, 64)
	}
	number := strconv.FormatFloat(u.Of(si), 'g', 6, 64)
	if ch.Unit == "1" {
		return number
	}
	return number + " " + ch.Unit
}

// neighbours are the channels that cannot move long without this one, in the order they are
// declared. What measures the same thing is one, in both directions.
func (h *health) neighbours(ch *Channel) (out []*Channel) {
	names := slices.Clone(ch.MovesWith)
	if ch.Pair != "" {
		names = append(names, ch.Pair)
	}
	for _, name := range sortedNames(h.channels) {
		if h.channels[name].Pair == ch.Name {
			names = append(names, name)
		}
	}
	for _, name := range names {
		n := h.channels[name]
		if n != nil && n != ch && (n.Range || n.Shape != Number) && !slices.Contains(out, n) {
			out = append(out, n)
		}
	}
	return out
}

func sortedNames(m map[string]*Channel) []string {
	names := make([]string, 0, len(m))
	for name := range m {
		names = append(names, name)
	}
	slices.Sort(names)
	return names
}

// moved says that a channel went there and back often enough within a span.
func (h *health) moved(n *Channel, from, to float64) bool {
	s, there := h.samples(n.Name)
	if !there {
		return false
	}
	far := 1.0
	if n.Shape == Number {
		far = swing * (n.High - n.Low)
	}
	legs, way := 0, 0 // way: 1 up, -1 down, 0 not known yet
	low, high := math.Inf(1), math.Inf(-1)
	for i := s.first(from); i < len(s.Values) && s.time(i) < to; i++ {
		if s.bad(i) {
			continue
		}
		v := s.value(i)
		low, high = min(low, v), max(high, v)
		switch {
		case way <= 0 && v-low >= far:
			way, high = 1, v
		case way >= 0 && high-v >= far:
			way, low = -1, v
		default:
			continue
		}
		if legs++; legs == 2*thereAndBack {
			return true
		}
	}
	return false
}

// apart finds where a channel and its pair disagree. Nobody knows then which of them is
// right, so both are dead, but not where one of them is known to be dead by itself.
func (h *health) apart(ch *Channel, alone []Dead) []Dead {
	other := h.channels[ch.Pair]
	if other == nil || other == ch {
		return nil
	}
	far := 0.5
	if ch.Shape == Number {
		if !ch.Range {
			return nil
		}
		far = pairApart * (ch.High - ch.Low)
	}
	a, there := h.samples(ch.Name)
	b, both := h.samples(other.Name)
	if !there || !both {
		return nil
	}
	var out []Dead
	most := 0.0
	from, to := math.NaN(), math.NaN()
	end := func() {
		if to-from > pairFor*(1+1e-9) {
			for _, span := range leftOf(from, to, alone, ch.Name, other.Name) {
				why := ch.Name + " and " + other.Name + " differed by up to " + ch.sayDifference(most)
				out = append(out,
					Dead{Channel: ch.Name, From: span[0], To: span[1], Why: why, Pair: true},
					Dead{Channel: other.Name, From: span[0], To: span[1], Why: why, Pair: true})
			}
		}
		from, to, most = math.NaN(), math.NaN(), 0
	}
	eachBoth(a, b, func(t, until, va, vb float64) {
		d := math.Abs(va - vb)
		if !(d > far*(1+1e-9)) {
			end()
			return
		}
		if t != to { // a hole between the two stretches
			end()
			from = t
		}
		to, most = until, max(most, d)
	})
	end()
	return out
}

func (ch *Channel) sayDifference(si float64) string {
	u, bad := ch.declaredUnit()
	if bad != nil || ch.Shape != Number {
		return strconv.FormatFloat(si, 'g', 4, 64)
	}
	u = u.AsDifference()
	number := strconv.FormatFloat(u.Of(si), 'g', 4, 64)
	if ch.Unit == "1" {
		return number
	}
	if u.Symbol != "" {
		return number + " " + u.Symbol
	}
	return number + " " + ch.Unit
}

// eachBoth goes through the stretches in which both columns stand, in order of time.
func eachBoth(a, b samples, do func(from, to, va, vb float64)) {
	i, k := 0, 0
	for i < len(a.Values) && k < len(b.Values) {
		from := max(a.time(i), b.time(k))
		to := min(a.until(i), b.until(k))
		if from < to && !a.bad(i) && !b.bad(k) {
			do(from, to, a.value(i), b.value(k))
		}
		nextA, nextB := math.Inf(1), math.Inf(1)
		if i+1 < len(a.Values) {
			nextA = a.time(i + 1)
		}
		if k+1 < len(b.Values) {
			nextB = b.time(k + 1)
		}
		if nextA <= nextB {
			i++
		}
		if nextB <= nextA {
			k++
		}
	}
}

// leftOf is what the dead spans of two channels leave of a span.
func leftOf(from, to float64, dead []Dead, names ...string) (out [][2]float64) {
	own := slices.DeleteFunc(slices.Clone(dead), func(d Dead) bool { return !slices.Contains(names, d.Channel) })
	slices.SortFunc(own, func(a, b Dead) int { return cmp.Compare(a.From, b.From) })
	for _, d := range own {
		if d.To <= from || d.From >= to {
			continue
		}
		if d.From > from {
			out = append(out, [2]float64{from, d.From})
		}
		from = max(from, d.To)
	}
	if from < to {
		out = append(out, [2]float64{from, to})
	}
	return out
}
