package pack

import (
	"slices"
	"strconv"
	"strings"

	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/expr"
	"github.com/paintmark/paintmark/internal/source"
)

// hats are the jobs people of a team hold, as people.yaml names them.
var hats = []string{"lead-engineer", "chief-mechanic", "engine", "gearbox", "data", "tyres", "driver", "mechanic", "fuel", "hydraulics", "electrical"}

const (
	nobody   = "nobody"
	official = "official"
)

// acceptDraft is who may accept each outcome, as written. A nil node means that
// the acceptor in the same place is fixed.
type acceptDraft struct {
	fixed   check.Accept
	byValue map[check.Outcome]*source.Node
}

// acceptance is who may accept, once compiled: fixed, or worked out per element.
type acceptance struct {
	fixed   check.Accept
	byValue map[check.Outcome]*expr.Expr
}

var hatName = source.Form(`^[a-z]+(-[a-z]+)*$`)

// accept reads `accept`: one word for every outcome, or one entry per outcome.
// What is left out nobody may accept; a warn has to be spelt out, because a warn
// that nobody may accept is a fail.
func (f *form) accept(n *source.Node, d *ruleDraft) acceptDraft {
	a := acceptDraft{byValue: map[check.Outcome]*source.Node{}}
	warns := d.warn != nil || d.rule.otherwise == check.Warn
	if n == nil {
		if warns {
			f.fault(d.pos, "the rule can warn but does not say who may accept", "add `accept: {warn: [lead-engineer]}` with the hats that must agree")
		}
		return a
	}
	if n.Kind != source.Map {
		for _, o := range []check.Outcome{check.Warn, check.Fail, check.NoData} {
			f.acceptor(&a, o, n)
		}
		return a
	}
	keys := f.fields(n, "accept", "warn", "fail", "no-data")
	if warns && keys["warn"] == nil {
		f.fault(n.Pos, "accept does not say who may accept a warn", "add `warn:` with the hats that must agree")
	}
	if n := keys["no-data"]; n != nil && d.signed != nil && n.Text != nobody {
		f.fault(n.Pos, "missing initials cannot be accepted", "write `no-data: nobody`, or leave it out")
	}
	for key, o := range map[string]check.Outcome{"warn": check.Warn, "fail": check.Fail, "no-data": check.NoData} {
		if keys[key] != nil {
			f.acceptor(&a, o, keys[key])
		}
	}
	return a
}

// acceptor reads who may accept one outcome: nobody, official, a hat, a list of
// hats that must all agree, {hats: .., runs: N}, or CEL that gives one of those words.
func (f *form) acceptor(a *acceptDraft, o check.Outcome, n *source.Node) {
	to := map[check.Outcome]*check.Acceptor{check.Warn: &a.fixed.Warn, check.Fail: &a.fixed.Fail, check.NoData: &a.fixed.NoData}[o]
	switch {
	case n.Kind == source.Map:
		keys := f.fields(n, "accept", "hats", "runs")
		if keys["hats"] == nil {
			f.fault(n.Pos, "accept names no hats", "write `hats: [lead-engineer]`")
			return
		}
		to.Hats = f.hats(keys["hats"])
		if r := keys["runs"]; r != nil {
			to.Runs = f.number(r, "runs")
		}
	case n.Kind == source.List:
		to.Hats = f.hats(n)
	case n.Empty():
		f.empty(posOf(n), "accept", "write nobody, official, or hats")
	case n.Text == nobody:
	case n.Text == official:
		to.Official = true
	case hatName().MatchString(n.Text):
		to.Hats = f.hats(n)
	default:
		a.byValue[o] = n
	}
}

func (f *form) hats(n *source.Node) []string {
	var out []string
	for _, h := range f.texts(n, "hats") {
		if w := f.word(h, "hats", hats); w != "" {
			if slices.Contains(out, w) {
				f.fault(h.Pos, w+" is named twice", "each hat once; two hats must be two people")
				continue
			}
			out = append(out, w)
		}
	}
	return out
}

func (f *form) number(n *source.Node, what string) int {
	t := f.text(n, what)
	if t == "" {
		return 0
	}
	v, err := strconv.Atoi(t)
	if err != nil || v < 1 || v > 1000 {
		f.fault(n.Pos, quoted(t)+" is not a number of "+what, "write a whole number from 1")
		return 0
	}
	return v
}

// acceptorOf turns what a CEL acceptor gave into an acceptor: nobody, official, or
// hats joined by "+". Words it does not know let nobody accept.
func acceptorOf(text string) (check.Acceptor, bool) {
	switch text {
	case nobody:
		return check.Acceptor{}, true
	case official:
		return check.Acceptor{Official: true}, true
	}
	var a check.Acceptor
	for _, h := range strings.Split(text, "+") {
		h = strings.TrimSpace(h)
		if !slices.Contains(hats, h) {
			return check.Acceptor{}, false
		}
		a.Hats = append(a.Hats, h)
	}
	return a, true
}
