package pack

import (
	"context"
	"maps"
	"math"
	"slices"
	"strings"

	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/expr"
	"github.com/paintmark/paintmark/internal/kernel"
	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
	"github.com/paintmark/paintmark/internal/units"
)

// ExampleResult is what one example of one rule came to.
type ExampleResult struct {
	Rule    string
	Number  int // from 1, within the rule
	Where   source.Pos
	Want    check.Outcome
	Got     check.Outcome
	Message string // what the rule said
	// Wrong says what is not as the example has it; "" where all is.
	Wrong  string
	Faults source.Faults // of the example itself
}

// OK says that the example came out as written.
func (e *ExampleResult) OK() bool { return e.Wrong == "" && len(e.Faults) == 0 }

// Try runs every example of every rule in the files. roots are the types of the car's
// documents; channels are only those the packs declare, so that a pack stands by itself.
func Try(ctx context.Context, files []File, roots map[string]*schema.Type) ([]ExampleResult, source.Faults) {
	packs, faults := Load(files, expr.Scope{Roots: roots}, nil)
	var out []ExampleResult
	for _, p := range packs {
		for _, r := range p.Rules {
			for i, n := range r.examples {
				e := r.try(ctx, n, roots)
				e.Rule, e.Number, e.Where = r.ID, i+1, n.Pos
				out = append(out, e)
			}
		}
	}
	return out, faults
}

func (r *Rule) try(ctx context.Context, n *source.Node, roots map[string]*schema.Type) ExampleResult {
	e := ExampleResult{Want: check.Outcome(n.Get("answer").Text)}
	var f form
	ev := r.shown(&f, n, roots)
	if e.Faults = f.faults.Sorted(); len(e.Faults) > 0 {
		return e
	}
	var res check.Result
	for i, got := range r.Judge(ctx, ev) {
		if i == 0 || got.Outcome.WorseThan(res.Outcome) {
			res = got
		}
	}
	e.Got, e.Message = res.Outcome, res.Message
	switch {
	case res.Fault != nil:
		e.Faults = source.Faults{*res.Fault}
	case e.Got != e.Want:
		e.Wrong = "came to " + string(e.Got) + " (" + e.Message + "), the example says " + string(e.Want)
	case n.Get("measured") != nil:
		e.Wrong = r.unlike(n.Get("measured"), res.Measured)
	}
	if due := n.Get("due"); due != nil && e.Wrong == "" {
		e.Wrong = map[[2]bool]string{
			{true, false}: "is not due, the example says that it is",
			{false, true}: "is due, the example says that it is not",
		}[[2]bool{f.word(due, "due", []string{"yes", "no"}) == "yes", res.Due != nil}]
		e.Faults = append(e.Faults, f.faults...)
	}
	return e
}

// unlike compares a measured value with the one an example gives, to half of its last
// printed figure.
func (r *Rule) unlike(n *source.Node, got *check.Measured) string {
	want, err := units.Parse(n.Text)
	if err != nil {
		return n.Text + " is not a value: " + err.Error()
	}
	if got == nil {
		return "measured nothing, the example says " + n.Text
	}
	value := want.Value
	if want.Unit != "" && want.Unit != got.Unit {
		u, err := units.Lookup(got.Unit)
		if err != nil {
			return err.Error()
		}
		value = u.Of(want.SI)
	}
	figures := strings.Fields(n.Text)[0]
	_, after, _ := strings.Cut(figures, ".")
	if math.Abs(got.Value-value) > 0.5*math.Pow(10, -float64(len(after)))+1e-9 {
		return "measured " + figure(*got) + ", the example says " + n.Text
	}
	return ""
}

// shown builds the evidence that an example shows.
func (r *Rule) shown(f *form, n *source.Node, roots map[string]*schema.Type) *Evidence {
	ev := &Evidence{Roots: map[string]*schema.Value{}, Signatures: map[string][]Signature{}, Run: exampleRuns, Diary: exampleDiary(r)}
	node := n.Get("shown")
	if node == nil {
		f.fault(n.Pos, "the example shows nothing", "add `shown:` with what of the car it rests on; `shown: {}` for nothing at all")
		return ev
	}
	if node.Kind != source.Map {
		f.fault(node.Pos, "shown is not a map of documents", "write shown: {car: {..}, log: {..}}")
		return ev
	}
	known := slices.Sorted(maps.Keys(roots))
	for _, entry := range node.Entries {
		switch name := entry.Key.Text; {
		case name == "log":
			if log := r.shownLog(f, entry.Value); log != nil {
				answers := expr.OnLog(kernel.NewRunner(r.Pack.env.Graph(), log, kernel.Options{}))
				ev.Logs = []Log{{Kind: r.kind(), Answers: answers, From: check.From{Kind: "log", Run: exampleRuns}}}
			}
		case name == "ago":
			f.shownAgo(entry.Value, ev.Diary, r.System)
		case name == "signed":
			r.shownInitials(f, entry.Value, ev)
		case roots[name] == nil:
			f.fault(entry.Key.Pos, quoted(name)+" is not a document", nearest(name, append(known, "log", "signed", "ago")))
		default:
			v, faults := schema.ReadShown(entry.Value, roots[name])
			f.faults = append(f.faults, faults...)
			if v != nil && slices.Contains(aged, name) {
				v.MarkRecord(name)
			}
			ev.Roots[name] = v
		}
	}
	return ev
}

// kind is the kind of log an example stands for.
func (r *Rule) kind() string {
	if len(r.from) == 0 {
		return "run"
	}
	return r.from[0]
}

func (r *Rule) shownInitials(f *form, n *source.Node, ev *Evidence) {
	if n.Kind != source.List {
		f.fault(n.Pos, "signed is not a list", "write signed: [{joint: .., place: first, by: ..}]")
		return
	}
	for _, item := range n.Items {
		keys := f.fields(item, "initials", "joint", "place", "by", "torque", "tool", "retained", "void")
		if keys["joint"] == nil || keys["place"] == nil || keys["by"] == nil {
			f.fault(item.Pos, "initials need joint, place and by", "write them")
			continue
		}
		s := Signature{By: f.text(keys["by"], "by"), Pos: item.Pos}
		s.Second = f.word(keys["place"], "place", []string{"first", "second"}) == "second"
		if t := keys["torque"]; t != nil {
			s.Torque = f.value(t, "torque")
		}
		if t := keys["tool"]; t != nil {
			s.ToolKind = f.text(t, "tool")
		}
		if t := keys["void"]; t != nil {
			s.Void = f.text(t, "void")
		}
		if t := keys["retained"]; t != nil {
			s.Retained = map[string]expr.Truthness{"true": expr.True, "false": expr.False}[f.word(t, "retained", []string{"true", "false"})]
		}
		joint := f.text(keys["joint"], "joint")
		ev.Signatures[joint] = append(ev.Signatures[joint], s)
	}
}
