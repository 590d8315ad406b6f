package readiness

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/kernel"
)

// protectionID is the item that every protection of the car has by itself: that whatever
// watches for it was alive on the newest run. No pack has to ask for it.
const protectionID = "protection.seen"

// blindFor is how long, in all, a protecting channel may be unseen on a run, s. Common practice.
const blindFor = 0.5

// protection is one of them, with the channels that it rests on.
type protection struct {
	name, system string
	channels     []*car.Channel
}

// protections are those that the trip sheet in use lists and those that channels say they
// serve: one that no channel serves any more does not vanish with the line that said so.
func (c *Car) protections() []protection {
	var out []protection
	find := func(name, system string) *protection {
		for i := range out {
			if out[i].name == name {
				return &out[i]
			}
		}
		out = append(out, protection{name: name, system: system})
		return &out[len(out)-1]
	}
	for _, f := range c.evidence.Roots["trips"].Get("functions").Items {
		if name := known(f.Get("name")); name != "" {
			find(name, known(f.Get("system")))
		}
	}
	for i := range c.folder.Channels {
		ch := &c.folder.Channels[i]
		for _, name := range ch.Protects {
			p := find(name, ch.System)
			p.channels = append(p.channels, ch)
		}
	}
	slices.SortStableFunc(out, func(a, b protection) int { return strings.Compare(a.name, b.name) })
	return out
}

// watched looks whether the sensors of every protection were alive on the newest run. Where
// another item is no data for want of the same sensors, that one is what has to be answered
// for, and the protection stands beside it as a caution: one lost sensor, one set of names.
func (c *Car) watched(others []check.Result) []check.Result {
	out := c.sensorsSeen()
	for i := range out {
		r := &out[i]
		if r.Outcome == check.NoData && len(r.Unseen) > 0 && coveredBy(r.Unseen, others) {
			card := *r.Card
			card.Lenient = true
			r.Card = &card
		}
	}
	return out
}

// coveredBy says that for each channel unseen another item is no data, and no mere caution.
func coveredBy(unseen []check.Unseen, others []check.Result) bool {
	for _, u := range unseen {
		if !slices.ContainsFunc(others, func(o check.Result) bool {
			return o.Outcome == check.NoData && !o.Card.Lenient &&
				slices.ContainsFunc(o.Unseen, func(v check.Unseen) bool { return v.Channel == u.Channel })
		}) {
			return false
		}
	}
	return true
}

func (c *Car) sensorsSeen() []check.Result {
	var out []check.Result
	if k := c.options.LogKind; k != "" && k != "run" {
		return nil // a log of another kind says nothing about a run
	}
	for _, p := range c.protections() {
		system := p.system
		if system == "" {
			system = "electrical"
		}
		two := check.Acceptor{Hats: []string{"lead-engineer", "data"}, Runs: 1}
		card := &check.Card{
			ID: protectionID, Item: "Protection has its sensors", System: system, Moments: []check.Moment{check.Run},
			Do:     "Mend the sensor, or make the system safe and run without it: locked out, or at its safe state with a substitute.",
			Source: check.Source{Kind: "practice"}, Accept: check.Accept{Warn: two, Fail: two, NoData: two},
		}
		if !c.asked(card) {
			continue
		}
		r := check.Result{Card: card, Position: p.name, Outcome: check.Pass}
		if len(p.channels) == 0 {
			r.Outcome = check.NoData
			r.Message = "no channel is said to protect it; write it under protects in channels.yaml"
		} else {
			card.Where = p.channels[0].Pos
			c.lookAtSensors(&r, p)
		}
		r.Note, r.Where = r.Message, card.Where
		out = append(out, r)
	}
	return out
}

func (c *Car) lookAtSensors(r *check.Result, p protection) {
	var blind, seen []string
	looked := false
	for i, log := range c.logs {
		if log == nil || log.kind != "run" {
			continue
		}
		looked = true
		r.From = check.From{Kind: "log", Run: log.run}
		if i < len(c.evidence.Logs) {
			r.From = c.evidence.Logs[i].From
		}
		for _, ch := range p.channels {
			column := log.data.Columns[ch.Name]
			if column == nil || len(column.Values) == 0 {
				blind = append(blind, ch.Name+" is not in the log")
				continue
			}
			seen = append(seen, ch.Name)
			lost, why := unseenFor(column)
			if lost <= blindFor {
				continue
			}
			for _, g := range column.Gaps {
				r.Unseen = append(r.Unseen, check.Unseen{Channel: ch.Name, From: g.From, To: g.To, Why: g.Why})
			}
			blind = append(blind, fmt.Sprintf("%s was not seen for %.1f s: %s", ch.Name, lost, why))
		}
	}
	switch {
	case looked && len(blind) > 0:
		r.Outcome, r.Message = check.NoData, "blind; "+strings.Join(blind, "; ")
	case looked:
		r.Message = "seen: " + strings.Join(slices.Compact(seen), ", ")
	default:
		c.sensorsOnSheet(r, p)
	}
}

// sensorsOnSheet answers for a log that is not at hand from what the newest run sheet kept.
func (c *Car) sensorsOnSheet(r *check.Result, p protection) {
	before := pastOf(c.folder, c.asOf)
	for _, o := range before.newest {
		if o.Name != r.Name() {
			continue
		}
		r.From = check.From{Kind: "run sheet", Run: before.run}
		run := runSheet(c.folder, before.run)
		if run != nil {
			r.From.Record, r.From.Age = run.File, ageWords(c.asOf.Sub(car.Started(run)))
		}
		r.Outcome, r.Message = o.Outcome, "its sensors were seen"
		if o.Outcome != check.Pass {
			r.Message = "blind when the run was taken in"
			r.Unseen = keptGaps(run, p.channels)
		}
		return
	}
	r.Outcome, r.Message = check.NoData, "no run log says; take the run in"
}

// keptGaps are the spans of channels that the answers on a run sheet missed.
func keptGaps(run *car.Record, channels []*car.Channel) []check.Unseen {
	var out []check.Unseen
	if run == nil {
		return nil
	}
	for _, answer := range run.Body.Get("answers").Items {
		for _, m := range answer.Get("missing").Items {
			name := known(m.Get("channel"))
			if !slices.ContainsFunc(channels, func(ch *car.Channel) bool { return ch.Name == name }) {
				continue
			}
			from, err1 := strconv.ParseFloat(known(m.Get("from")), 64)
			to, err2 := strconv.ParseFloat(known(m.Get("to")), 64)
			u := check.Unseen{Channel: name, From: from, To: to, Why: known(m.Get("why"))}
			if err1 == nil && err2 == nil && !slices.Contains(out, u) {
				out = append(out, u)
			}
		}
	}
	slices.SortFunc(out, func(a, b check.Unseen) int {
		return cmp.Or(strings.Compare(a.Channel, b.Channel), cmp.Compare(a.From, b.From), cmp.Compare(a.To, b.To))
	})
	// A question asks of the part of the run it looks at: what lies within a longer span is that span.
	within := func(a, b check.Unseen) bool {
		return a != b && a.Channel == b.Channel && a.From >= b.From && a.To <= b.To
	}
	whole := slices.Clone(out)
	return slices.DeleteFunc(out, func(a check.Unseen) bool {
		return slices.ContainsFunc(whole, func(b check.Unseen) bool { return within(a, b) })
	})
}

// unseenFor is how long a channel was missing in all, s, and the reason of the longest part.
func unseenFor(c *kernel.Column) (lost float64, why string) {
	longest, end := 0.0, 0.0
	for _, g := range c.Gaps { // in order of From; they may overlap
		from := max(g.From, end)
		if g.To > from {
			lost += g.To - from
			end = g.To
		}
		if g.To-g.From > longest {
			longest, why = g.To-g.From, g.Why
		}
	}
	return lost, why
}
