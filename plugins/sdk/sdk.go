// Package sdk is the kit for writing checks that need more than an expression. A check is a
// value, a plugin is a list of them, and Main serves it:
//
//	func main() { sdk.Main(sdk.Plugin{Name: "ashgill", Version: "1.0.0", Checks: []*sdk.Check{spread}}) }
//
// All numbers are in SI. Missing is never a pass: whatever a check looked for and did not
// find turns its passes into no data, unless the result says that it holds without
// (Result.Despite).
package sdk

import "context"

// Plugin is a set of checks that are shipped together.
type Plugin struct {
	Name    string // small letters, figures and hyphens; the ids of its checks begin with it and a dot
	Version string // semantic: "1.2.0"
	Checks  []*Check
}

// Check is one thing to look at.
type Check struct {
	ID      string // "ashgill.damper-spread"
	Item    string // what a person calls it
	System  string // part of the car: engine, wing, brakes, ...
	Moments []Moment
	// Applies is which cars it is for, in CEL as in a rule: `car.gearbox.shift == "hydraulic"`.
	// It is asked of the documents before the plugin is even started; "" is for every car.
	Applies string
	// Unit is what measured values are shown in, "bar"; "" for a bare number.
	Unit  string
	Needs Needs
	// Health marks a check of the sensors themselves. It runs before everything else, and
	// the spans its results call Dead are taken away from every rule and every other check.
	Health bool

	Do      string // the remedy
	Caution string // key of the table of hazards, "stored-pressure"; "" for none
	Source  Source
	Accept  Accept
	// Lenient: no data alone does not stand between the car and ready.
	Lenient bool

	// Run looks. It gives one result, or one per position. It is called once for each log
	// that may answer, and the worst answer of a position counts. An error, a panic or no
	// result at all is a fault of the check, never a finding about the car.
	Run func(ctx context.Context, ev *Evidence) ([]Result, error)
}

// Needs is what a check is handed. It gets nothing that it does not name.
type Needs struct {
	// Documents are paths into the car's documents, "car.wing" or "life"; all below is handed over.
	Documents []string
	// Channels of the log. Where one that is not optional is not at hand, the item is no
	// data without Run being asked.
	Channels []ChannelNeed
	// AllChannels asks for every channel the car declares, whether it is in the log or not.
	AllChannels bool
	// From are the kinds of log that may answer: run (when left out), warm-up, stands, cold, return.
	From []string
	// Limits are the figures it holds things against. A team may change them in its
	// limits.yaml under the plugin's name, as it changes those of packs.
	Limits []Limit
}

// ChannelNeed is a channel, and what it must be a channel of.
type ChannelNeed struct {
	Name     string
	Quantity string // "pressure", "temperature", ...; "yes-no", "count" or "number"
	Reads    string // of a pressure: gauge, absolute or difference; "difference" of temperatures
	Optional bool   // Run is asked without it too
}

// Limit is a named figure.
type Limit struct {
	Name    string  // small letters, figures and underscores
	Value   float64 // in Unit; the check is given it in SI
	Unit    string  // "bar", "K" for a difference of temperatures; "" for a bare number
	Tighten string  // up or down: the way a team may change it; "" for not at all
	Source  Source
}

// Moment is when an item is looked at.
type Moment string

// The moments.
const (
	Commit  Moment = "commit"
	Paddock Moment = "paddock"
	Run     Moment = "run"
)

// Source says where a limit or a check comes from.
type Source struct {
	Kind      string // regulation, supplier, test or practice
	Text      string
	Confirmed string // "2026-03-02 by PO", "" while unconfirmed
}

// Accept says who may accept each outcome. The zero value is nobody.
type Accept struct{ Warn, Fail, NoData Acceptor }

// Acceptor is who may accept one outcome. The zero value is nobody.
type Acceptor struct {
	Hats     []string // all of them must agree, by different people: lead-engineer, hydraulics, ...
	Official bool     // only the official, with a document
	Runs     int      // for how many runs, 0 for no limit
}

// Hats lets people accept who wear these hats, all of them together.
func Hats(hats ...string) Acceptor { return Acceptor{Hats: hats} }

// ForRuns is the same for so many runs.
func (a Acceptor) ForRuns(n int) Acceptor {
	a.Runs = n
	return a
}
