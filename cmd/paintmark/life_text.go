package main

import (
	"cmp"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/life"
)

// The columns of the life sheet, counted from 0; numbers end at theirs.
const (
	lifeUsed  = 35
	lifeLimit = 45
	lifeLeft  = 55
	lifeBar   = 57
	lifeDue   = 68
	barCells  = 8
)

// lifePage collects the lines of a life sheet.
type lifePage struct{ b strings.Builder }

func (p *lifePage) line(format string, args ...any) {
	p.b.WriteString(strings.TrimRight(fmt.Sprintf(format, args...), " ") + "\n")
}

// row prints one limit. What does not fit before its numbers goes on the line above.
func (p *lifePage) row(label, used, limit, left, bar, due string) {
	width := utf8.RuneCountInString
	if width(label) > lifeUsed-width(used)-1 {
		p.line("%s", label)
		label = ""
	}
	line := padTo(label, lifeUsed-width(used)) + used
	line = padTo(line, max(lifeLimit-width(limit), width(line)+1)) + limit
	line = padTo(line, max(lifeLeft-width(left), width(line)+1)) + left
	line = padTo(line, max(lifeBar, width(line)+1)) + bar
	p.line("%s", padTo(line, max(lifeDue, width(line)+1))+due)
}

func padTo(s string, n int) string {
	return s + strings.Repeat(" ", max(0, n-utf8.RuneCountInString(s)))
}

// writeSheet prints the life sheet for a person.
func writeSheet(w io.Writer, f *car.Folder, s *life.Sheet, at time.Time, all bool) error {
	p := &lifePage{}
	p.heading(f, s, at)
	p.line("")
	p.row("SERIAL AND METER", "used", "limit", "least left", "used+plan", "due")
	for _, part := range s.Parts {
		if len(part.Limits)+len(part.Inspections) == 0 || !part.Fitted && !all {
			continue
		}
		p.part(part)
	}
	p.below(s, all)
	_, err := io.WriteString(w, p.b.String())
	return err
}

// heading says which car, after which run, and as of when.
func (p *lifePage) heading(f *car.Folder, s *life.Sheet, at time.Time) {
	root := f.Roots(at)
	name := strings.ToUpper(root["car"].Get("name").Text)
	if number := root["car"].Get("number").Text; number != "" {
		name += "  no " + number
	}
	after := "before the first run"
	if n := len(s.Runs); n > 0 {
		after = fmt.Sprintf("after run %d", s.Runs[n-1].No)
	}
	runs := 0
	for _, session := range s.Sessions {
		runs += session.Runs
	}
	p.line("%s     life %s, %s planned", name, after, plural(runs, "run"))
	if !at.IsZero() {
		p.line("as of %s", at.In(placeZone(f)).Format("2 Jan 2006 15:04"))
	}
}

func plural(n int, word string) string {
	if n == 1 {
		return "1 " + word
	}
	return fmt.Sprintf("%d %ss", n, word)
}

func (p *lifePage) part(part *life.Part) {
	head := part.Serial + "  " + part.Kind
	switch {
	case part.Inside != "":
		head += ", inside " + part.Inside
	case part.Position != "" && part.Position != part.Kind:
		head += ", " + part.Position
	}
	if !part.Fitted {
		head += ", not on the car"
	}
	if part.Gone != "" {
		head += ", " + part.Gone
	}
	if part.NoGo {
		head += ", no-go part"
	}
	if part.Estimated {
		head += ", estimated"
	}
	p.line("%s", head)
	for _, l := range part.Limits {
		label := l.Meter.Words()
		if l.Since == "overhaul" {
			label += " since overhaul"
		}
		p.limit("  "+label, l)
		if lives := l.Lives; lives != nil && len(lives.Unclear) > 0 {
			p.line("    chance to fail in the planned runs unknown: %s", strings.Join(lives.Unclear, ", "))
		}
		if r := l.Risk; r != nil {
			p.line("    chance to fail in the planned runs %s (%d of its like did, %d not)", life.Percent(r.Chance), r.Failed, r.Running)
		}
	}
	for _, ins := range part.Inspections {
		for _, iv := range ins.Every {
			p.limit("  "+ins.What+", "+iv.Meter.Words(), &iv.Limit)
		}
		if ins.Opened != "" {
			may := ""
			if ins.Maybe {
				may = "may be "
			}
			p.row("  "+ins.What+": "+ins.Opened, "", "", "", "", may+life.Now)
		}
	}
}

func (p *lifePage) limit(label string, l *life.Limit) {
	limit := life.Exact(l.Life)
	if l.Life != l.Life || math.IsInf(l.Life, 0) {
		limit = "unknown"
	} else if u := l.Unit(); u != "" {
		limit += " " + u
	}
	least := l.Left().Low
	left := l.Meter.Number(life.Amount{Low: least, High: least})
	if math.IsInf(l.Used.High, 1) {
		left = "unknown"
	}
	p.row(label, l.Meter.Number(l.Used), limit, left, bar(l), due(l))
}

// bar draws what is used (=), what may be used (?) and what the plan adds (-).
func bar(l *life.Limit) string {
	if math.IsNaN(l.Life) || math.IsInf(l.Life, 0) || l.Life <= 0 {
		return "|" + strings.Repeat("?", barCells) + "|"
	}
	cell := func(v float64) int {
		return int(math.Max(0, math.Min(barCells, math.Floor(v/l.Life*barCells+0.5))))
	}
	low, high, plan := cell(l.Used.Low), cell(l.Used.High), cell(l.WithPlan().High)
	plan = max(plan, high)
	s := strings.Repeat("=", low) + strings.Repeat("?", high-low) + strings.Repeat("-", plan-high) + strings.Repeat(" ", barCells-plan)
	end := "|"
	if l.MayBeOver() {
		end = ">"
	}
	return "|" + s + end
}

// due says when a limit falls: the session, the day, or how many more runs it stands.
func due(l *life.Limit) string {
	switch {
	case l.Falls != "" && l.IsOver():
		return life.Now
	case l.Falls == life.Now:
		return "may be now"
	case l.Falls != "":
		return "in " + l.Falls
	case math.IsInf(l.Used.High, 1) || math.IsNaN(l.Life):
		return "unknown"
	case !l.Ends.IsZero():
		return l.Ends.Format("2 Jan 06")
	case math.IsInf(l.RunsLeft.Low, 1):
		return ""
	}
	return "in " + plural(int(l.RunsLeft.Low), "run")
}

// below prints what is not the life of one part.
func (p *lifePage) below(s *life.Sheet, all bool) {
	p.line("")
	if s.First != nil {
		p.wrapped("FIRST LIFE TO FALL", s.First.Words())
	}
	for _, e := range s.Empty {
		p.wrapped("EMPTY", e)
	}
	for _, e := range s.WrongKind {
		p.wrapped("WRONG KIND", e)
	}
	for i := 0; i < len(s.Owed); {
		place, n := s.Owed[i].Place, i
		var proofs []string
		for ; n < len(s.Owed) && s.Owed[n].Place == place; n++ {
			proofs = append(proofs, s.Owed[n].Proof)
		}
		p.wrapped("OWED", fmt.Sprintf("%s, since %s went in: %s", place, s.Owed[i].Part, strings.Join(proofs, ", ")))
		i = n
	}
	if len(s.NotBroughtIn) > 0 {
		p.wrapped("NOT BROUGHT IN", "run "+strings.Trim(strings.ReplaceAll(fmt.Sprint(s.NotBroughtIn), " ", ", "), "[]"))
	}
	for _, f := range s.Filled {
		said := fmt.Sprintf("run %d did not count %s: ", f.Run, f.Meter.Words())
		if f.Source == "" && math.IsInf(f.Used.High, 1) {
			said += "nothing bounds it; write filled on its sheet, or substitute in meters.yaml"
		} else {
			said += f.Meter.Say(f.Used) + ", " + f.Source
		}
		p.wrapped("FILLED", said)
	}
	shelf := 0
	for _, part := range s.Parts {
		if !part.Fitted && len(part.Limits) > 0 {
			shelf++
		}
	}
	if shelf > 0 && !all {
		p.line("%s not on the car: --all shows them.", plural(shelf, "part"))
	}
	p.line("= used   ? may be used   - planned runs   > over")
	p.line("Advice only: the part's own sheet and the regulations in force prevail.")
}

// wrapped prints a title and words after it within 80 columns.
func (p *lifePage) wrapped(title, words string) {
	for _, line := range beside(title, 22, words) {
		p.line("%s", line)
	}
}

// beside is a title and words that begin at a column and go on below it, within 80 columns.
func beside(title string, start int, words string) (lines []string) {
	line := padTo(title, start)
	for word := range strings.FieldsSeq(words) {
		if n := utf8.RuneCountInString(line); n > start && n+utf8.RuneCountInString(word) > 80 {
			lines = append(lines, line)
			line = strings.Repeat(" ", start)
		}
		line += word + " "
	}
	return append(lines, line)
}

// writeHistory prints a part's life back to birth.
func writeHistory(w io.Writer, f *car.Folder, s *life.Sheet, part *life.Part, at time.Time) error {
	p := &lifePage{}
	head := part.Serial + "  " + part.Kind
	switch {
	case part.Gone != "":
		head += ", " + part.Gone
	case part.Inside != "":
		head += ", inside " + part.Inside
	}
	if part.Position != "" {
		head += ", on the car in " + part.Position
	} else {
		head += ", not on the car"
	}
	p.line("%s", head)
	p.line("")
	zone := placeZone(f)
	for _, e := range s.History(f, part, at) {
		when := strings.Repeat(" ", 21)
		if !e.At.IsZero() {
			when = padTo(e.At.In(zone).Format("2 Jan 2006 15:04"), 18) + e.By
		}
		p.hanging(padTo(when, 22), e.What, e.Detail)
	}
	p.line("")
	for _, t := range part.Totals {
		said := t.Meter.Words() + " " + t.Meter.Say(t.Used)
		if t.SinceOverhaul != t.Used {
			said += ", since overhaul " + t.Meter.Say(t.SinceOverhaul)
		}
		if t.Used.Estimated {
			said += ", estimated"
		}
		p.line("%s%s", padTo("BACK TO BIRTH", 22), said)
	}
	if len(part.Limits)+len(part.Inspections) > 0 {
		p.line("")
		p.row("LIMIT", "used", "limit", "least left", "used+plan", "due")
		p.part(part)
	}
	_, err := io.WriteString(w, p.b.String())
	return err
}

func (p *lifePage) hanging(start, what, detail string) {
	n := utf8.RuneCountInString(start)
	line := start + what
	if detail != "" {
		line += ":"
	}
	for word := range strings.FieldsSeq(detail) {
		if utf8.RuneCountInString(line)+1+utf8.RuneCountInString(word) > 80 {
			p.line("%s", line)
			line = strings.Repeat(" ", n+1)
		}
		line += " " + word
	}
	p.line("%s", line)
}

// writePlan prints what each planned session uses and what falls in it.
func writePlan(w io.Writer, f *car.Folder, s *life.Sheet, at time.Time) error {
	p := &lifePage{}
	p.heading(f, s, at)
	p.line("")
	if len(s.Sessions) == 0 {
		p.line("The plan has no more runs.")
	}
	fall := map[string][]string{}
	for _, part := range s.Parts {
		if !part.Fitted {
			continue
		}
		note := func(what string, l *life.Limit) {
			switch {
			case l.Falls == life.Now && !l.IsOver():
				fall[l.Falls] = append(fall[l.Falls], fmt.Sprintf("%s %s: %s of %s, may be over", part.Serial, what, l.Meter.Number(l.Used), life.Exact(l.Life)))
			case l.Falls == life.Now:
				fall[l.Falls] = append(fall[l.Falls], fmt.Sprintf("%s %s: %s of %s", part.Serial, what, l.Meter.Number(l.Used), life.Exact(l.Life)))
			case l.Falls != "":
				fall[l.Falls] = append(fall[l.Falls], fmt.Sprintf("%s %s: %s of %s", part.Serial, what, l.Meter.Number(l.WithPlan()), life.Exact(l.Life)))
			}
		}
		for _, l := range part.Limits {
			note(l.Meter.Words(), l)
		}
		for _, ins := range part.Inspections {
			for _, iv := range ins.Every {
				note(ins.What+", "+iv.Meter.Words(), &iv.Limit)
			}
			if ins.Opened != "" {
				fall[life.Now] = append(fall[life.Now], part.Serial+" "+ins.What+": "+ins.Opened)
			}
		}
	}
	if len(fall[life.Now]) > 0 {
		p.wrapped("NOW", strings.Join(fall[life.Now], "; ")+".")
	}
	for _, session := range s.Sessions {
		said := plural(session.Runs, "run") + ": " + strings.Join(uses(s, float64(session.Runs)), ", ") + "."
		if falls := fall[session.ID]; len(falls) > 0 {
			said += " Falls: " + strings.Join(falls, "; ") + "."
		}
		p.wrapped(strings.ToUpper(session.ID), said)
	}
	p.line("")
	for i, m := range s.Meters {
		if from := s.UsesFrom[i]; len(s.Sessions) > 0 && from != "plan" && !m.IsEvent() {
			if from == "" {
				from = "nothing says: add it to per_run in plan.yaml"
			}
			p.wrapped("NOT IN THE PLAN", m.Words()+" from "+from)
		}
	}
	if s.First != nil {
		p.wrapped("FIRST LIFE TO FALL", s.First.Words())
	}
	_, err := io.WriteString(w, p.b.String())
	return err
}

// uses says what some runs use of each meter.
func uses(s *life.Sheet, runs float64) []string {
	var out []string
	for i, m := range s.Meters {
		if u := s.Uses[i]; !m.ByPlan && !m.IsEvent() && u.High > 0 && s.UsesFrom[i] != "" {
			out = append(out, m.Words()+" "+m.Say(life.Amount{Low: u.Low * runs, High: u.High * runs}))
		}
	}
	return out
}

// The columns of the trends, as those of the life sheet.
const (
	trendRuns   = 36
	trendNewest = 45
	trendSlope  = 54
	trendLimit  = 64
	trendWhen   = 66
)

// writeTrends prints how the watched values go over the runs: the first to cross its limit
// first. Those that come no nearer to theirs are counted, and listed with all.
func writeTrends(w io.Writer, s *life.Sheet, all bool) error {
	p := &lifePage{}
	if len(s.Trends) == 0 {
		p.line("Nothing is watched: no run sheet posts a measure, meters.yaml names no trends.")
	}
	still, short, rows := 0, 0, 0
	for _, t := range soonestFirst(s.Trends) {
		if t.Item != "" && !t.Heading() && !t.Past() && !all {
			if math.IsNaN(t.Slope) {
				short++ // it may be going anywhere
			} else {
				still++
			}
			continue
		}
		if rows++; rows == 1 {
			p.trend("VALUE", "runs", "newest", "a run", "limit", "crosses it")
		}
		slope, when := "-", "needs 3 runs"
		if !math.IsNaN(t.Slope) {
			slope = fmt.Sprintf("%+.*f", t.Decimals+1, t.Slope)
			when = "never"
		}
		switch runs := max(1, int(math.Ceil(min(t.RunsLeft, 1e9)))); {
		case math.IsNaN(t.Newest.Low):
			when = "no run has it"
		case t.Past():
			when = "is past it"
		case !math.IsInf(t.RunsLeft, 1):
			when = fmt.Sprintf("run %d", t.Runs[len(t.Runs)-1]+runs)
			if t.Means != "" {
				when += ", " + t.Means
			}
		}
		newest := "-"
		if n := t.Newest; !math.IsNaN(n.Low) {
			newest = fmt.Sprintf("%.*f", t.Decimals, n.Low+(n.High-n.Low)/2)
		}
		p.trend(trendName(t), strconv.Itoa(len(t.Runs)), newest, slope, strings.TrimSpace(life.Exact(t.Limit)+" "+t.Unit), when)
	}
	if short > 0 {
		p.line("%d values are on fewer than 3 runs, too few to say where they go: --all.", short)
	}
	if still > 0 {
		p.line("%d more come no nearer to their limit, or the life sheet foresees it: --all.", still)
	}
	_, err := io.WriteString(w, p.b.String())
	return err
}

func soonestFirst(trends []life.Trend) []life.Trend {
	out := slices.Clone(trends)
	slices.SortStableFunc(out, func(a, b life.Trend) int { return cmp.Compare(a.RunsLeft, b.RunsLeft) })
	return out
}

// trendName is what a person calls a value that is followed.
func trendName(t life.Trend) string {
	if t.Item == "" {
		return strings.ReplaceAll(t.Name, "_", " ")
	}
	name := t.Item
	if _, position, ok := strings.Cut(t.Name, " "); ok {
		name += ", " + position
	}
	return name
}

// trend prints one line. A name that does not fit before its numbers goes on lines above.
func (p *lifePage) trend(label, runs, newest, slope, limit, when string) {
	width := utf8.RuneCountInString
	const room = trendRuns - 5
	var line string
	for word := range strings.FieldsSeq(label) {
		if line != "" && width(line)+1+width(word) > room {
			p.line("%s", line)
			line = "  " + word
			continue
		}
		if line != "" {
			line += " "
		}
		line += word
	}
	for _, c := range []struct {
		end  int
		text string
	}{{trendRuns, runs}, {trendNewest, newest}, {trendSlope, slope}, {trendLimit, limit}} {
		line = padTo(line, max(c.end-width(c.text), width(line)+1)) + c.text
	}
	p.line("%s", padTo(line, max(trendWhen, width(line)+1))+when)
}

// placeZone is where the event is; every time is printed in it.
func placeZone(f *car.Folder) *time.Location {
	text := f.Roots(f.AsOf)["plan"].Get("event.time_zone")
	if t, err := time.Parse("Z07:00", text.Text); err == nil && !text.Unknown {
		_, offset := t.Zone()
		return time.FixedZone(text.Text, offset)
	}
	return time.UTC
}
