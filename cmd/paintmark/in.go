package main

import (
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/readiness"
	"github.com/paintmark/paintmark/internal/report"
	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
)

// runFlags are what a run sheet says that no log can.
type runFlags struct {
	said, driver, session, kind, setup, tyres, aborted, event string
	parts, meters                                             []string
}

func inCommand() *cobra.Command {
	var flags recordFlags
	var sheet runFlags
	c := &cobra.Command{
		Use:   "in RUN [LOG...] [DIR]",
		Short: "take a run in: its logs, its meters, the driver's words",
		Long: `Writes the run sheet of a run: the logs by name and SHA-256, every meter counted
over them, and the driver's words, which become a fault to be cleared. Then looks
at the car. It copies nothing: a log stays in the log folder.

A LOG is a file, or KIND=FILE where it is not of the run itself: cold, stands,
warm-up, run or return. A run without a log (stands, dyno, towed) is written by
hand, each meter with --meter. Instead of RUN a folder of logs may be given:
every log in it that no sheet names is taken in as the run its logger counted.`,
		Example: `paintmark in 58 logs/t3-058.csv.gz --by SQ --driver TB --said "banged into third"
paintmark in 59 warm-up=logs/w.csv run=logs/t3-059.csv --by SQ --aborted "red flag"
paintmark in 60 --kind dyno --part E-07 --meter engine_hours="1.2 h" --by SQ
paintmark in logs --by SQ`,
		RunE: func(c *cobra.Command, args []string) error {
			words, dir := carFolderLast(args)
			if len(words) == 0 {
				return errors.New("in wants the number of the run; see paintmark in --help")
			}
			if no, err := strconv.Atoi(words[0]); err == nil {
				b, err := openBench(c, dir, flags)
				if err != nil {
					return err
				}
				return b.takeInAndLook([]runIn{{no: no, logs: words[1:], sheet: sheet}})
			}
			if info, err := os.Stat(words[0]); len(words) > 1 || err != nil || !info.IsDir() {
				return fmt.Errorf("%q is no run number; give the number first, then its logs", words[0])
			}
			return takeAllIn(c, dir, flags, sheet, words[0])
		},
	}
	f := c.Flags()
	f.StringVar(&sheet.said, "said", "", "the driver's own `WORDS`; they open a fault")
	f.StringVar(&sheet.driver, "driver", "", "`INITIALS` of who drove")
	f.StringVar(&sheet.session, "session", "", "`SESSION` of the plan")
	f.StringVar(&sheet.kind, "kind", "", "`KIND` of run: practice, timed, shakedown, test, demonstration, stands or dyno")
	f.StringVar(&sheet.setup, "setup", "", "`REVISION` on the car, where it is not the setup sheet's")
	f.StringVar(&sheet.tyres, "tyres", "", "`SERIAL` of the tyre set")
	f.StringVar(&sheet.aborted, "aborted", "", "`WHY` it was stopped before the end")
	f.StringVar(&sheet.event, "event", "", "`EVENT` it belongs to, where it is not the plan's")
	f.StringArrayVar(&sheet.parts, "part", nil, "`SERIAL` that ran when it was not the car; may be given again")
	f.StringArrayVar(&sheet.meters, "meter", nil, "`NAME=VALUE` of a meter no log counts; may be given again")
	flags.add(c, false)
	return c
}

// runIn is one run about to be taken in.
type runIn struct {
	no    int
	logs  []string // FILE or KIND=FILE
	sheet runFlags
}

var logKinds = []string{"cold", "stands", "warm-up", "run", "return"}

// takeInAndLook writes the sheets of runs and looks at the car.
func (b *bench) takeInAndLook(runs []runIn) error {
	for _, r := range runs {
		words, err := b.takeIn(r)
		if err != nil {
			return err
		}
		if err := b.write(); err != nil {
			return err
		}
		for _, w := range words {
			b.sayWrapped(w)
		}
	}
	opened, err := openCar(b.c, b.dir, readiness.Options{Ahead: true})
	if err != nil {
		return err
	}
	look := opened.Look(b.c.Context())
	if err := stopped(b.c); err != nil {
		return err
	}
	tellClock(b.c, look)
	b.say("")
	if err := report.Text(b.c.OutOrStdout(), look, report.Options{Colour: report.ColourWanted()}); err != nil {
		return err
	}
	return verdictCode(look)
}

// takeAllIn takes in every log of a folder that no sheet names.
func takeAllIn(c *cobra.Command, dir string, flags recordFlags, sheet runFlags, from string) error {
	if sheet.said != "" || sheet.aborted != "" || len(sheet.meters) > 0 || len(sheet.parts) > 0 {
		return errors.New("a folder of logs is taken in without words, parts or meters by hand; take that run in by its number")
	}
	b, err := openBench(c, dir, flags)
	if err != nil {
		return err
	}
	options, done, err := b.logOptions()
	if err != nil {
		return err
	}
	numbers, logs, faults := readiness.NotTakenIn(c.Context(), b.folder, dir, options, from)
	done()
	if err := faults.Err(); err != nil {
		return fmt.Errorf("nothing was written: %w", err)
	}
	if len(numbers) == 0 {
		b.say("Every log in %s is on a run sheet.", filepath.ToSlash(from))
		return nil
	}
	runs := make([]runIn, len(numbers))
	for i, no := range numbers {
		runs[i] = runIn{no: no, logs: []string{logs[no].Path}, sheet: sheet}
	}
	return b.takeInAndLook(runs)
}

// takeIn drafts the sheet of one run, and the fault the driver's words open; words are what
// there is to say of it once it is written.
func (b *bench) takeIn(r runIn) (words []string, err error) {
	if r.no < 1 {
		return nil, fmt.Errorf("run %d: runs count from 1", r.no)
	}
	before := 0
	for _, old := range b.folder.Runs() {
		switch no := int(old.Body.Get("no").Int); {
		case no == r.no:
			return nil, fmt.Errorf("run %d was taken in already (%s); a wrong sheet is corrected by a record of its own", no, old.File)
		case no < r.no:
			before = max(before, no)
		}
	}
	brought, err := broughtLogs(r.logs)
	if err != nil {
		return nil, err
	}
	if len(brought) == 0 && len(r.sheet.meters) == 0 {
		return nil, fmt.Errorf("run %d has no log; give its logs, or each meter by hand with --meter", r.no)
	}
	options, done, err := b.logOptions()
	if err != nil {
		return nil, err
	}
	taken, faults := readiness.TakeIn(b.c.Context(), b.folder, b.dir, options, brought)
	done()
	if err := faults.Err(); err != nil {
		return nil, fmt.Errorf("nothing was written: %w", err)
	}
	body, words, err := b.runSheet(r, taken)
	if err != nil {
		return nil, err
	}
	if before > 0 && r.no > before+1 {
		words = append(words, fmt.Sprintf("Between run %d and this one: %s not brought in.", before, missingRuns(before+1, r.no-1)))
	}
	for _, remark := range taken.Remarks {
		words = append(words, "Left out of "+remark+".")
	}
	b.draftRun(r, body)
	return words, b.post(r, body, taken, options)
}

func missingRuns(first, last int) string {
	if first == last {
		return fmt.Sprintf("run %d", first)
	}
	return fmt.Sprintf("runs %d to %d", first, last)
}

// broughtLogs reads FILE and KIND=FILE.
func broughtLogs(words []string) ([]readiness.BroughtLog, error) {
	var out []readiness.BroughtLog
	for _, w := range words {
		kind, file, ok := strings.Cut(w, "=")
		if _, err := os.Stat(w); !ok || err == nil { // a file may have = in its name
			kind, file = "run", w
		}
		if !slices.Contains(logKinds, kind) {
			return nil, fmt.Errorf("no kind of log %q; there are %s", kind, strings.Join(logKinds, ", "))
		}
		if info, err := os.Stat(file); err != nil {
			return nil, fmt.Errorf("%s: %s; look at the log's name", file, why(err))
		} else if info.IsDir() {
			return nil, fmt.Errorf("%s is a folder; give the log itself", file)
		}
		out = append(out, readiness.BroughtLog{Kind: kind, Path: file})
	}
	return out, nil
}

// runSheet is the body of a run sheet, in the order a person reads it, with words on what
// was counted and what was not.
func (b *bench) runSheet(r runIn, taken *readiness.Taken) (*schema.Value, []string, error) {
	types, err := b.folder.Set().Document("run")
	if err != nil {
		return nil, nil, err
	}
	body := &schema.Value{Type: types.Fields["run"], Fields: map[string]*schema.Value{}}
	set := func(key, text string) {
		if text != "" {
			body.Keys = append(body.Keys, key)
			body.Fields[key] = &schema.Value{Type: body.Type.Fields[key], Text: raw + text}
		}
	}
	sheet, roots := r.sheet, b.folder.Roots(b.when)
	set("no", strconv.Itoa(r.no))
	set("session", yamlText(sheet.session))
	set("kind", sheet.kind)
	set("event", yamlText(first(sheet.event, b.eventOf(roots["plan"]))))
	set("driver", yamlText(sheet.driver))
	if len(sheet.parts) == 0 {
		now := textOf(roots["setup"].Get("revision"))
		set("setup", yamlText(first(sheet.setup, now)))
		if sheet.setup == "" || sheet.setup == now {
			set("setup_sha256", b.folder.SetupSHA256())
		}
	}
	set("tyres", yamlText(sheet.tyres))
	set("parts", flowList(sheet.parts))
	var logs []string
	for _, l := range taken.Logs {
		logs = append(logs, fmt.Sprintf("{file: %s, sha256: %s, kind: %s, counter: %s}", yamlText(l.File), l.SHA256, l.Kind, strconv.Quote(first(l.Counter, "unknown"))))
	}
	if len(logs) > 0 {
		set("logs", "["+strings.Join(logs, ", ")+"]")
	}
	words, err := b.meters(body, sheet, taken.Counted)
	if err != nil {
		return nil, nil, err
	}
	if sheet.aborted != "" {
		set("aborted", "{why: "+yamlText(sheet.aborted)+"}")
	}
	set("said", yamlText(sheet.said))
	return body, words, nil
}

// meters puts the meters on the sheet. What was written by hand goes before what was
// counted; a meter that nothing counts is named, since its life is open from then on.
func (b *bench) meters(body *schema.Value, sheet runFlags, counted []readiness.Counted) (words []string, err error) {
	byHand := map[string]bool{}
	var said, open []string
	for _, m := range sheet.meters {
		name, value, ok := strings.Cut(m, "=")
		if !ok || value == "" {
			return nil, fmt.Errorf("--meter %s says no value; write it as --meter engine_hours=\"1.2 h\"", m)
		}
		i := slices.IndexFunc(b.folder.Meters, func(k car.Meter) bool { return k.Name == name })
		if i < 0 {
			var known []string
			for _, k := range b.folder.Meters {
				known = append(known, k.Name)
			}
			remedy := "meters.yaml has " + strings.Join(known, ", ")
			if near := source.Nearest(name, known); near != "" {
				remedy = "did you mean " + near
			}
			return nil, fmt.Errorf("no meter %q; %s", name, remedy)
		}
		byHand[name] = true
		put(body, "meters", name, value)
		said = append(said, fmt.Sprintf("%s %s by hand", meterWords(name), value))
	}
	for _, k := range counted {
		if byHand[k.Meter] {
			continue
		}
		putCounted(body, k)
		switch {
		case k.Low == k.High:
			said = append(said, meterWords(k.Meter)+" "+meterText(k))
		case math.IsInf(k.High, 1):
			said = append(said, fmt.Sprintf("%s at least %s", meterWords(k.Meter), amountText(k.Low, k.Unit)))
			open = append(open, fmt.Sprintf("%s (%s)", meterWords(k.Meter), first(k.Unseen, "not seen")))
		default:
			said = append(said, fmt.Sprintf("%s %s to %s", meterWords(k.Meter), amountText(k.Low, k.Unit), amountText(k.High, k.Unit)))
		}
	}
	var notCounted []string
	for _, m := range b.folder.Meters {
		if !m.ByPlan && entry(body, "meters", m.Name) == nil && len(sheet.parts) == 0 {
			notCounted = append(notCounted, m.Name)
		}
	}
	if len(said) > 0 {
		words = append(words, "Counted: "+strings.Join(said, ", ")+".")
	}
	if len(open) > 0 {
		words = append(words, "Open at the upper end: "+strings.Join(open, ", ")+".")
	}
	if len(notCounted) > 0 {
		words = append(words, "Not counted: "+strings.Join(notCounted, ", ")+"; by hand: --meter "+notCounted[0]+"=VALUE.")
	}
	return words, nil
}

// draftRun drafts the sheet, and a fault that keeps the driver's words until somebody
// clears them.
func (b *bench) draftRun(r runIn, body *schema.Value) {
	if r.sheet.said != "" {
		no := b.nextNumber()
		fields := []pair{{"no", no}, {"what", yamlText(r.sheet.said)}, {"run", strconv.Itoa(r.no)}, {"said_by", yamlText(r.sheet.driver)}}
		b.draft("faults", "fault "+no, "fault", fields...)
		body.Keys = append(body.Keys, "found")
		body.Fields["found"] = &schema.Value{Type: body.Type.Fields["found"], Text: raw + "[" + no + "]"}
	}
	b.draftSheet(r, body)
}

func (b *bench) draftSheet(r runIn, body *schema.Value) {
	b.draftBody("runs", fmt.Sprintf("run %d", r.no), sheetText(body))
}

// eventOf is the plan's event if the run falls into its days.
func (b *bench) eventOf(plan *schema.Value) string {
	from, to := plan.Get("event.first_day"), plan.Get("event.last_day")
	if from == nil || to == nil || from.Unknown || to.Unknown {
		return ""
	}
	day := b.when.Format("2006-01-02")
	if day < from.Time.Format("2006-01-02") || day > to.Time.Format("2006-01-02") {
		return ""
	}
	return textOf(plan.Get("event.name"))
}

func textOf(v *schema.Value) string {
	if v == nil || v.Unknown {
		return ""
	}
	return v.Text
}

func first(words ...string) string {
	for _, w := range words {
		if w != "" {
			return w
		}
	}
	return ""
}

func meterWords(name string) string { return strings.ReplaceAll(name, "_", " ") }
