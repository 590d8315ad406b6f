package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/life"
	"github.com/paintmark/paintmark/internal/readiness"
	"github.com/paintmark/paintmark/internal/source"
)

// recordFlags are what every record says beside its body.
type recordFlags struct{ by, at, job, why string }

func (r *recordFlags) add(c *cobra.Command, job bool) {
	f := c.Flags()
	f.StringVar(&r.by, "by", "", "`INITIALS` of who did it")
	f.StringVar(&r.at, "at", "", "`TIME` it was done, instead of now: 14:12 today, or 2026-05-16T14:12+01:00")
	if job {
		f.StringVar(&r.job, "job", "", "`JOB` it was done in: PO-38")
	}
	f.StringVar(&r.why, "why", "", "why, in a few `WORDS`")
}

// bench is a car folder with its parts, about to be written to. A command that writes records
// opens it, drafts what it has to say, writes all drafts at once, and says what they came to.
type bench struct {
	c      *cobra.Command
	dir    string
	folder *car.Folder
	faults source.Faults
	sheet  *life.Sheet
	flags  recordFlags
	when   time.Time
	drafts []car.Draft
}

// openBench opens a folder for a record by somebody at some time.
func openBench(c *cobra.Command, dir string, flags recordFlags) (*bench, error) {
	if flags.by == "" {
		return nil, errors.New("nobody has done it yet: add --by INITIALS")
	}
	if err := lock(c, dir); err != nil {
		return nil, err
	}
	b, err := readBench(c, dir, flags)
	if err != nil {
		return nil, err
	}
	if odd := oddTime(time.Now(), b.when, b.folder.AsOf); odd != "" {
		fmt.Fprintln(c.ErrOrStderr(), "paintmark: "+odd)
	}
	b.flags.by, err = b.person(flags.by)
	return b, err
}

// oddTime says when a record is dated as it can hardly have been, "" where nothing shows: later
// than this computer's clock, or while one that is later than the clock would stay the newest.
// The clock decides nothing; a person looks at it.
func oddTime(now, when, newest time.Time) string {
	late := now.Add(5 * time.Minute)
	switch {
	case when.After(late):
		return fmt.Sprintf("this record is dated %s, later than this computer's clock; is the time right?", when.Format(timeWords))
	case newest.After(late) && when.Before(newest):
		return fmt.Sprintf("the newest record is of %s, later than this computer's clock, and stays the newest; is the clock right?", newest.Format(timeWords))
	}
	return ""
}

const timeWords = "2 Jan 2006 15:04 -07:00"

// lock keeps others from writing into the folder until this command has ended. A folder that is no
// car's is left to whoever reads it to refuse.
func lock(c *cobra.Command, dir string) error {
	if _, err := os.Stat(filepath.Join(dir, "car.yaml")); err != nil {
		return nil
	}
	unlock, err := car.Lock(dir, func() {
		fmt.Fprintln(c.ErrOrStderr(), "paintmark: waiting for another paintmark that is writing into this folder")
	})
	if err != nil {
		return err
	}
	context.AfterFunc(c.Context(), unlock)
	return nil
}

// readBench opens a folder that is only looked at; whoever writes into it takes the lock first.
func readBench(c *cobra.Command, dir string, flags recordFlags) (*bench, error) {
	folder, sheet, _, faults, err := openLife(c, dir, "")
	if err != nil {
		return nil, err
	}
	b := &bench{c: c, dir: dir, folder: folder, faults: faults, sheet: sheet, flags: flags}
	b.when, err = clock(flags.at, time.Now(), placeZone(folder))
	return b, err
}

// person finds somebody of people.yaml by their initials, however they were typed. A folder
// without people.yaml says so itself once a record is written.
func (b *bench) person(initials string) (string, error) {
	var known []string
	if doc := b.folder.Document("people"); doc != nil {
		for _, p := range doc.Get("people").Items {
			known = append(known, textOf(p.Get("initials")))
		}
	}
	for _, k := range known {
		if strings.EqualFold(k, initials) {
			return k, nil
		}
	}
	if len(known) == 0 {
		return initials, nil
	}
	return "", fmt.Errorf("initials %s are not in people.yaml; %s", initials, nearestOf(initials, "it has", known))
}

// nearestOf is the remedy for a name that is not known: the nearest one, else all there are.
func nearestOf(name, there string, known []string) string {
	if near := source.Nearest(name, known); near != "" {
		return "did you mean " + near
	}
	if len(known) == 0 {
		return there + " none"
	}
	return there + " " + strings.Join(known, ", ")
}

// clock is the time a person means: now, an hour of today where the car is, or a time with
// its zone.
func clock(text string, now time.Time, zone *time.Location) (time.Time, error) {
	now = now.Truncate(time.Second).In(zone)
	if text == "" {
		return now, nil
	}
	for _, layout := range []string{"2006-01-02T15:04Z07:00", time.RFC3339} {
		if t, err := time.Parse(layout, text); err == nil {
			return t, nil
		}
	}
	if t, err := time.Parse("15:04", text); err == nil {
		return time.Date(now.Year(), now.Month(), now.Day(), t.Hour(), t.Minute(), 0, 0, zone), nil
	}
	return time.Time{}, fmt.Errorf("%q is no time; write 14:12 for today, or 2026-05-16T14:12+01:00", text)
}

// logOptions say where this car's logs are and show progress; done ends the showing.
func (b *bench) logOptions() (options readiness.Options, done func(), err error) {
	s, err := readSettings(b.dir)
	if err != nil {
		return options, nil, fmt.Errorf("%s: %w", settingsFile, err)
	}
	progress, done := progressOn(b.c.ErrOrStderr())
	return readiness.Options{Logs: s.Logs, Progress: progress, Cache: s.cacheFor(b.c)}, done, nil
}

// carFolderLast takes the car's folder off the end of the words, if it is there.
func carFolderLast(args []string) (words []string, dir string) {
	if n := len(args); n > 0 {
		if _, err := os.Stat(filepath.Join(args[n-1], "car.yaml")); err == nil {
			return args[:n-1], filepath.Clean(args[n-1])
		}
	}
	return args, "."
}

// pair is one field of a record; a value that is "" is left out.
type pair struct{ key, value string }

// draft drafts one record: KIND: {fields}. Values are YAML; text goes through yamlText, so
// that it reads back as it was typed.
func (b *bench) draft(folder, what, kind string, fields ...pair) {
	b.draftBody(folder, what, kind+": "+flowMap(fields...)+"\n")
}

// draftBody drafts one record whose body is written already.
func (b *bench) draftBody(folder, what, body string) {
	if b.flags.why != "" {
		body = "why: " + yamlText(b.flags.why) + "\n" + body
	}
	b.drafts = append(b.drafts, car.Draft{Folder: folder, At: b.when, By: b.flags.by, What: what, Body: []byte(body)})
}

// flowMap writes fields as {key: value, key: value}.
func flowMap(fields ...pair) string {
	var inside []string
	for _, f := range fields {
		if f.value != "" {
			inside = append(inside, f.key+": "+f.value)
		}
	}
	return "{" + strings.Join(inside, ", ") + "}"
}

// flowList writes texts as [one, two]; "" where there are none.
func flowList(words []string) string {
	if len(words) == 0 {
		return ""
	}
	var out []string
	for _, w := range words {
		out = append(out, yamlText(w))
	}
	return "[" + strings.Join(out, ", ") + "]"
}

var plainText = source.Form(`^[A-Za-z][A-Za-z0-9._-]*$`)

// yamlText quotes what YAML would read as something else than text.
func yamlText(s string) string {
	switch {
	case s == "":
		return ""
	case plainText().MatchString(s) && !slices.Contains([]string{"true", "false", "yes", "no", "on", "off", "null", "unknown"}, strings.ToLower(s)):
		return s
	}
	return strconv.Quote(s)
}

var numbered = source.Form(`^(\pL+)-([0-9]+)$`)

// nextNumber is the next number of this person's own for a job or a fault, so that two
// computers never choose the same.
func (b *bench) nextNumber() string {
	most := 0
	for _, kind := range []string{"fault", "job"} {
		for _, r := range b.folder.Of(kind) {
			if m := numbered().FindStringSubmatch(textOf(r.Body.Get("no"))); m != nil && m[1] == b.flags.by {
				n, _ := strconv.Atoi(m[2])
				most = max(most, n)
			}
		}
	}
	return fmt.Sprintf("%s-%d", b.flags.by, most+1)
}

// write looks at what the records would make of the folder, refuses what cannot have been,
// and writes them. From then on the bench is the folder with the records in it.
func (b *bench) write() error {
	then, faults, err := car.Foresee(os.DirFS(b.dir), b.faults, b.folder.Set(), b.drafts...)
	if err != nil {
		return fmt.Errorf("nothing was written: %w", err)
	}
	at := then.AsOf
	sheet, more := life.Of(then, at)
	if faults = append(faults, car.New(more, b.faults)...); len(faults) > 0 {
		return fmt.Errorf("nothing was written: %s", faults[0].Error())
	}
	b.folder, b.sheet = then, sheet
	for _, d := range b.drafts {
		file, err := car.Write(b.dir, then.Set(), d)
		if err != nil {
			return err
		}
		fmt.Fprintf(b.c.OutOrStdout(), "Wrote %s\n", filepath.ToSlash(file))
	}
	b.drafts = nil
	return nil
}

func (b *bench) say(format string, args ...any) { fmt.Fprintf(b.c.OutOrStdout(), format+"\n", args...) }

// sayWrapped says a long line in lines of at most 80 columns; it keeps the spaces it starts
// with, and what goes on below stands two further in.
func (b *bench) sayWrapped(text string) {
	indent := text[:len(text)-len(strings.TrimLeft(text, " "))]
	line := indent
	for _, w := range strings.Fields(text) {
		if len([]rune(line))+1+len([]rune(w)) > 80 && strings.TrimSpace(line) != "" {
			b.say("%s", line)
			line = indent + "  "
		}
		if strings.TrimSpace(line) != "" {
			line += " "
		}
		line += w
	}
	b.say("%s", line)
}
