// Package kernel evaluates per-sample expressions over logged columns and
// folds them over time, three-valued throughout. It knows nothing of CEL,
// units or files: numbers are SI doubles, times are seconds.
package kernel

// Log is what was logged, on one grid of times. Fields are read-only once built.
type Log struct {
	Times   []float64 // s, strictly increasing
	End     float64   // s, when the last row stops standing: Times[last] + its period
	Columns map[string]*Column
}

// Column is one channel. Its own samples are the rows where it was really
// logged; between them a value stands for at most Hold, then it is missing.
type Column struct {
	Rows   []int32   // grid rows of its own samples, increasing; nil: every row
	Values []float64 // SI, one per own sample; finite, never -0; 0 where taken away
	Bad    []uint64  // one bit per own sample, set where it was taken away; nil: none
	Period float64   // s, its own sampling period; 0 for step data whose times are exact
	Hold   float64   // s, +Inf in examples
	// Gaps says why samples are missing, by span, for the report. Sorted.
	Gaps []Gap
}

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

// The aggregates. Each takes the operands in its comment; `when` may be NoNode.
const (
	Always   Fold = iota // p, when
	Ever                 // p
	Total                // p: seconds true
	Longest              // p: longest unbroken spell, s
	Count                // p: times p becomes true (true in the first row counts)
	Min                  // x, when
	Max                  // x, when
	Mean                 // x, when: weighted by time
	Quantile             // x, when, q: of own samples, type 7 (Hyndman and Fan 1996)
	Integral             // x, when: trapezoid, SI·s
	First                // x, when
	Last                 // x, when
	Response             // trigger, reaction: longest time to react after trigger becomes true
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
}

// Missing is a span of a channel that an answer would have needed.
type Missing struct {
	Channel string
	Gap
}
