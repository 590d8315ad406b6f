package readiness

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/pack"
)

// openSheet lets the newest run sheet answer for a log of its that is not at hand.
func (c *Car) openSheet(w wantedLog) {
	run := runSheet(c.folder, w.run)
	if run == nil {
		return
	}
	from := check.From{Kind: "run sheet", Run: w.run, Record: run.File, Age: ageWords(c.asOf.Sub(car.Started(run)))}
	put := func(kind string) bool {
		answers := answersOf(run, kind, newQuestions(c.folder))
		if answers != nil {
			c.runners, c.logs = append(c.runners, nil), append(c.logs, nil)
			c.evidence.Logs = append(c.evidence.Logs, pack.Log{Kind: kind, Answers: answers, From: from})
		}
		return answers != nil
	}
	if !put(w.kind) {
		return
	}
	if w.kind == "run" {
		put(pack.Pairs)
	}
	if changed := c.changedSince(run); changed != "" {
		remark := fmt.Sprintf("since run %d: %s", w.run, changed)
		if !slices.Contains(c.remarks, remark) {
			c.remarks = append(c.remarks, remark)
		}
	}
}

// runSheet is the sheet of a run that counts, nil if there is none.
func runSheet(f *car.Folder, no int) *car.Record {
	for _, r := range f.Runs() {
		if known(r.Body.Get("no")) == fmt.Sprint(no) {
			return r
		}
	}
	return nil
}

// changedSince says what was changed on the car since a run that its log cannot know of.
func (c *Car) changedSince(run *car.Record) string {
	var out []string
	setup := c.evidence.Roots["setup"]
	was, now := known(run.Body.Get("setup")), known(setup.Get("revision"))
	switch sha := known(run.Body.Get("setup_sha256")); {
	case was != now:
		out = append(out, fmt.Sprintf("setup %s, was %s", orUnknown(now), orUnknown(was)))
	case sha != "" && sha != c.folder.SetupSHA256():
		out = append(out, "setup "+now+" was changed")
	}
	started := car.Started(run)
	after := func(at time.Time) bool { return at.After(started) && !at.After(c.asOf) }
	var parts, opened, closed []string
	for _, ch := range c.folder.Changes(c.asOf) {
		if after(ch.Record.At) {
			parts = append(parts, fmt.Sprintf("%s %s (%s)", known(ch.Record.Body.Get("serial")), ch.Record.Kind, ch.Position.Name))
		}
	}
	for _, j := range c.folder.Jobs(c.asOf) {
		if after(j.Opened.At) {
			opened = append(opened, j.No)
		}
		if j.Closed != nil && after(j.Closed.At) {
			closed = append(closed, j.No)
		}
	}
	out = append(out, parts...)
	if len(opened) > 0 {
		out = append(out, "job opened "+strings.Join(opened, ", "))
	}
	if len(closed) > 0 {
		out = append(out, "job closed "+strings.Join(closed, ", "))
	}
	return strings.Join(out, "; ")
}

func orUnknown(s string) string {
	if s == "" {
		return "unknown"
	}
	return s
}

// ageWords says how long something was, as people do: minutes up to two hours, hours up to
// two days, then days.
func ageWords(d time.Duration) string {
	switch {
	case d < 2*time.Hour:
		return fmt.Sprintf("%d min", max(0, int(d.Minutes())))
	case d < 48*time.Hour:
		return fmt.Sprintf("%d h", int(d.Hours()))
	}
	return fmt.Sprintf("%d d", int(d.Hours()/24))
}

// logWords names the logs that answered.
func (c *Car) logWords() string {
	var out []string
	for i, l := range c.logs {
		if l == nil {
			out = append(out, fmt.Sprintf("not at hand, by the sheet of run %d", c.evidence.Logs[i].From.Run))
			continue
		}
		out = append(out, l.file)
	}
	return strings.Join(slices.Compact(out), ", ")
}
