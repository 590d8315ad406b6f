// Package pack reads rule packs, checks them whole before anything is judged,
// and judges a car's evidence by their rules.
package pack

import (
	"maps"
	"slices"
	"strings"

	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/expr"
	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
)

// Pack is one rule pack with the rules in it that are fit to use.
type Pack struct {
	Name      string
	Version   string // semantic version
	Title     string
	Effective string // date as written, "" for none
	Bulletins []string
	File      string
	Limits    []*Limit // in the order written
	Rules     []*Rule  // in the order written; rules with faults are left out

	limits   *schema.Value // the root `limits`
	channels map[string]expr.Channel
	env      *expr.Env
}

func (p *Pack) channelNames() []string { return slices.Sorted(maps.Keys(p.channels)) }

// Limit is one named limit of a pack, in SI, with where it comes from.
type Limit struct {
	Name    string
	Value   *schema.Value
	Tighten string // "up", "down", or "" where it may not be overridden in a no-go or regulation rule
	Source  check.Source
	Where   source.Pos
	// Overridden is where the car's limits.yaml replaced the pack's value; the zero Pos where it did not.
	Overridden source.Pos
}

// Rule is one rule, compiled. Its Card is all that can be said before anything is measured.
type Rule struct {
	check.Card
	Pack *Pack

	from    []string // kinds of log that may answer
	readLog bool
	paths   []string // document values it may read, as far as the text tells; sorted

	each     *expr.Expr // list of elements; nil for one item
	eachName string
	eachKey  string // field that names an element

	applies *expr.Expr
	seen    *expr.Expr

	measure         *expr.Expr
	scale           scale
	fail, warn, due *bound

	holds     *expr.Expr
	otherwise check.Outcome // outcome of a `holds` that is false

	signed *signed

	fresh    *fresh
	cleared  *expr.Expr // the proof on stands that may stand in for a run's log; nil for none
	lookedAt *expr.Expr // what must have been looked at for it to; nil for nothing

	accept   acceptance
	examples []*source.Node
}

// bound is a limit on a measure: one side, or both for `outside`.
type bound struct {
	lo, hi *expr.Expr // least and greatest value allowed; nil where that side is open
	limit  *Limit     // the named limit it is, nil where it is worked out from more than one
	where  source.Pos
}

// Reads says that the rule may read a document value at one of the paths, or a part of it.
func (r *Rule) Reads(paths []string) bool {
	return slices.ContainsFunc(paths, func(path string) bool {
		return slices.ContainsFunc(r.paths, func(p string) bool {
			return p == path || strings.HasPrefix(p, path+".") || strings.HasPrefix(path, p+".")
		})
	})
}

// AnsweredBy says that the rule is over the log and that a log of this kind may answer it.
func (r *Rule) AnsweredBy(kind string) bool { return r.readLog && slices.Contains(r.from, kind) }
