package readiness

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/units"
)

// mostDeviations a car runs with at a time. Common practice: a team that carries more no
// longer knows what it carries.
const mostDeviations = 5

// accepted is a result with the deviation that covers it.
type accepted struct {
	*check.Result
	by *car.Record
}

// cover puts results under the newest deviation that accepts them, as far as a team may carry
// deviations. It gives how many are open: what is blind by one channel is one.
func (c *Car) cover(results []check.Result) (open int) {
	var all []accepted
	for i := range results {
		if d := c.coverOne(&results[i]); d != nil {
			all = append(all, accepted{&results[i], d})
		}
	}
	return c.carry(all)
}

// carry covers what a team may carry of what was accepted, the first accepted first.
func (c *Car) carry(all []accepted) (open int) {
	all = slices.Clone(all)
	slices.SortStableFunc(all, func(a, b accepted) int {
		return cmp.Or(a.by.At.Compare(b.by.At), strings.Compare(a.by.File, b.by.File))
	})
	var carried []*check.Result
	for _, a := range all {
		if why := room(carried, a.Result); why != "" {
			notCovered(a.Result, fmt.Sprintf("the deviation of %s does not cover it: %s", a.by.By, why))
			continue
		}
		carried = append(carried, a.Result)
		a.Deviation = c.said(a.by)
	}
	return len(things(carried))
}

// room says why a team that carries deviations on some results may not carry one more on another,
// "" where it may: no more than five, and one in a system, since two in one system may be one thing.
func room(carried []*check.Result, r *check.Result) string {
	for _, other := range carried {
		if sameThing(other, r) {
			return ""
		}
	}
	for _, other := range carried {
		if other.Card.System == r.Card.System {
			return fmt.Sprintf("%s of the %s is accepted already, and two deviations in one system may be one thing; put one right", other.Card.ID, r.Card.System)
		}
	}
	if n := len(things(carried)); n >= mostDeviations {
		return fmt.Sprintf("%d deviations are open, and a team that carries more no longer knows what it carries; put one right", n)
	}
	return ""
}

// sameThing says that one deviation is enough for two results: they are blind by the same channel.
func sameThing(a, b *check.Result) bool {
	return slices.ContainsFunc(a.Unseen, func(u check.Unseen) bool {
		return slices.ContainsFunc(b.Unseen, func(v check.Unseen) bool { return u.Channel == v.Channel })
	})
}

// things gives one result for each thing that some are about.
func things(results []*check.Result) (out []*check.Result) {
	for _, r := range results {
		if !slices.ContainsFunc(out, func(o *check.Result) bool { return sameThing(o, r) }) {
			out = append(out, r)
		}
	}
	return out
}

// coverOne is the newest deviation that accepts a result, nil if none does. Where one was written
// but does not reach this far, the result says why.
func (c *Car) coverOne(r *check.Result) *car.Record {
	if r.Outcome != check.Warn && r.Outcome != check.Fail && r.Outcome != check.NoData || r.Fault != nil {
		return nil
	}
	why := ""
	records := c.folder.Of("deviation")
	slices.Reverse(records)
	for _, d := range records {
		if d.At.After(c.asOf) || known(d.Body.Get("rule")) != r.Card.ID || known(d.Body.Get("position")) != r.Position {
			continue
		}
		if gap := c.short(d, r); gap != "" {
			if why == "" {
				why = fmt.Sprintf("the deviation of %s does not cover it: %s", d.By, gap)
			}
			continue
		}
		return d
	}
	if why != "" {
		notCovered(r, why)
	}
	return nil
}

func notCovered(r *check.Result, why string) {
	r.Message += "; " + why
	r.Note = strings.TrimPrefix(r.Note+"; "+why, "; ")
}

// short says what a deviation lacks to cover a result, "" if nothing.
func (c *Car) short(d *car.Record, r *check.Result) string {
	body := d.Body
	by := r.Acceptor()
	if outcome := known(body.Get("outcome")); outcome != string(r.Outcome) {
		return fmt.Sprintf("it accepts %s, this is %s", outcome, r.Outcome)
	}
	if by.Nobody() {
		return "nobody may accept this"
	}
	if by.Official && known(body.Get("official.form")) == "" {
		return "it names no document of the official"
	}
	if gap := c.hatsShort(d, by.Hats); gap != "" {
		return gap
	}
	if gap := c.ended(d, by); gap != "" {
		return gap
	}
	if serial := body.Get("serial"); known(serial) != "" && c.folder.Fitted(c.asOf).Where(serial.Text) == "" {
		return serial.Text + " is no longer on the car"
	}
	if gap := c.workedOn(d, r.Card.System); gap != "" {
		return gap
	}
	if r.Outcome == check.NoData {
		return c.blind(body, r)
	}
	return beyond(body.Get("not_beyond"), r)
}

// hatsShort says which hat has not agreed. Every hat needs a person of its own.
func (c *Car) hatsShort(d *car.Record, hats []string) string {
	names := []string{d.By}
	for _, w := range d.Body.Get("with").Items {
		names = append(names, known(w))
	}
	wears := func(who, hat string) bool {
		for _, p := range c.evidence.Roots["people"].Items {
			if known(p.Get("initials")) == who {
				for _, h := range p.Get("hats").Items {
					if known(h) == hat {
						return true
					}
				}
			}
		}
		return false
	}
	// Few hats, few people: try every way to hand them out.
	var fits func(hats, left []string) bool
	fits = func(hats, left []string) bool {
		if len(hats) == 0 {
			return true
		}
		for i, who := range left {
			if wears(who, hats[0]) && fits(hats[1:], slices.Delete(slices.Clone(left), i, i+1)) {
				return true
			}
		}
		return false
	}
	slices.Sort(names)
	if !fits(hats, slices.Compact(names)) {
		return "it wants " + strings.Join(hats, " and ") + ", each by a person of their own"
	}
	return ""
}

// ended says that a deviation is spent.
func (c *Car) ended(d *car.Record, by check.Acceptor) string {
	after := d.Run
	if v := d.Body.Get("after_run"); v != nil && !v.Unknown {
		after = int(v.Int)
	}
	runs := by.Runs
	if v := d.Body.Get("runs"); v != nil && !v.Unknown && (runs == 0 || int(v.Int) < runs) {
		runs = int(v.Int)
	}
	if runs > 0 && c.evidence.Run-after >= runs {
		return fmt.Sprintf("its %d runs after run %d are over", runs, after)
	}
	if until := d.Body.Get("until"); until != nil && !until.Unknown && c.folder.EventDay(c.asOf).After(until.Time) {
		return "it ended on " + until.Text
	}
	return ""
}

// blind: what protects the engine or the driver may only be lost with a safe state and a
// value that stands in.
func (c *Car) blind(body *schema.Value, r *check.Result) string {
	for _, u := range r.Unseen {
		ch := c.folder.Channel(u.Channel)
		if ch == nil || len(ch.Protects) == 0 {
			continue
		}
		if known(body.Get("safe_state.what")) == "" || known(body.Get("substitute.how")) == "" {
			return fmt.Sprintf("%s serves the %s, so it needs a safe state and a substitute", u.Channel, strings.Join(ch.Protects, " and the "))
		}
	}
	return ""
}

// beyond says that the value is worse than what was accepted. Without a bound nothing was
// accepted: the value could drift as far as it likes.
func beyond(bound *schema.Value, r *check.Result) string {
	if r.Measured == nil || r.Limit == nil {
		return ""
	}
	if known(bound) == "" {
		return "it has no not_beyond"
	}
	q, err := units.Parse(bound.Text)
	if err != nil {
		return "its not_beyond " + bound.Text + " is no value"
	}
	most := q.Value
	if u, err := units.Lookup(r.Measured.Unit); err == nil && q.Unit != "" {
		if from, err := units.Lookup(q.Unit); err != nil || !alike(from, u) {
			return "its not_beyond " + bound.Text + " is not in a unit of " + r.Measured.Unit
		}
		most = u.Of(q.SI)
	}
	switch {
	case r.Limit.Kind == "max" && r.Measured.High > most,
		r.Limit.Kind == "min" && r.Measured.Low < most,
		r.Limit.Kind == "a to b" && !within(r, most):
		return fmt.Sprintf("it is not to go beyond %s", bound.Text)
	}
	return ""
}

// within: outside a band, the accepted value is the far end on the side it left by.
func within(r *check.Result, most float64) bool {
	if most > r.Limit.Upper {
		return r.Measured.High <= most && r.Measured.Low >= r.Limit.Value
	}
	return r.Measured.Low >= most && r.Measured.High <= r.Limit.Upper
}

// said is how the report names a deviation.
func (c *Car) said(d *car.Record) string {
	who := []string{d.By}
	for _, w := range d.Body.Get("with").Items {
		who = append(who, known(w))
	}
	words := "accepted by " + strings.Join(who, " and ")
	if bound := known(d.Body.Get("not_beyond")); bound != "" {
		words += ", not beyond " + bound
	}
	if watch := known(d.Body.Get("watch")); watch != "" {
		words += "; watch: " + watch
	}
	return words + " (" + d.File + ")"
}
