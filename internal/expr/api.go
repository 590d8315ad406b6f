// Package expr is CEL over a car: names typed by schemas, units checked, unknowns
// carried, and per-sample arguments of log.* lowered to kernels. It is the only door to
// cel-go.
//
// The way of an expression: CEL parses it (plain ones are parsed by quick.go, which
// gives the same tree) and checks its types; tree.go makes a tree of our own of it and
// refuses what rules may not say; survey.go gives every part its unit; analyse.go finds
// what has a value for each sample. An evaluation walks that tree (eval.go), calls CEL's
// own functions for all that is exact (standard.go, arith.go), and hands log calls to
// the kernel (ask.go, lower.go).
//
// An exact expression comes out as CEL has it, with these exceptions, so that nothing
// missing can pass for a value:
//   - a number that is not finite, as 1.0/0.0, and a comparison with what is no number are undecided;
//   - an element beyond the end of a document's list, and a key that a document lacks, are undecided, not an error;
//   - a list or a map with an unknown element is not unknown as a whole;
//   - has, dyn, type, null, == on objects and maps, and going through a document's map are refused.
package expr

import (
	"context"

	"github.com/paintmark/paintmark/internal/kernel"
	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
	"github.com/paintmark/paintmark/internal/units"
)

// Scope lists every name an expression may use.
type Scope struct {
	Roots    map[string]*schema.Type // car, setup, measured, ..., limits, elements of `each`
	Channels map[string]Channel
	Derived  []Derived // a name here wins over one in Channels
	// Graph takes the per-sample expressions; nil for a graph of this scope's own. Scopes that
	// share one are answered in one pass over a log.
	Graph *kernel.Graph
}

// Channel is what a name in a log is a number of.
type Channel struct {
	Shape Shape
	Unit  units.Type // of a Number
}

// Shape is what one sample of a channel is.
type Shape uint8

// The shapes: double in SI, bool, int (gear-like).
const (
	Number Shape = iota
	YesNo
	Count
)

// Derived is a named per-sample expression.
type Derived struct {
	Name string
	Text *source.Node
}

// Want is what the place expects of an expression.
type Want uint8

// The wants.
const (
	Truth  Want = iota // bool
	Value              // quantity, number or integer
	TextOf             // string
	ListOf             // list, for `each`
)

// Inputs is what an expression is evaluated on.
type Inputs struct {
	Roots map[string]*schema.Value
	Log   Answers // nil: no log at hand
}

// Answers gives aggregates: a kernel.Runner over a log, or the values a run sheet stored.
type Answers interface {
	// Answer is the aggregate's value; ok is false where this source cannot give it.
	Answer(ctx context.Context, g *kernel.Graph, a kernel.Agg) (ans kernel.Answer, ok bool, err error)
}

// Truthness is three-valued.
type Truthness int8

// The three values.
const (
	False   Truthness = -1
	Unknown Truthness = 0
	True    Truthness = 1
)

// Answer is what an expression evaluated to.
type Answer struct {
	Truth     Truthness // of a Truth
	Low, High float64   // of a Value, SI; bounds; ±Inf where nothing bounds it
	Text      string
	List      []*schema.Value
	// Open: undecided. For a Value: Low and High are both infinite or not numbers; for a Truth: Unknown.
	Open bool
	// Empty: undecided because a log call had nothing to fold (not exercised).
	Empty bool
	// NotFitted: undecided because a field with x-absent: not-fitted is absent.
	NotFitted bool
	Gaps      []Gap         // what left it open, in order of position
	Calls     []Call        // the log.* calls asked, in order of position
	Read      []Read        // document values it rests on, in order of path
	Fault     *source.Fault // a run-time error of the expression: a fault, never a finding
}

// Gap is a missing document value or channel that an expression needed.
type Gap struct {
	Path string // "measured.wing.close_time", or a channel
	Pos  source.Pos
	Why  string // "outside the points of its curve"; "" where it is simply missing
	// Vague: nothing is missing, the channel reads only within something.
	Vague bool
}

// Read is a document value that an expression read.
type Read struct {
	Path  string
	Value *schema.Value
}

// Call is one log.* call with its answer.
type Call struct {
	Text   string // as written
	Key    string // canonical: the call with its scalar inputs filled in
	Answer kernel.Answer
	OK     bool // false: no log, or this source could not give it
	Agg    kernel.Agg
	// Operands are the per-sample expressions it folds, as in kernel.Fold: x or p, then its
	// filter; trigger, then reaction.
	Operands []kernel.Node

	node *node
}
