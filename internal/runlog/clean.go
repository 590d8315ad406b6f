package runlog

import (
	"fmt"
	"math"
	"runtime"
	"slices"
	"strconv"
	"sync"

	"github.com/paintmark/paintmark/internal/kernel"
	"github.com/paintmark/paintmark/internal/source"
	"github.com/paintmark/paintmark/internal/units"
)

// holdPeriods is for how many periods a value stands where nothing is declared.
const holdPeriods = 3

// mostGaps is how many spans of one channel are told apart in a report.
const mostGaps = 1000

// Clean turns the declared channels of a log into columns in SI, with every
// sample taken away that must not be believed: out of the declared range, on
// the declared fault value, without a number. A declared channel the log does
// not hold, or holds no sample of, is not in the result. A unit in the file
// that is not the declared one is a fault, and that channel is left out.
// raw may not be used for another Clean at the same time.
func Clean(raw *Raw, channels []Channel) (*kernel.Log, source.Faults) {
	log := raw.times()
	log.Columns = map[string]*kernel.Column{}
	if n := log.Rows(); n > 0 {
		log.End = log.Time(n-1) + raw.Step
		log.Widest = raw.widest
	}
	cleaned := make([]*kernel.Column, len(channels))
	faults := make([]*source.Fault, len(channels))
	var group sync.WaitGroup
	next := make(chan int)
	for range min(runtime.GOMAXPROCS(0), len(channels)) {
		group.Go(func() {
			for i := range next {
				cleaned[i], faults[i] = channels[i].clean(raw, log.End)
			}
		})
	}
	for i := range channels {
		next <- i
	}
	close(next)
	group.Wait()
	var all source.Faults
	for i, c := range cleaned {
		if faults[i] != nil {
			all = append(all, *faults[i])
		}
		if c != nil {
			log.Columns[channels[i].Name] = c
		}
	}
	return log, all.Sorted()
}

// clean makes one channel's column; nil where the log does not have it.
func (ch *Channel) clean(raw *Raw, end float64) (*kernel.Column, *source.Fault) {
	c := raw.Column(ch.InLog)
	if c == nil || len(c.Values) == 0 {
		return nil, nil
	}
	unit, bad := ch.declaredUnit()
	if bad != nil {
		return nil, bad
	}
	if bad := ch.checkUnit(c, unit); bad != nil {
		return nil, bad
	}
	out := &kernel.Column{Rows: c.Rows, Hold: ch.Hold, Within: ch.Within}
	if ch.Within > 0 {
		out.Said = "reads within " + strconv.FormatFloat(unit.AsDifference().Of(ch.Within), 'g', 6, 64) + ch.symbol()
	}
	switch {
	case c.Step > 0:
		out.Period = c.Step
	case ch.Rate > 0:
		out.Period = 1 / ch.Rate
	}
	if out.Hold == 0 {
		out.Hold = holdPeriods * out.Period
		if ch.Rate > 0 {
			out.Hold = holdPeriods / ch.Rate
		}
	}
	if out.Hold == 0 { // a single sample of no known rate stands to the end
		out.Hold = math.Inf(1)
	}
	out.Values = c.Values
	if scale, offset := unit.Line(); scale != 1 || offset != 0 {
		out.Line = kernel.Line{Scale: scale, Offset: offset}
	}
	out.Bad = slices.Clone(c.Bad)
	out.Zones = c.zones(out.Line)
	g := gapper{raw: raw, column: c, end: end, hold: out.Hold, words: ch.words(unit)}
	b := ch.belief()
	out.Gaps = g.sweep(ch.judge(b, out, c, raw), func(block int) bool { return b.covers(out.Zones[block]) }, out)
	keepFinite(out)
	return out, nil
}

// keepFinite makes SI of a column's values here where some, which were taken away, are too large for it.
func keepFinite(c *kernel.Column) {
	if !slices.ContainsFunc(c.Zones, func(z kernel.Zone) bool { return math.IsInf(z.Least, 0) || math.IsInf(z.Most, 0) }) {
		return
	}
	values := make([]float64, len(c.Values))
	for i, v := range c.Values {
		if si := c.Line.SI(v); !math.IsInf(si, 0) {
			values[i] = si
		}
	}
	c.Values, c.Line = values, kernel.Line{}
}

// reason is why a sample is taken away.
type reason uint8

const (
	good reason = iota
	noNumber
	ragged
	faultValue
	outside
	notYesNo
	notWhole
	noSample // nothing is there to take away
	reasons
)

// words gives each reason as the report prints it.
func (ch *Channel) words(unit units.Unit) (w [reasons]string) {
	w[noNumber] = "no number in the log"
	w[ragged] = "its row has a wrong number of cells"
	w[notYesNo] = "neither 0 nor 1"
	w[notWhole] = "not a whole number"
	number := func(si float64) string { return strconv.FormatFloat(unit.Of(si), 'g', 6, 64) }
	symbol := ch.symbol()
	if ch.FaultValue != nil {
		w[faultValue] = "reads its fault value " + number(*ch.FaultValue) + symbol
	}
	if ch.Range {
		w[outside] = fmt.Sprintf("outside %s to %s%s", number(ch.Low), number(ch.High), symbol)
	}
	return w
}

// symbol is the unit as it stands behind a number.
func (ch *Channel) symbol() string {
	if ch.Shape != Number || ch.Unit == "1" {
		return ""
	}
	return " " + ch.Unit
}

// zones bounds the samples that are numbers, in SI.
func (c *Column) zones(line kernel.Line) []kernel.Zone {
	zones := make([]kernel.Zone, (len(c.Values)+blockSamples-1)/blockSamples)
	for i := range zones {
		var b blockSum
		if c.blocks != nil {
			b = c.blocks[i]
		} else {
			b = c.sumUp(i)
		}
		zones[i] = kernel.Zone{Least: line.SI(b.least), Most: line.SI(b.most)}
	}
	return zones
}

// belief is what a channel's readings must be to be believed, in SI.
type belief struct {
	low, high   float64
	fault, near float64 // no reading is nearer to its fault value; NaN where it has none
	shape       Shape
}

func (ch *Channel) belief() belief {
	b := belief{low: math.Inf(-1), high: math.Inf(1), fault: math.NaN(), shape: ch.Shape}
	if ch.Range {
		// On the limit passes, to 1 part in 10^9.
		slack := 1e-9 * max(math.Abs(ch.Low), math.Abs(ch.High))
		b.low, b.high = ch.Low-slack, ch.High+slack
	}
	if ch.FaultValue != nil {
		b.fault, b.near = *ch.FaultValue, ch.faultTolerance()
	}
	return b
}

// covers says that every number in a zone is believed. The greater a number the greater its distance to the
// fault value below it, rounded or not.
func (b belief) covers(z kernel.Zone) bool {
	inside := z.Least >= b.low && z.Most <= b.high && !math.IsInf(z.Least, 0) && !math.IsInf(z.Most, 0)
	faultless := math.IsNaN(b.fault) || z.Least-b.fault > b.near || b.fault-z.Most > b.near
	return inside && faultless && b.shape == Number
}

// judge gives the function that judges own sample i with its value in SI.
func (ch *Channel) judge(b belief, out *kernel.Column, c *Column, raw *Raw) func(i int) reason {
	return func(i int) reason {
		v := out.Line.SI(c.Values[i])
		switch {
		case c.IsBad(i):
			if _, ok := slices.BinarySearch(raw.ragged, int32(c.Row(i))); ok {
				return ragged
			}
			return noNumber
		case math.IsInf(v, 0): // too large once in SI
			return noNumber
		case math.Abs(v-b.fault) <= b.near:
			return faultValue
		case v < b.low || v > b.high:
			return outside
		case ch.Shape == YesNo && v != 0 && v != 1:
			return notYesNo
		case ch.Shape == Count && v != math.Trunc(v):
			return notWhole
		}
		return good
	}
}

// faultTolerance is how far a converter may miss the fault value it stands for.
func (ch *Channel) faultTolerance() float64 {
	if ch.Range {
		return 1e-3 * (ch.High - ch.Low)
	}
	return 1e-4 * max(math.Abs(*ch.FaultValue), 1e-6)
}

// gapper gathers the spans of samples that are taken away.
type gapper struct {
	raw       *Raw
	column    *Column
	end, hold float64
	words     [reasons]string
	gaps      []kernel.Gap
	why       reason
	since     float64
}

// sweep goes through all own samples, marks the bad ones in out, and gives
// the spans without a value. Blocks that are believed as a whole it passes over.
func (g *gapper) sweep(judge func(int) reason, believed func(block int) bool, out *kernel.Column) []kernel.Gap {
	times := g.raw.times()
	hold := g.hold * (1 + 1e-9)
	g.words[noSample] = fmt.Sprintf("no sample for more than %.3g s", g.hold)
	before := times.Time(0)
	if first := times.Time(g.column.Row(0)); first-before > out.Period*(1+1e-9) {
		g.open(noSample, before)
	}
	steady := g.column.Rows == nil && g.raw.widest > 0 && g.raw.widest <= hold
	for i := 0; i < len(out.Values); i++ {
		if i%blockSamples == 0 && steady && g.why == good && believed(i/blockSamples) && g.column.whole(i/blockSamples) {
			_, to := g.column.span(i / blockSamples)
			i, before = to-1, times.Time(to-1)
			continue
		}
		t := times.Time(g.column.Row(i))
		if i > 0 && g.why == good && t-before > hold {
			g.open(noSample, before+g.hold)
		}
		why := judge(i)
		if why != good {
			if out.Bad == nil {
				out.Bad = make([]uint64, (len(out.Values)+63)/64)
			}
			out.Bad[i>>6] |= 1 << (i & 63)
		}
		if why != g.why {
			g.close(t)
			if why != good {
				g.open(why, t)
			}
		}
		before = t
	}
	if g.why == good && g.end-before > hold {
		g.open(noSample, before+g.hold)
	}
	g.close(g.end)
	return g.gaps
}

func (g *gapper) open(why reason, from float64) { g.why, g.since = why, from }

func (g *gapper) close(to float64) {
	why := g.why
	if g.why = good; why == good {
		return
	}
	if len(g.gaps) == mostGaps {
		last := &g.gaps[mostGaps-1]
		last.To = to
		if last.Why != manyReasons {
			last.Why = manyReasons
		}
		return
	}
	g.gaps = append(g.gaps, kernel.Gap{From: g.since, To: to, Why: g.words[why]})
}

const manyReasons = "many more spans without a value"
