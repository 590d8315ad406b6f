package report

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/fatih/color"

	"github.com/paintmark/paintmark/internal/check"
)

// glance is how many lines a person sees without scrolling.
const glance = 24

// Options says how much of a look the text tells.
type Options struct {
	All    bool // every item, also those that pass with room
	Colour bool
}

// Text prints a look for a person: who and when, the answer, what to do about it,
// in the order of what it keeps the car from.
func Text(w io.Writer, look *check.Look, opt Options) error {
	p := &page{colour: opt.Colour}
	blocks := sortIntoBlocks(look.Items)
	p.line(who(look))
	p.answer(look, blocks)
	p.faults(look.Faults)
	p.clearIt(blocks.stops)
	p.names(blocks.names)
	p.cantSee(blocks.unseen)
	p.makeSafe(blocks)
	p.deviations(blocks.accepted)
	p.rest(look, blocks)
	if opt.All {
		p.everything(look.Items)
	}
	if len(p.lines) > glance {
		p.blank()
		p.answer(look, blocks)
	}
	return p.write(w)
}

// blocks are the items by what they ask of the team.
type blocks struct{ stops, names, unseen, accepted, tight, due []*check.Item }

func sortIntoBlocks(items []check.Item) blocks {
	var b blocks
	for i := range items {
		it := &items[i]
		switch {
		case it.Deviation != "":
			b.accepted = append(b.accepted, it)
		case it.Outcome == check.NoData:
			b.unseen = append(b.unseen, it)
		case it.Open && it.Stops():
			b.stops = append(b.stops, it)
		case it.Open:
			b.names = append(b.names, it)
		case it.Outcome == check.Pass && it.Due == nil && tight(&it.Result):
			b.tight = append(b.tight, it)
		}
		if it.Due != nil {
			b.due = append(b.due, it)
		}
	}
	return b
}

// tight says that a passing item has less than a twentieth of its limit in hand.
// A limit of nothing has no twentieth, and the answer there is no.
func tight(r *check.Result) bool {
	return r.Margin != nil && r.Limit != nil && r.Limit.Value != 0 && *r.Margin < 0.05*math.Abs(r.Limit.Value)
}

// who is the first line: which car, where, after which run.
func who(look *check.Look) string {
	car := strings.ToUpper(look.Car)
	if car == "" {
		car = "CAR WITHOUT A NAME"
	}
	if look.Number != "" {
		car += "  no " + look.Number
	}
	parts := []string{car}
	if look.Place != "" {
		parts = append(parts, look.Place)
	}
	switch {
	case look.Run > 0 && look.Next != "":
		parts = append(parts, fmt.Sprintf("after run %d, for run %d (%s)", look.Run, look.Run+1, look.Next))
	case look.Run > 0:
		parts = append(parts, fmt.Sprintf("after run %d", look.Run))
	default:
		parts = append(parts, "before the first run")
	}
	gap := "     "
	line := strings.Join(parts, gap)
	for len(gap) > 2 && len([]rune(line)) > width {
		gap = gap[1:]
		line = strings.Join(parts, gap)
	}
	return line
}

// answer is the second line: the verdict and what it is made of.
func (p *page) answer(look *check.Look, b blocks) {
	word, c := Word(look), clear
	switch {
	case look.Part != "":
		c = mind
	case look.Verdict == check.NoGo:
		c = stop
	case look.Verdict == check.NeedsNames:
		c = mind
	}
	var line columns
	line.at(0, word)
	var counts []string
	add := func(name string, n int) {
		if n > 0 {
			counts = append(counts, fmt.Sprintf("%s %d", name, n))
		}
	}
	add("tool faults", len(look.Faults))
	add("clear", len(b.stops))
	add("names", len(b.names))
	add("can't see", len(b.unseen))
	line.at(utf8.RuneCountInString(word)+4, strings.Join(counts, "  "))
	if !look.AsOf.IsZero() {
		asOf := "as of " + when(look.AsOf, look.Zone)
		if len(line.b)+len(asOf)+2 > width {
			p.line(strings.Replace(line.String(), word, p.paint(c, word), 1))
			line, word = columns{}, ""
		}
		line.endAt(width, asOf)
	}
	p.line(strings.Replace(line.String(), word, p.paint(c, word), 1))
	if look.Part != "" {
		p.text(0, "Only "+look.Part+".")
	}
}

// Word is the answer as it is printed.
func Word(look *check.Look) string {
	switch {
	case look.Part != "":
		return "PART LOOK, NO VERDICT"
	case look.Verdict == check.Ready:
		return "READY"
	case look.Verdict == check.NeedsNames:
		return "NEEDS NAMES"
	}
	return "NO-GO"
}

func when(t time.Time, zone *time.Location) string {
	if zone == nil {
		return t.UTC().Format("2 Jan 2006 15:04 UTC")
	}
	return t.In(zone).Format("2 Jan 2006 15:04")
}

func (p *page) faults(faults []check.ToolFault) {
	if len(faults) == 0 {
		return
	}
	var systems []string
	whole := false
	for _, f := range faults {
		systems = append(systems, f.Systems...)
		whole = whole || len(f.Systems) == 0
	}
	slices.Sort(systems)
	head := "TOOL FAULT, USE THE PAPER SHEETS FOR: everything"
	if !whole {
		head = "TOOL FAULT, USE THE PAPER SHEETS FOR: " + strings.Join(slices.Compact(systems), ", ")
	}
	p.blank()
	for head != "" {
		var line string
		line, head = cut(head, width)
		p.line(p.paint(stop, line))
	}
	for _, f := range faults {
		p.hanging(1, indent, f.Error())
	}
}

func (p *page) head(c *color.Color, name, last string) {
	p.blank()
	if last == "" {
		p.line(p.paint(c, name))
		return
	}
	var b columns
	b.at(0, name)
	b.endAt(haveEnd, "have")
	b.endAt(limitEnd, "limit")
	b.endAt(inHandEnd, "in hand")
	b.at(whoStart, last)
	p.line(strings.Replace(b.String(), name, p.paint(c, name), 1))
}

func (p *page) clearIt(items []*check.Item) {
	if len(items) == 0 {
		return
	}
	p.head(stop, "CLEAR IT", "who")
	p.groups(items)
}

func (p *page) names(items []*check.Item) {
	if len(items) == 0 {
		return
	}
	name := "PUT NAMES TO IT"
	if !slices.ContainsFunc(items, func(it *check.Item) bool { return len(it.Acceptor().Hats) != 2 }) {
		name = "PUT TWO NAMES TO IT"
	}
	p.head(mind, name, "who")
	p.groups(items)
}

// groups prints items with their numbers; the elements of one rule stand together and its
// remedy is said once.
func (p *page) groups(items []*check.Item) {
	for len(items) > 0 {
		n := 1
		for n < len(items) && sameRule(items[n], items[0]) {
			n++
		}
		group := items[:n]
		items = items[n:]
		if n == 1 {
			it := group[0]
			f := figuresOf(&it.Result)
			p.row(label(it), f.have, f.limit, f.inHand, hats(it.Who))
			p.text(indent, words(evidence(it, f), remedy(it)))
			continue
		}
		p.row(lowerFirst(group[0].Card.Item), "", "", "", hats(group[0].Who))
		for _, it := range group {
			f := figuresOf(&it.Result)
			if it.Measured == nil {
				p.text(indent, it.Position+"  "+words(it.Message, from(it.From)))
				continue
			}
			p.row("  "+it.Position, f.have, f.limit, f.inHand, "")
			p.text(indent+2, evidence(it, f))
		}
		p.text(indent, remedy(group[0]))
	}
}

// label is what the item is called in a line.
func label(it *check.Item) string {
	name := lowerFirst(it.Card.Item)
	if it.Position != "" {
		name += ", " + it.Position
	}
	return name
}

// evidence is what stands behind the numbers: how sure, when, and from what.
func evidence(it *check.Item, f figures) string {
	var parts []string
	if f.between != "" {
		parts = append(parts, f.between)
	}
	if it.At != nil {
		parts = append(parts, "at "+seconds(*it.At))
	}
	head := strings.Join(parts, ", ")
	note := it.Note
	if it.Measured == nil {
		note = it.Message
	}
	return words(sentence(head), sentence(note), sentence(from(it.From)))
}

// from says what answered where it was not the newest.
func from(f check.From) string {
	if f.Age == "" {
		return ""
	}
	switch {
	case f.Kind == "run sheet":
		return fmt.Sprintf("from the sheet of run %d, %s old", f.Run, f.Age)
	case f.Run > 0:
		return fmt.Sprintf("from run %d, %s old", f.Run, f.Age)
	case f.Record != "":
		return fmt.Sprintf("from %s, %s old", f.Record, f.Age)
	}
	return f.Age + " old"
}

// remedy is what to do, and what to make safe before hands go near.
func remedy(it *check.Item) string { return words(sentence(it.Card.Do), mindful(it)) }

// mindful points to the caution that is written out once, in its own block.
func mindful(it *check.Item) string {
	if it.Card.Caution == "" {
		return ""
	}
	return "Make safe first: " + hazard(it.Card.Caution) + "."
}

func hazard(key string) string { return strings.ReplaceAll(key, "-", " ") }

// makeSafe writes out the cautions that the lines above point to.
func (p *page) makeSafe(b blocks) {
	var keys []string
	for _, it := range slices.Concat(b.stops, b.names, b.unseen) {
		keys = append(keys, it.Card.Caution)
	}
	slices.Sort(keys)
	keys = slices.DeleteFunc(slices.Compact(keys), func(k string) bool { return k == "" })
	if len(keys) == 0 {
		return
	}
	p.head(title, "MAKE SAFE FIRST", "")
	for _, k := range keys {
		caution, _ := check.Hazard(k)
		p.hanging(itemStart, indent, upperFirst(hazard(k))+": "+caution)
	}
}

func words(parts ...string) string {
	return strings.Join(slices.DeleteFunc(parts, func(s string) bool { return s == "" }), " ")
}

// cantSee prints what could not be decided: items with one and the same reason stand under
// it, and so do the elements of one rule.
func (p *page) cantSee(items []*check.Item) {
	if len(items) == 0 {
		return
	}
	p.head(mind, "CAN'T SEE", "")
	for _, g := range byReason(items) {
		first := g[0]
		switch {
		case len(g) == 1:
			p.row(label(first), "", "", mayPass(first), hats(first.Who))
			p.text(indent, words(evidence(first, figuresOf(&first.Result)), mindful(first)))
		case sameRule(first, g[len(g)-1]):
			var places []string
			for _, it := range g {
				places = append(places, it.Position)
			}
			gap := " "
			if strings.Contains(strings.Join(places, ""), " ") {
				gap = ", "
			}
			p.row(lowerFirst(first.Card.Item)+", "+strings.Join(places, gap), "", "", mayPass(first), hats(first.Who))
			p.text(indent, words(sentence(anywhere(first)), mindful(first)))
		default:
			p.row(lowerFirst(first.Message), "", "", mayPass(first), hats(first.Who))
			var names []string
			for _, it := range g {
				names = append(names, label(it))
			}
			p.text(indent, sentence(strings.Join(names, "; ")))
		}
	}
}

// anywhere is an item's reason without the element it is about: elements whose reasons
// differ only in that are said together.
func anywhere(it *check.Item) string {
	if it.Position == "" {
		return it.Message
	}
	return strings.ReplaceAll(it.Message, "["+it.Position+"]", "")
}

// notProven names what the newest run did not exercise, and on which it last was; asked is
// false where nothing that was looked at is about a run.
func notProven(look *check.Look) (words []string, asked bool) {
	for i := range look.Items {
		it := &look.Items[i]
		asked = asked || it.From.Kind == "log" || it.From.Kind == "run sheet"
		if !it.NotExercised {
			continue
		}
		said := label(it)
		if it.ProvenOn > 0 {
			said += fmt.Sprintf(" (last on %d)", it.ProvenOn)
		}
		words = append(words, said)
	}
	if len(words) == 0 {
		words = []string{"nothing"}
	}
	return words, asked && look.Run > 0
}

// mayPass says what a person may do about an item nobody could see.
func mayPass(it *check.Item) string {
	switch {
	case !it.Open:
		return "caution"
	case it.Stops():
		return "must see"
	}
	if n := len(it.Acceptor().Hats); n > 1 {
		return fmt.Sprintf("or %d names", n)
	}
	return "or a name"
}

// byReason puts together items without a value that lack the same thing, ask for the same
// and of the same people: the elements of one rule, or rules with one reason.
func byReason(items []*check.Item) [][]*check.Item {
	var out [][]*check.Item
	for _, it := range items {
		together := func(g []*check.Item) bool {
			f := g[0]
			if f.Measured != nil || it.Measured != nil || mayPass(f) != mayPass(it) || !slices.Equal(f.Who, it.Who) {
				return false
			}
			if f.Card.ID == it.Card.ID {
				return sameRule(f, g[len(g)-1]) && anywhere(f) == anywhere(it)
			}
			return f.Message == it.Message && (len(g) == 1 || !sameRule(f, g[len(g)-1]))
		}
		if i := slices.IndexFunc(out, together); i >= 0 {
			out[i] = append(out[i], it)
			continue
		}
		out = append(out, []*check.Item{it})
	}
	return out
}

func (p *page) deviations(items []*check.Item) {
	if len(items) == 0 {
		return
	}
	p.head(title, "UNDER A DEVIATION", "outcome")
	for _, it := range items {
		f := figuresOf(&it.Result)
		p.row(label(it), f.have, f.limit, f.inHand, string(it.Outcome))
		p.text(indent, sentence(it.Deviation))
	}
}

// rest prints what asks for nothing now: tight passes, what falls due, the counts, the caution.
func (p *page) rest(look *check.Look, b blocks) {
	p.blank()
	var tightWords, dueWords []string
	for _, it := range b.tight {
		f := figuresOf(&it.Result)
		tightWords = append(tightWords, fmt.Sprintf("%s %s (%s)", label(it), f.have, f.inHand))
	}
	for _, it := range b.due {
		dueWords = append(dueWords, strings.TrimSpace(label(it)+" "+figuresOf(&it.Result).have))
	}
	p.list("TIGHT, BUT PASSES", tightWords)
	var cleared []string
	for i := range look.Items {
		if it := &look.Items[i]; it.Cleared != "" {
			cleared = append(cleared, strings.TrimSpace(label(it)+" "+figuresOf(&it.Result).have+", "+it.Cleared))
		}
	}
	p.list("PROVEN ON STANDS", cleared)
	if look.FirstToFall != "" {
		p.list("FIRST LIFE TO FALL", []string{look.FirstToFall})
	}
	p.list("DUE", dueWords)
	if words, asked := notProven(look); asked {
		p.list(fmt.Sprintf("NOT PROVEN ON %d", look.Run), words)
	}
	p.list("CAR AND SHEET", sheet(look))
	p.list("LOCKED OUT", look.LockedOut)
	p.list("ABOUT THE LOG", look.Remarks)
	if len(look.Items) == 0 {
		p.line("Nothing was looked at.")
		p.caution()
		return
	}
	c := Count(look.Items)
	line := fmt.Sprintf("Passed %d.  Does not apply %d.  Deviations open %d of %d.",
		c.Pass, c.NotApplicable, look.Deviations.Open, look.Deviations.Most)
	if n := unconfirmed(look.Items); n > 0 {
		line += fmt.Sprintf("  Limits unconfirmed %d.", n)
	}
	p.line(line)
	p.caution()
}

func (p *page) caution() {
	for line := range strings.Lines(Caution) {
		p.line(strings.TrimSpace(line))
	}
}

func sheet(look *check.Look) []string {
	var out []string
	if look.Setup != "" {
		out = append(out, "setup "+look.Setup)
	}
	if look.Log != "" {
		out = append(out, "log "+look.Log)
	}
	return out
}

// everything lists all items by system, in words.
func (p *page) everything(items []check.Item) {
	p.blank()
	p.head(title, "ALL ITEMS", "outcome")
	bySystem := slices.Clone(items)
	slices.SortStableFunc(bySystem, func(a, b check.Item) int { return strings.Compare(a.Card.System, b.Card.System) })
	system := ""
	for i := range bySystem {
		it := &bySystem[i]
		if it.Card.System != system {
			system = it.Card.System
			p.line("  " + p.paint(title, system))
		}
		f := figuresOf(&it.Result)
		p.row(label(it), f.have, f.limit, f.inHand, string(it.Outcome))
		if it.Measured == nil && it.Outcome != check.Pass {
			p.text(indent, sentence(it.Message))
		}
	}
}

// sameRule says that two items can stand under one heading. An element may have a card of its own.
func sameRule(a, b *check.Item) bool {
	return a.Card.ID == b.Card.ID && a.Outcome == b.Outcome && slices.Equal(a.Who, b.Who)
}
