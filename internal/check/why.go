package check

import "github.com/paintmark/paintmark/internal/source"

// Why is one item taken apart: what the rule says, what every part of it came to, and
// what the log shows around the answer.
type Why struct {
	Item   Item
	Parts  []Part   // in the order they were asked
	Limits []Bound  // what the measure is held against
	Series *Series  // nil where there is nothing to draw
	Others []string // the rule's other elements, "FR pass"
}

// Part is one expression of a rule.
type Part struct {
	Name  string // applies | seen | each | measure | holds
	Text  string
	Where source.Pos
	Steps []Step
}

// Step is one sub-expression with its value in words.
type Step struct {
	Text    string
	Value   string
	Remarks []string // where it is written, when in the log, what the channels read there, why it is open
}

// Bound is one limit of a rule.
type Bound struct {
	Limit
	Text string // as written, "limits.shift_pressure_min"
	Due  bool
}

// Series is one quantity over a log, folded into spans of equal length.
type Series struct {
	Name     string // what is drawn, "hyd_pressure"
	Unit     string
	From, To float64 // s
	Spans    []Span
	Counted  bool // the rule counts only some of the spans
	Limits   []Limit
	Worst    *Mark
	Unseen   []Unseen
}

// Span is what a series did in one part of the time.
type Span struct {
	Low, High float64 // in Unit
	Seen      bool    // there was a sample
	Missing   bool    // some of it was not seen
	Counts    bool    // the rule counted some of it
}

// Mark is where an answer stands.
type Mark struct {
	At
	Value float64 // in Unit
}
