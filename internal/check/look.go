package check

import (
	"time"

	"github.com/paintmark/paintmark/internal/source"
)

// Verdict is what the items come to for the car.
type Verdict string

// The verdicts.
const (
	Ready      Verdict = "ready"
	NeedsNames Verdict = "needs names"
	NoGo       Verdict = "no-go"
)

// Look is one look over the car: all that a report of any format tells.
type Look struct {
	Verdict Verdict
	// Part says that less than everything was looked at, and why in words
	// ("part hydraulics", "log t3-057.csv is not the newest run's"). A part look
	// has no verdict; Verdict is then only what the items looked at come to.
	Part string

	Car    string // "Ashgill Tern 3"
	Number string // start number
	Place  string // of the event
	Setup  string // revision of the setup sheet
	AsOf   time.Time
	Zone   *time.Location // of the event; every time is printed in it
	Run    int            // the newest run, 0 before the first
	Next   string         // the session the next run belongs to, "P2"; "" when the plan has no more
	Log    string         // the log that answered, "" for none

	Faults []ToolFault // sorted
	Inputs []File      // sorted by path
	Items  []Item      // sorted by consequence
	// Remarks are things to know about the inputs that are no fault: rows of a log left out,
	// a log that is not at hand.
	Remarks []string
	// LockedOut are the systems that are made safe and left out of use, with state and initials.
	LockedOut []string
	// FirstToFall says which life limit falls first: "clutch pack CL-05, launches 47 of 60,
	// 8 planned: 55"; "" where no part on the car has a limit that is known.
	FirstToFall string

	Deviations Deviations
}

// Item is a result with what the verdict made of it.
type Item struct {
	Result
	// Open: it stands between the car and READY.
	Open bool
	// Who has to move: hats. For an open item that may be accepted, all of them must.
	Who []string
}

// Stops says that no name clears this item: it has to be put right.
func (it *Item) Stops() bool { return it.Open && it.Acceptor().Nobody() }

// ToolFault is a fault of the tool or its input, never a finding about the car.
type ToolFault struct {
	source.Fault
	Systems []string // what cannot be trusted to this report because of it; none: all of it
}

// File is one input by content.
type File struct{ Path, SHA256 string }

// Deviations counts what the team runs with.
type Deviations struct{ Open, Most int }

// Acceptor is who may accept this result as it came out.
func (r *Result) Acceptor() Acceptor {
	switch r.Outcome {
	case Warn:
		return r.Card.Accept.Warn
	case Fail:
		return r.Card.Accept.Fail
	case NoData:
		return r.Card.Accept.NoData
	}
	return Acceptor{}
}
