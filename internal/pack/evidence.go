package pack

import (
	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/expr"
	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
)

// Evidence is all that rules are judged on. It is read-only while checks run.
type Evidence struct {
	// Roots are the car's documents and folded records, by the names of the scope the
	// packs were loaded with. `limits` and the elements of `each` are added per rule.
	Roots map[string]*schema.Value
	// Logs are what may answer log.* calls: logs at hand, or the values that the newest
	// run sheet stored. One run may have several.
	Logs []Log
	// Run is the newest run, 0 before the first; for "not exercised on run 59".
	Run int
	// Signatures are the initials on each joint, oldest first, by its name ("wheel-nut FL").
	Signatures map[string][]Signature
	// Diary tells how old things are; nil: nothing does.
	Diary *Diary
}

// Pairs is the kind of log that stands beside a run's where a declared pair of channels differed too far for
// either to be believed: there they are as they read.
const Pairs = "pairs"

// Log is one source of answers to log.* calls.
type Log struct {
	Kind    string // run | warm-up | stands | cold | return | pairs
	Answers expr.Answers
	From    check.From
}

// Signature is one person's initials on one joint.
type Signature struct {
	Second   bool // the independent second look
	By       string
	Torque   *schema.Value  // nil where none was written
	ToolKind string         // what tools.yaml says the named tool is, "" if it does not know it
	Retained expr.Truthness // clip or other retainer in place
	// Void says why it no longer counts ("opened by job HW-34"), "" while it does.
	Void   string
	Record string
	Pos    source.Pos
}
