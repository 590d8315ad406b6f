// Package kernel evaluates per-sample expressions over logged columns and
// folds them over time, three-valued throughout. It knows nothing of CEL,
// units or files: numbers are SI doubles, times are seconds.
//
// Row i of a log stands from its own time to that of row i+1, the last to the log's end. A
// channel's value stands from its own sample to the next, but no longer than its hold. Where that ends within a
// row wider than the channel's period, the row is split there; a narrower one is not, and the value stands to its end. Before its first own sample a channel is missing, unless that
// comes within one of its periods from the log's start: then its value stands from the start.
//
// A number that is missing may have been anything, so every number carries bounds, and a truth is true,
// false or unknown. An aggregate bounds its value over every way the missing rows could have been. The bounds are the
// least and the greatest such values where each channel occurs once, no condition picks between numbers under an
// operator that is not monotone, and nothing looks at other rows; else they may be wider, never narrower.
//
// A channel may say how far its readings can be off. Each of its samples is then any number within that of
// what was read, by itself, and goes through the same bounds; but it was seen, so it is not missing.
package kernel

// Log is what was logged, on one grid of times. Fields are read-only once built.
type Log struct {
	Times   []float64 // s, strictly increasing; nil where Even tells them
	Even    *Even
	End     float64 // s, when the last row stops standing: the last time + its period
	Columns map[string]*Column
	// Widest is a time, s, longer than which no row stands, from whoever made sure that the times
	// increase; 0: not known, and they are looked through.
	Widest float64
}

// Column is one channel. Its own samples are the rows where it was really
// logged; between them a value stands for at most Hold, then it is missing.
type Column struct {
	Rows   []int32   // grid rows of its own samples, increasing; nil: every row
	Values []float64 // one per own sample, as logged; finite, never -0; any number where taken away
	Line   Line      // makes SI of Values, finite too
	Bad    []uint64  // one bit per own sample, set where it was taken away; nil: none
	Period float64   // s, its own sampling period; 0 for step data whose times are exact
	Hold   float64   // s, +Inf in examples
	// Within is how far a reading may be off, either way, in SI; 0: it is taken at its face.
	Within float64
	// Said is Within in words, for the report: "reads within 0.5 bar".
	Said string
	// Zones bound the samples that were not taken away, ZoneSamples at a time; nil: not known.
	Zones []Zone
	// Gaps says why samples are missing, by span, for the report. Sorted.
	Gaps []Gap
}

// SI are the values in SI, not to be written to.
func (c *Column) SI() []float64 {
	if c.Line.Scale == 0 {
		return c.Values
	}
	out := make([]float64, len(c.Values))
	c.Line.convert(out, c.Values)
	return out
}

// ZoneSamples is how many own samples a Zone bounds.
const ZoneSamples = blockRows

// Zone bounds samples, in SI. They need not come near the bounds. Where there is none to bound,
// Least is above Most.
type Zone struct{ Least, Most float64 }

// Gap is a span of a channel that was taken away, and why.
type Gap struct {
	From, To float64 // s
	Why      string  // "reads its fault value -40 °C"
}

// Node is a per-sample expression: numbers or truths.
type Node int32

// Agg is an aggregate over a log.
type Agg int32

// Op is an operator on two nodes.
type Op uint8

// The operators. Compare operators give truths.
const (
	Add Op = iota
	Sub
	Mul
	Div
	Least
	Greatest
	Less
	LessEq
	More
	MoreEq
	Equal
	NotEqual
	And
	Or
)

// Fold is an aggregate's kind.
type Fold uint8

// The aggregates. Each takes the operands in its comment; `when` may be NoNode, and is then true. A row in
// which `when` is unknown counts or does not, whichever widens the bounds.
const (
	// Always p, when: in no row is `when` true and p false. At is the first row that is.
	Always Fold = iota
	// Ever p: some row has p true. At is the first.
	Ever
	// Total p: seconds for which p is true. At is the first such row. Both ends of each spell are
	// known to one sampling period, as for Longest.
	Total
	// Longest p: seconds of the longest unbroken spell of p. At is where it starts. It began up to
	// one sampling period of p's slowest channel before its first row, but not before the log, and
	// ended up to one before the row after its last: a spell found lies in [found - period, found +
	// period]. Exact times have no period, and what is never true lasts exactly 0.
	Longest
	// Count p: times p becomes true; true in the first row counts. An unknown row may differ from an unknown one
	// before it only if a sample of a channel beneath p came, or was due, in between. If such a channel is not
	// logged, or its times are exact, nothing says when, and the upper bound is +Inf.
	Count
	// Min x, when: the least x. Its upper bound is +Inf if `when` is never surely true. At is the
	// row of the lower bound, or, if that is -Inf, of the upper.
	Min
	// Max x, when: the mirror of Min.
	Max
	// Mean x, when: weighted by time.
	Mean
	// Quantile x, when, q: of own samples, type 7 (Hyndman and Fan 1996). Where none came for longer than
	// one stands, as many are missing as were due.
	Quantile
	// Integral x, when: SI·s; by the trapezoid rule between own samples, while a value that is followed by a
	// missing one, by the log's end, or is of a channel with exact times, stands.
	Integral
	// First x, when: x in the first row in which `when` is true.
	First
	// Last x, when: x in the last row in which `when` is true.
	Last
	// Response trigger, reaction: the longest time from the trigger becoming true (in the first row, too) to the reaction being
	// true, at or after it. Unanswered: [time left, +Inf). Never triggered: Empty.
	Response
	// Damage x: what the cycles of x wear, by a Wear; of own samples.
	Damage
)

// NoNode stands for an operand that was left out.
const NoNode Node = -1

// Answer is what an aggregate found. Low and High bound the value over every
// way the missing samples could have been; they are equal where it does not matter.
// For Always and Ever they are 0 (false) or 1 (true).
type Answer struct {
	Low, High float64
	// Empty: there was nothing to fold: the filter or the trigger was never true
	// and can never have been, or x has no sample under it. Low and High are then meaningless.
	Empty bool
	// At is when in the log the value stands (start of the spell, the worst sample,
	// the trigger of the longest response); NaN where there is no such time.
	At float64
	// Within is the time resolution: a Response lies in [found - reaction period, found + trigger period],
	// which Low and High already hold; At is good to ± Within.
	Within float64
	// Missing lists the channels and spans that left Low and High apart, or that
	// leaned on the answer although it holds either way. Sorted by channel and time.
	Missing []Missing
	// MaybeEmpty: whether there was anything to fold hangs on missing samples. Low and High then
	// bound the value in case there was.
	MaybeEmpty bool
	// Vague are the channels that read only within something, where the answer leaned on that. Sorted.
	Vague []Vague
}

// Vague is a channel whose readings may be off.
type Vague struct {
	Channel string
	Said    string // "reads within 0.5 bar"
}

// Missing is a span of a channel that an answer would have needed.
type Missing struct {
	Channel string
	Gap
}
