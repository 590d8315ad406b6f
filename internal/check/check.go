// Package check holds the few types that rules, plugins and reports share.
package check

import (
	"context"
	"slices"

	"github.com/paintmark/paintmark/internal/source"
)

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

// WorseThan orders outcomes by what they mean for the car: what nobody could decide is worse
// than a warn, and only a fail is worse than that.
func (o Outcome) WorseThan(p Outcome) bool {
	order := []Outcome{NotApplicable, Pass, Warn, NoData, Fail}
	return slices.Index(order, o) > slices.Index(order, p)
}

// Moment is when an item is looked at.
type Moment string

// The moments.
const (
	Commit  Moment = "commit"
	Paddock Moment = "paddock"
	Run     Moment = "run"
)

// Card describes a check: all that can be said before anything is measured.
type Card struct {
	ID      string // "hydraulics.shift-pressure"
	Item    string // what a person calls it
	System  string
	Moments []Moment
	Unit    string // the unit it is read in
	Do      string // remedy
	Caution string // key of the hazard table, "" for none
	Source  Source
	Accept  Accept
	// Lenient: `no-data: caution`, no data alone does not open the item.
	Lenient bool
	Where   source.Pos // where the check is written
}

// Source says where a limit or a rule comes from.
type Source struct {
	Kind      string // regulation | supplier | test | practice
	Text      string
	Confirmed string // "2026-03-02 by PO", "" while unconfirmed
}

// Accept says who may accept each outcome.
type Accept struct{ Warn, Fail, NoData Acceptor }

// Acceptor is who may accept one outcome. The zero value is nobody.
type Acceptor struct {
	Hats     []string // all of them must agree, by different people
	Official bool     // only the official, with a document
	Runs     int      // for how many runs, 0 for no limit
}

// Nobody says that no one may accept.
func (a Acceptor) Nobody() bool { return len(a.Hats) == 0 && !a.Official }

// NoGo says that a fail of this item can be accepted by nobody.
func (c *Card) NoGo() bool { return c.Accept.Fail.Nobody() }

// Check is one thing to look at; Run gives one result, or one per element.
type Check struct {
	Card
	Run func(context.Context) []Result
}

// Result is one item with its evidence.
type Result struct {
	Card     *Card
	Position string // element of an `each`: "FL", "" otherwise
	Outcome  Outcome
	Message  string // one plain line that stands alone, why this outcome
	// Note is the part of Message that value, limit and time do not say
	// ("holds either way, oil_temp unseen"); "" for nothing more.
	Note     string
	Measured *Measured
	Limit    *Limit
	Margin   *float64 // in Unit, positive is safe; nil where no limit was compared
	At       *At
	From     From
	Where    source.Pos // of the value in a document, or of the rule
	Unseen   []Unseen
	Due      *Limit // a `due` limit that was passed; needs no name
	// Cleared says what a proof on stands stands in for ("after job SQ-35; 0.47 s on run 57"), "" for nothing.
	Cleared string
	// NotExercised: nothing happened on the run by which it could be judged.
	NotExercised bool
	// ProvenOn is the newest run on which an item that was not exercised was decided, 0 for none.
	ProvenOn int
	// Deviation names the record that covers this item; the outcome stays.
	Deviation string
	Inputs    []Input // the document values it rests on
	// Fault: the check itself broke (then Outcome is NoData). A fault of the tool, not a finding.
	Fault *source.Fault
}

// Name is what records call an item: its rule, and its position where it has one.
func (r *Result) Name() string {
	if r.Position == "" {
		return r.Card.ID
	}
	return r.Card.ID + " " + r.Position
}

// Measured is a value in Unit. Low and High differ where samples are missing or time
// resolves only so far; infinite where nothing bounds them.
type Measured struct {
	Value, Low, High float64
	Unit             string
}

// Limit is the limit that decided, or the nearest one when the item passes.
type Limit struct {
	Kind    string // "min" | "max" | "a to b"
	Value   float64
	Upper   float64 // of "a to b"
	Unit    string
	Source  Source
	Where   source.Pos
	Outcome Outcome // what passing it means: warn, fail
}

// At is when in the log, seconds from its first row.
type At struct {
	Time   float64
	Within float64 // time resolution, ± s
}

// From is what answered: a run's log, a record, or a document.
type From struct {
	Kind   string // "log" | "run sheet" | "record" | "document" | ""
	Run    int    // run number, 0 if none
	Record string
	Age    string // "2 runs", "1 d", "" when fresh
}

// Unseen is a span of a channel that was taken away or never there.
type Unseen struct {
	Channel  string
	From, To float64 // s
	Why      string  // "open circuit (reads its fault value)"
}

// Input is a document value that an answer rests on.
type Input struct {
	Path  string // "car.hydraulics.pump_on"
	Value string // as written
	Where source.Pos
}
