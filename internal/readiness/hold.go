package readiness

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/pack"
	"github.com/paintmark/paintmark/internal/pluginhost"
	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
)

// hold keeps items from getting better by being looked at less: a fail of a no-go item does not
// turn into something that names can cover because its value is gone, and no item that the newest
// run sheet looked at goes away unsaid.
func (c *Car) hold(ctx context.Context, rules []*pack.Rule, results []check.Result) []check.Result {
	before := pastOf(c.folder, c.asOf)
	for i := range results {
		r := &results[i]
		if r.NotExercised {
			if words, run := before.provenWords(r.Name(), c.asOf); words != "" {
				note(r, words)
				r.ProvenOn = run
			}
		}
	}
	c.holdFails(before, results)
	c.holdWithdrawn(ctx, rules, results)
	return c.holdGone(before, rules, results)
}

func note(r *check.Result, words string) {
	if words == "" {
		return
	}
	r.Message, r.Note = join(r.Message, words), join(r.Note, words)
}

func join(a, b string) string { return strings.TrimPrefix(a+"; "+b, "; ") }

// mayImprove says that an item is a no-go one that nothing decides now, and that a name may
// cover. What a rule makes a mere caution stays one.
func mayImprove(r *check.Result) bool {
	return r.Outcome == check.NoData && r.Card.NoGo() && !r.Card.Lenient && r.Fault == nil && !r.Card.Accept.NoData.Nobody()
}

// stays makes a no data one that nobody may accept.
func stays(r *check.Result, words string) {
	card := *r.Card
	card.Accept.NoData = check.Acceptor{}
	r.Card = &card
	note(r, words)
}

// holdFails: what failed when it was last seen stays no-go until it is seen again, or until a
// job on its system was closed.
func (c *Car) holdFails(before past, results []check.Result) {
	for i := range results {
		r := &results[i]
		d := before.decided[r.Name()]
		if d.outcome == check.Fail && mayImprove(r) && !c.repaired(r.Card.System, d) {
			words := ""
			if !r.NotExercised { // else it says so already
				words = fmt.Sprintf("it failed on run %d and was not seen since", d.run)
			}
			stays(r, words)
		}
	}
}

// repaired says that a job on a system was closed since a run.
func (c *Car) repaired(system string, since decided) bool {
	return slices.ContainsFunc(c.folder.Jobs(c.asOf), func(j *car.Job) bool {
		return j.System() == system && j.Closed != nil && j.Closed.At.After(since.started) && !j.Closed.At.After(c.asOf)
	})
}

// holdWithdrawn: a measured value that was written over by unknown, or left out of a newer
// record, is looked at as it last was. If that was a fail, it stays no-go.
func (c *Car) holdWithdrawn(ctx context.Context, rules []*pack.Rule, results []check.Result) {
	var again []*pack.Rule
	for i := range results {
		if r := &results[i]; mayImprove(r) {
			if k := ruleOf(rules, r.Card.ID); k != nil && k.Reads([]string{"measured"}) && !slices.Contains(again, k) {
				again = append(again, k)
			}
		}
	}
	if len(again) == 0 {
		return
	}
	evidence := *c.evidence
	evidence.Roots = make(map[string]*schema.Value, len(c.evidence.Roots))
	for name, root := range c.evidence.Roots {
		evidence.Roots[name] = root
	}
	evidence.Roots["measured"] = c.folder.MeasuredKept(c.asOf)
	for _, k := range again {
		for _, was := range k.Judge(ctx, &evidence) {
			if was.Outcome != check.Fail {
				continue
			}
			i := slices.IndexFunc(results, func(r check.Result) bool { return r.Name() == was.Name() })
			if i >= 0 && mayImprove(&results[i]) {
				stays(&results[i], "it failed until its value was taken back: "+was.Message)
			}
		}
	}
}

func ruleOf(rules []*pack.Rule, id string) *pack.Rule {
	i := slices.IndexFunc(rules, func(r *pack.Rule) bool { return r.ID == id })
	if i < 0 {
		return nil
	}
	return rules[i]
}

// holdGone: an item that the newest run sheet looked at, and that is gone or applies no more, stands
// open until it is back, or its system was made safe and left out of use. Where it is no no-go
// item, a name can cover it, and it may go with its element.
func (c *Car) holdGone(before past, rules []*pack.Rule, results []check.Result) []check.Result {
	at := map[string]int{}
	for i := range results {
		at[results[i].Name()] = i
	}
	locked := c.folder.LockedOut(c.asOf)
	applies := func(name string) bool {
		i, there := at[name]
		return there && results[i].Outcome != check.NotApplicable
	}
	for _, was := range before.newest {
		if applies(was.Name) || !was.NoGo && applies(stricter(was.Name)) || c.brokeOf(was.Name, results) {
			continue
		}
		i, there := at[was.Name]
		if there && c.elsewhere(rules, results[i].Card.ID) {
			continue
		}
		held, ok := check.Result{}, false
		if there {
			held, ok = results[i], true
			held.Message = "does not apply any more: " + strings.TrimPrefix(held.Message, "does not apply to this car: ")
		} else {
			held, ok = c.gone(was, rules)
		}
		if !ok || locked[held.Card.System] != nil {
			continue
		}
		card := *held.Card
		card.Accept, card.Lenient = check.Accept{}, false
		card.Do = "Put back what was changed, or make the system safe and lock it out with two initials"
		if !was.NoGo {
			card.Accept.Fail = check.Acceptor{Hats: leadEngineer}
			card.Accept.NoData = check.Acceptor{Hats: leadEngineer}
			card.Do = "Put back what was changed, or look at it by hand"
		}
		if id, _, _ := strings.Cut(was.Name, " "); !there {
			if whole, told := at[id]; told && results[whole].Outcome == check.NoData { // what it looks at cannot even be listed
				held.Message, card.Do = results[whole].Message, results[whole].Card.Do
			}
		}
		held.Card, held.Outcome, held.NotExercised = &card, check.NoData, false
		held.Message = fmt.Sprintf("%s on run %d; %s", cameTo[was.Outcome], before.run, held.Message)
		held.Note = held.Message
		if there {
			results[i] = held
		} else {
			results = append(results, held)
		}
	}
	return results
}

// elsewhere says that a rule looks at the log folder and that it is on another computer, which tells nothing of the car.
func (c *Car) elsewhere(rules []*pack.Rule, id string) bool {
	const files = "logs_not_brought_in"
	life, k := c.evidence.Roots["life"], ruleOf(rules, id)
	return k != nil && k.Reads([]string{"life." + files}) && life != nil && !life.Unknown && life.Fields[files] == nil
}

// brokeOf says that an item is of a check or a plugin that is a fault by itself: that it tells nothing is
// said there, once.
func (c *Car) brokeOf(name string, results []check.Result) bool {
	id, _, _ := strings.Cut(name, " ")
	plugin, _, _ := strings.Cut(id, ".")
	return slices.ContainsFunc(results, func(r check.Result) bool { return r.Card.ID == id && r.Fault != nil }) ||
		slices.ContainsFunc(c.folder.Plugins, func(t car.Text) bool {
			return t.Text == plugin && slices.ContainsFunc(c.faults, func(f check.ToolFault) bool { return f.Pos == t.Pos })
		})
}

// leadEngineer answers for what a team leaves out.
var leadEngineer = []string{"lead-engineer"}

// stricter is the name that an item goes by once what it is of has become a no-go part.
func stricter(name string) string {
	id, position, _ := strings.Cut(name, " ")
	return strings.TrimSpace(id + "-no-go " + position)
}

// cameTo says what an item came to on a run.
var cameTo = map[check.Outcome]string{check.Pass: "passed", check.Warn: "warned", check.Fail: "failed", check.NoData: "not seen"}

// gone is an item that nothing looks at any more; ok is false where it is right that nothing
// does: the part it was of left the car by a record, it went with its element and is no no-go item,
// its rule now knows its elements, or less than everything is looked at.
func (c *Car) gone(was PostedOutcome, rules []*pack.Rule) (held check.Result, ok bool) {
	id, position, _ := strings.Cut(was.Name, " ")
	if c.partLeft(position) {
		return held, false
	}
	for _, p := range c.packs {
		if r := ruleOf(p.Rules, id); r != nil {
			if ruleOf(rules, id) == nil || !was.NoGo || position == "" {
				return held, false
			}
			return check.Result{Card: &r.Card, Position: position, Where: r.Where, Message: "its element is there no more"}, true
		}
	}
	if k := c.pluginCheck(id); k != nil {
		return check.Result{Card: &k.card, Position: position, Where: k.card.Where, Message: "its element is there no more"}, was.NoGo && position != "" && c.wanted(k)
	}
	if kind := c.options.LogKind; c.options.Moment != "" || kind != "" && kind != "run" {
		return held, false
	}
	card := check.Card{ID: id, Item: id}
	card.System, _, _ = strings.Cut(id, ".")
	card.Where = source.Pos{File: "limits.yaml"}
	message := "nothing of this name is in use any more"
	if plugin, wire := c.bundledCheck(id); plugin != "" {
		where := card.Where
		card = pluginhost.Card(wire)
		card.Where = where
		message = "the plugin " + plugin + " is not in limits.yaml any more"
		if slices.ContainsFunc(c.folder.Plugins, func(t car.Text) bool { return t.Text == plugin }) {
			message = "the plugin " + plugin + " does not look at it"
		}
	} else if in, found := pack.BundledRule(id); found {
		card.Item, card.System, card.Caution = in.Item, in.System, in.Caution
		message = "the pack " + in.Pack + " is not in limits.yaml any more"
		if slices.ContainsFunc(c.folder.Packs, func(t car.Text) bool { return t.Text == in.Pack }) {
			message = "its rule in the pack " + in.Pack + " cannot be used"
		}
	}
	if len(c.options.Part) > 0 && !slices.Contains(c.options.Part, card.System) && !slices.Contains(c.options.Part, id) {
		return held, false
	}
	return check.Result{Card: &card, Position: position, Where: card.Where, Message: message}, true
}

// partLeft says that a position begins with the serial of a part that is not on the car. A
// part leaves only by a record.
func (c *Car) partLeft(position string) bool {
	serial, _, _ := strings.Cut(position, " ")
	parts := c.evidence.Roots["parts"]
	if serial == "" || parts == nil || parts.Unknown {
		return false
	}
	known := slices.ContainsFunc(parts.Items, func(p *schema.Value) bool { return known(p.Get("serial")) == serial })
	return known && c.folder.Fitted(c.asOf).Where(serial) == ""
}
