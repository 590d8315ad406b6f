package sdk

// Outcome is what was found for one item.
type Outcome string

// The outcomes. Missing is never Pass.
const (
	Pass          Outcome = "pass"
	Warn          Outcome = "warn"
	Fail          Outcome = "fail"
	NoData        Outcome = "no data"
	NotApplicable Outcome = "not applicable"
)

// Result is one item with its evidence.
type Result struct {
	Position string // the element looked at, "FL"; "" where there is only one
	Outcome  Outcome
	// Message is one plain line. Where there is a Measured or a Limit the report says them
	// itself, so that here stands only what they do not say; it may then be "".
	Message  string
	Measured *Value // SI, as the check's Unit measures
	Limit    *Bound // the one that decided, or the nearest where none did
	At       *At
	// Despite names channels and document paths of which something is missing that cannot
	// change this outcome. Without it a pass that leaned on them is turned into no data.
	Despite []string
	Unseen  []Span // spans of channels that were not seen; those of Despite come by themselves
	Dead    []Span // of a Health check: spans that nobody may believe
	// Inputs are document paths it rests on, beside those read through the Evidence.
	Inputs []string
	// ClearedWith is the id of a rule that looks at the same thing, "" for none. Where that rule takes a
	// proof on stands, after a repair, in the place of what this log said, this result takes it too.
	ClearedWith string
}

// CannotTell is no data, and why.
func CannotTell(why string) Result { return Result{Outcome: NoData, Message: why} }

// One is what a check of one item gives.
func One(r Result) ([]Result, error) { return []Result{r}, nil }

// At is when in the log, seconds from its first row.
type At struct {
	Time   float64
	Within float64 // time resolution, ± s
}

// Span is a part of a channel's time.
type Span struct {
	Channel  string
	From, To float64 // s
	Why      string  // "reads its fault value"
}

// Value is a number in SI that is known to lie between two bounds, which may be infinite.
// The zero Value is not known.
type Value struct {
	Low, High float64
	Known     bool
}

// Exactly is a value known exactly.
func Exactly(x float64) Value { return Value{x, x, true} }

// Between is a value between bounds.
func Between(low, high float64) Value { return Value{min(low, high), max(low, high), true} }

// AllKnown says whether every value is.
func AllKnown(values ...Value) bool {
	for _, v := range values {
		if !v.Known {
			return false
		}
	}
	return true
}

// Mid is the middle of the bounds, or the bound that is finite.
func (v Value) Mid() float64 {
	switch {
	case v.Low == v.High:
		return v.Low
	case isInf(v.Low):
		return v.High
	case isInf(v.High):
		return v.Low
	}
	return v.Low + (v.High-v.Low)/2
}

// Bound is a figure that a measured value was held against.
type Bound struct {
	Low, High float64 // SI; infinite where that side is open
	Name      string  // of the declared limit it comes from; "" where it was worked out
	Source    Source  // where it was worked out from; that of the named limit, else of the check, when left out
	Means     Outcome // what passing it means: Warn or Fail
}
