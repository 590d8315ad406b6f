package report

import (
	"fmt"
	"io"
	"math"
	"strings"

	"github.com/paintmark/paintmark/internal/check"
)

// Why prints one item taken apart.
func Why(w io.Writer, why *check.Why, opt Options) error {
	p := &page{colour: opt.Colour}
	it := &why.Item
	c := it.Card
	name := c.Item
	if it.Position != "" {
		name += ", " + it.Position
	}
	p.hanging(0, 0, name)
	f := figuresOf(&it.Result)
	var head columns
	head.at(0, string(it.Outcome))
	head.endAt(haveEnd, f.have)
	head.endAt(limitEnd, f.limit)
	head.endAt(inHandEnd, f.inHand)
	head.at(whoStart, hats(it.Who))
	p.line(strings.Replace(head.String(), string(it.Outcome), p.paint(title, string(it.Outcome)), 1))
	if words := evidence(it, f); words != "" {
		p.text(indent, words)
	}
	if it.Deviation != "" {
		p.text(indent, sentence(it.Deviation))
	}
	if len(why.Others) > 0 {
		p.text(indent, "The others: "+strings.Join(why.Others, ", ")+".")
	}
	p.blank()
	p.field("rule", c.ID+", "+c.Where.String())
	p.field("source", sourceWords(c.Source))
	p.field("do", c.Do)
	if caution, ok := check.Hazard(c.Caution); ok {
		p.field("make safe", caution)
	}
	p.field("accept", accepting(c))
	for _, part := range why.Parts {
		p.part(&part)
	}
	if len(why.Limits) > 0 {
		p.blank()
	}
	for _, b := range why.Limits {
		p.bound(&b)
	}
	if why.Series != nil {
		p.blank()
		p.plot(plot{why.Series})
	}
	return p.write(w)
}

const fieldStart = 11

func (p *page) field(name, words string) {
	if words == "" {
		return
	}
	head, more := cut(words, width-fieldStart)
	p.line(pad(name, fieldStart) + head)
	p.text(fieldStart, more)
}

// part prints an expression as it is written and below it each part with its value.
func (p *page) part(part *check.Part) {
	p.blank()
	p.field(part.Name, part.Text)
	const values = 50
	for _, s := range part.Steps {
		var b columns
		text, more := cut(s.Text, values-fieldStart-4)
		b.at(fieldStart+2, text)
		if more == "" {
			b.at(values, s.Value)
			p.line(b.String())
		} else {
			p.text(fieldStart+2, s.Text)
			p.text(values, s.Value)
		}
		for _, r := range s.Remarks {
			p.text(fieldStart+4, r)
		}
	}
}

func (p *page) bound(b *check.Bound) {
	what := string(b.Outcome)
	if b.Due {
		what = "due"
	}
	words := withUnit(trimmed(b.Value, max(2, decimals(0, b.Value))), b.Unit) + " " + b.Kind
	if math.IsNaN(b.Value) {
		words = "not known"
	}
	if b.Text != "" {
		words += ", " + b.Text
	}
	if b.Where.File != "" {
		words += ", " + b.Where.String()
	}
	p.field(what, words)
	if s := sourceWords(b.Source); s != "" {
		p.text(fieldStart, s)
	}
}

func sourceWords(s check.Source) string {
	var parts []string
	if s.Kind != "" {
		parts = append(parts, s.Kind)
	}
	if s.Text != "" {
		parts = append(parts, s.Text)
	}
	if len(parts) == 0 {
		return ""
	}
	if s.Confirmed != "" {
		parts = append(parts, "confirmed "+s.Confirmed)
	} else {
		parts = append(parts, "not confirmed by anyone")
	}
	return strings.Join(parts, ", ")
}

// accepting says who may accept what.
func accepting(c *check.Card) string {
	var parts []string
	for _, a := range []struct {
		outcome check.Outcome
		by      check.Acceptor
	}{{check.Warn, c.Accept.Warn}, {check.Fail, c.Accept.Fail}, {check.NoData, c.Accept.NoData}} {
		who := "nobody"
		switch {
		case a.by.Official:
			who = "the official, in writing"
		case len(a.by.Hats) > 0:
			who = hats(a.by.Hats)
		}
		if a.by.Runs > 0 {
			who += fmt.Sprintf(" for %d %s", a.by.Runs, plural(a.by.Runs, "run"))
		}
		if a.outcome == check.NoData && c.Lenient {
			who = "not needed"
		}
		parts = append(parts, string(a.outcome)+" "+who)
	}
	return strings.Join(parts, "; ")
}

func plural(n int, word string) string {
	if n == 1 {
		return word
	}
	return word + "s"
}
