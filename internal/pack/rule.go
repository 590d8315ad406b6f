package pack

import (
	"slices"
	"strconv"
	"strings"

	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/source"
)

var (
	ruleKeys = []string{
		"id", "item", "system", "moments", "from", "seen", "applies", "each", "measure", "unit", "fail", "warn", "due",
		"holds", "otherwise", "signed", "fresh", "cleared-by", "accept", "no-data", "do", "caution", "source", "examples",
	}
	moments = []string{string(check.Commit), string(check.Paddock), string(check.Run)}
	// logKinds are the kinds of log a run sheet may name.
	logKinds = []string{"run", "warm-up", "stands", "cold", "return", Pairs}

	ruleID   = source.Form(`^[a-z][a-z0-9]*(-[a-z0-9]+)*(\.[a-z][a-z0-9]*(-[a-z0-9]+)*)+$`)
	nameRule = source.Form(`^[a-z][a-z0-9_]*$`)
)

// ruleDraft is a rule as read: its card, and the expressions still to be compiled.
type ruleDraft struct {
	rule *Rule
	pos  source.Pos
	bad  bool

	each, applies, seen, measure, holds *source.Node
	from                                *source.Node
	fail, warn, due                     *boundDraft
	unit                                *source.Node
	signed                              *signedDraft
	fresh                               *source.Node
	cleared                             *clearedDraft
	accept                              acceptDraft
	limitNames                          []string // see limits
}

type boundDraft struct {
	pos    source.Pos
	lo, hi *source.Node
}

// readRule reads one rule. A rule with faults is marked bad but kept, so that what is
// wrong with its expressions comes out in the same go.
func readRule(f *form, n *source.Node) *ruleDraft {
	before := len(f.faults)
	keys := f.fields(n, "a rule", ruleKeys...)
	if keys == nil {
		return nil
	}
	r := &Rule{Card: check.Card{Where: n.Pos}, otherwise: check.Fail}
	d := &ruleDraft{rule: r, pos: n.Pos}
	f.identity(d, keys)
	f.judgement(d, keys)
	f.context(d, keys)
	if n := keys["fresh"]; n != nil {
		d.fresh, r.fresh = n, f.fresh(n)
	}
	if n := keys["cleared-by"]; n != nil {
		d.cleared = f.clearedBy(n)
	}
	d.accept = f.accept(keys["accept"], d)
	if keys["examples"] == nil {
		f.fault(d.pos, "rule "+quoted(r.ID)+" has no examples", "add one that passes, one that does not, and one with missing input")
	} else {
		r.examples = f.examples(keys["examples"])
	}
	d.bad = len(f.faults) > before
	return d
}

// identity reads what the rule is called and what it says to people.
func (f *form) identity(d *ruleDraft, keys map[string]*source.Node) {
	r := d.rule
	for _, must := range []string{"id", "item", "system", "do", "source"} {
		if keys[must] == nil {
			f.fault(d.pos, "the rule has no "+must, "add `"+must+":`")
		}
	}
	if n := keys["id"]; n != nil {
		r.ID, r.Where = f.text(n, "id"), n.Pos
		d.pos = n.Pos
		if r.ID != "" && !ruleID().MatchString(r.ID) {
			f.fault(n.Pos, quoted(r.ID)+" is not a rule id", "two or more words of small letters joined by points, such as wing.close-time")
		}
	}
	if n := keys["item"]; n != nil {
		r.Item = f.text(n, "item")
	}
	if n := keys["system"]; n != nil {
		r.System = f.text(n, "system")
	}
	if n := keys["do"]; n != nil {
		r.Do = f.text(n, "do")
	}
	if n := keys["caution"]; n != nil {
		r.Caution = f.word(n, "caution", check.Hazards())
	}
	if n := keys["source"]; n != nil {
		r.Source = f.source(n)
	}
}

// judgement reads how the rule decides: a measure with limits, a truth, or initials.
func (f *form) judgement(d *ruleDraft, keys map[string]*source.Node) {
	var shapes []string
	for _, shape := range []string{"measure", "holds", "signed"} {
		if keys[shape] != nil {
			shapes = append(shapes, shape)
		}
	}
	switch len(shapes) {
	case 0:
		f.fault(d.pos, "the rule does not say what it looks at", "add `measure:` with limits, `holds:`, or `signed:`")
		return
	case 1:
	default:
		f.fault(keys[shapes[1]].Pos, "a rule has one of measure, holds and signed, not "+strings.Join(shapes, " and "), "make two rules of it")
		return
	}
	shape := shapes[0]
	for _, key := range []string{"unit", "fail", "warn", "due"} {
		if n := keys[key]; n != nil && shape != "measure" {
			f.fault(n.Pos, quoted(key)+" belongs to a measure, this rule has "+shape, "take it out")
		}
	}
	if n := keys["otherwise"]; n != nil {
		if shape != "holds" {
			f.fault(n.Pos, "`otherwise` belongs to holds, this rule has "+shape, "take it out")
		}
		r := f.word(n, "otherwise", []string{string(check.Fail), string(check.Warn)})
		d.rule.otherwise = check.Outcome(r)
	}
	switch shape {
	case "holds":
		d.holds = f.expression(keys["holds"], "holds")
	case "signed":
		d.signed = f.signed(keys["signed"])
	case "measure":
		d.measure = f.expression(keys["measure"], "measure")
		d.fail, d.warn, d.due = f.bound(keys["fail"], "fail"), f.bound(keys["warn"], "warn"), f.bound(keys["due"], "due")
		if keys["fail"] == nil && keys["warn"] == nil {
			f.fault(d.pos, "the measure has no limit", "add `fail:` or `warn:` with below, above or outside")
		}
		if d.unit = keys["unit"]; d.unit == nil {
			f.fault(d.pos, "the measure has no unit", `add the unit it is read in, such as "unit: bar"; "unit: 1" for a bare number`)
		} else {
			f.text(d.unit, "unit")
		}
	}
}

// context reads when and to what the rule applies.
func (f *form) context(d *ruleDraft, keys map[string]*source.Node) {
	r := d.rule
	if n := keys["moments"]; n != nil {
		for _, m := range f.texts(n, "moments") {
			if w := f.word(m, "moments", moments); w != "" {
				r.Moments = append(r.Moments, check.Moment(w))
			}
		}
	}
	if n := keys["from"]; n != nil {
		d.from = n
		for _, k := range f.texts(n, "from") {
			if w := f.word(k, "from", logKinds); w != "" {
				r.from = append(r.from, w)
			}
		}
	}
	if n := keys["applies"]; n != nil {
		d.applies = f.expression(n, "applies")
	}
	if n := keys["seen"]; n != nil {
		d.seen = f.expression(n, "seen")
	}
	if n := keys["no-data"]; n != nil {
		r.Lenient = f.word(n, "no-data", []string{"caution"}) != ""
	}
	if n := keys["each"]; n != nil {
		if n.Kind != source.Map || len(n.Entries) != 1 {
			f.fault(n.Pos, "each is not one name with a list", "write `each: {corner: car.corners}`")
			return
		}
		e := n.Entries[0]
		r.eachName = e.Key.Text
		if !nameRule().MatchString(r.eachName) {
			f.fault(e.Key.Pos, quoted(r.eachName)+" is not a name for an element", "small letters, figures and underscores, such as corner")
		}
		d.each = f.expression(e.Value, "each")
	}
}

// expression is a scalar that holds CEL; what is wrong inside it the compiler says.
func (f *form) expression(n *source.Node, what string) *source.Node {
	if n.Empty() {
		f.empty(posOf(n), what, "write the expression, quoted if it starts with a sign")
		return nil
	}
	if _, fault := n.CELText(); fault != nil {
		f.faults = append(f.faults, *fault)
		return nil
	}
	return n
}

func (f *form) bound(n *source.Node, what string) *boundDraft {
	if n == nil {
		return nil
	}
	const shape = "write one of below: LIMIT, above: LIMIT, outside: [LEAST, GREATEST]"
	if n.Kind != source.Map {
		f.fault(n.Pos, what+" is not a limit", shape)
		return nil
	}
	keys := f.fields(n, what, "below", "above", "outside")
	if keys == nil {
		return nil
	}
	if len(n.Entries) == len(keys) && len(keys) != 1 {
		f.fault(n.Pos, what+" has "+strconv.Itoa(len(keys))+" limits", shape)
		return nil
	}
	b := &boundDraft{pos: n.Pos}
	switch {
	case keys["below"] != nil:
		b.lo = f.expression(keys["below"], "below")
	case keys["above"] != nil:
		b.hi = f.expression(keys["above"], "above")
	case keys["outside"] != nil:
		o := keys["outside"]
		if o.Kind != source.List || len(o.Items) != 2 {
			f.fault(o.Pos, "outside is not two limits", "write outside: [LEAST, GREATEST]; quote an expression with a comma in it")
			return nil
		}
		b.lo, b.hi = f.expression(o.Items[0], "outside"), f.expression(o.Items[1], "outside")
	}
	return b
}

// examples checks that the rule's examples show each side; they are compiled only by Try.
func (f *form) examples(n *source.Node) []*source.Node {
	if n.Kind != source.List {
		f.fault(n.Pos, "examples is not a list", "start each with `- shown:`")
		return nil
	}
	var answers []string
	wrong := len(f.faults)
	for _, item := range n.Items {
		if item.Kind != source.Map {
			f.fault(item.Pos, "an example is not a map of keys", "write shown and answer")
			continue
		}
		keys := f.fields(item, "an example", "shown", "answer", "measured", "due")
		if keys["answer"] == nil {
			f.fault(item.Pos, "the example has no answer", "add `answer: pass`, warn, fail, no data or not applicable")
			continue
		}
		answers = append(answers, f.word(keys["answer"], "answer", outcomes))
	}
	if len(f.faults) > wrong {
		return n.Items // what is missing shows once these are right
	}
	for _, need := range []struct {
		what string
		any  []string
	}{
		{"that passes", []string{"pass"}},
		{"that does not pass", []string{"fail", "warn"}},
		{"with missing input, `answer: no data`", []string{"no data"}},
	} {
		if !slices.ContainsFunc(answers, func(a string) bool { return slices.Contains(need.any, a) }) {
			f.fault(n.Pos, "no example "+need.what, "add one")
		}
	}
	return n.Items
}

var outcomes = []string{string(check.Pass), string(check.Warn), string(check.Fail), string(check.NoData), string(check.NotApplicable)}

// expressions are all the CEL of a rule, compiled or not.
func (r *ruleDraft) expressions() []*source.Node {
	nodes := []*source.Node{r.each, r.applies, r.seen, r.measure, r.holds}
	for _, b := range []*boundDraft{r.fail, r.warn, r.due} {
		if b != nil {
			nodes = append(nodes, b.lo, b.hi)
		}
	}
	if r.signed != nil {
		nodes = append(nodes, r.signed.torque)
	}
	if r.cleared != nil {
		nodes = append(nodes, r.cleared.proof, r.cleared.seen)
	}
	for _, n := range r.accept.byValue {
		nodes = append(nodes, n)
	}
	return slices.DeleteFunc(nodes, func(n *source.Node) bool { return n == nil })
}
