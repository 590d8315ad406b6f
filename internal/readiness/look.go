package readiness

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/expr"
	"github.com/paintmark/paintmark/internal/kernel"
	"github.com/paintmark/paintmark/internal/pack"
	"github.com/paintmark/paintmark/internal/runlog"
	"github.com/paintmark/paintmark/internal/source"
)

// Options say what to look at. The zero value is the whole car as it stands.
type Options struct {
	Logs     string            // folder of raw logs, relative to the car folder
	Units    map[string]string // units the team speaks in: {pressure: bar}
	Moment   check.Moment      // only the items of one moment
	Part     []string          // only these systems or rules
	Log      string            // a log to answer instead of the newest run's
	LogKind  string            // of that log: run, warm-up, stands, cold, return; "" is run
	AsOf     time.Time         // instead of the newest record's time
	Faults   source.Faults     // of the settings
	Progress func(done, total int64)
	Plugins  *Plugins      // nil: none can be asked
	Ahead    bool          // one look follows: what can be done before its turn is begun at once
	Answered func()        // called when a look has nothing more to ask of plugins; nil: nobody wants to know
	Cache    *runlog.Cache // of the columns of logs; nil: every log is read afresh
}

// Car is one car folder opened and its log at hand, ready to be looked at.
type Car struct {
	*opened
	options  Options
	asOf     time.Time
	evidence *pack.Evidence
	runners  []*kernel.Runner // one per log of the evidence; nil where its sheet answers
	logs     []*openedLog     // the same
	tongue   tongue
	worn     []string
	part     []string // why this is a part look
	remarks  []string
	first    string // the life limit that falls first

	plugins   []*pluginCheck
	found     []check.Result                                // of the checks of sensors, which are through before everything else
	early     <-chan []check.Result                         // of the checks of documents, where a look follows
	logsAhead map[string]func() (*openedLog, source.Faults) // logs by path, where a look follows
	handing   *sync.Mutex
	handed    map[string]handed    // documents, by path
	columns   map[int]*columnFiles // by log
}

// Open opens a car folder and the logs that may answer. It always gives a car; what is
// wrong with it is among the faults of its look.
func Open(ctx context.Context, dir string, options Options) *Car {
	if options.Ahead {
		options.startPlugins(dir)
	}
	folder, faults := car.Open(dir)
	c := &Car{opened: newOpened(dir, folder, faults), options: options, asOf: options.AsOf, handing: new(sync.Mutex)}
	if c.asOf.IsZero() {
		c.asOf = c.folder.AsOf
	}
	c.fault(options.Faults, nil)
	speak, err := newTongue(options.Units)
	if err != nil {
		c.fault(source.Faults{{Pos: source.Pos{File: "paintmark.yaml"}, What: err.Error()}}, nil)
	}
	c.tongue = speak
	if options.Ahead {
		c.readLogs(ctx)
	}
	compiled := aside(c.parse())
	roots := c.folder.Roots(c.asOf)
	c.worn = hats(roots["people"])
	c.evidence = &pack.Evidence{Roots: roots, Run: c.folder.NewestRun(c.asOf), Signatures: signatures(c.folder, c.asOf), Diary: diary(c.folder, c.asOf)}
	c.openPlugins(ctx)
	c.openLogs(ctx)
	if options.Ahead {
		c.askOfSensors(ctx)
	}
	c.take(compiled())
	sheet, wrong := c.lifeSheet(ctx, c.asOf, options.Logs)
	c.fault(wrong, nil)
	roots["life"], c.first = sheet.Value, sheet.First.Words()
	if options.Ahead {
		c.warm(ctx)
		c.early = c.ask(ctx, c.checksOver(false))
	}
	c.remarks = append(c.remarks, runsOutOfOrder(c.folder, c.asOf)...)
	c.health(ctx)
	return c
}

// aside does some work beside what follows, and gives what waits for it.
func aside[T any](work func() T) (wait func() T) {
	done := make(chan T, 1)
	go func() { done <- work() }()
	return func() T { return <-done }
}

// openLogs opens the newest run's logs, or the one given instead.
func (c *Car) openLogs(ctx context.Context) {
	wanted := newestLogs(c.folder, c.evidence.Run)
	if given := c.options.Log; given != "" {
		stored, err := c.options.Cache.Digest(given, false)
		sum := stored.SHA256
		if err != nil {
			c.fault(source.Faults{{Pos: source.Pos{File: filepath.Base(given)}, What: "the log cannot be read: " + reason(err), Remedy: "look at the name"}}, nil)
			return
		}
		i := slices.IndexFunc(wanted, func(w wantedLog) bool { return strings.EqualFold(w.sha256, sum) })
		if i < 0 {
			c.part = append(c.part, fmt.Sprintf("the log %s, which is not the newest run's", filepath.Base(given)))
			kind := c.options.LogKind
			if kind == "" {
				kind = "run"
			}
			wanted = []wantedLog{{file: given, kind: kind}}
		} else {
			wanted = wanted[i : i+1]
		}
		c.openLog(ctx, given, wanted[0])
		return
	}
	for _, w := range wanted {
		path := c.logPath(w)
		if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
			c.remarks = append(c.remarks, w.file+" is not in the log folder")
			c.openSheet(w)
			continue
		}
		c.openLog(ctx, path, w)
	}
}

// readLog reads a log of this car.
func (c *Car) readLog(ctx context.Context, path string, want wantedLog) (*openedLog, source.Faults) {
	own := logger{c.folder.Logger.Serial, c.folder.Logger.Car, c.folder.Logger.RunCounter}
	return openLog(ctx, path, want, own, logChannels(c.folder), c.options, false)
}

func (c *Car) openLog(ctx context.Context, path string, want wantedLog) {
	read := c.logsAhead[path]
	if read == nil {
		read = func() (*openedLog, source.Faults) { return c.readLog(ctx, path, want) }
	}
	log, faults := read()
	c.fault(faults, nil)
	if log != nil {
		c.letIn(log)
	}
}

// letIn makes a log answer.
func (c *Car) letIn(log *openedLog) {
	c.letAnswer(log)
	c.inputs = append(c.inputs, check.File{Path: log.file, SHA256: log.sha256})
	c.remarks = append(c.remarks, log.remarks...)
}

// newestLogs lists the logs the newest run sheet names.
func newestLogs(f *car.Folder, run int) []wantedLog {
	var out []wantedLog
	for _, r := range f.Runs() {
		if known(r.Body.Get("no")) != fmt.Sprint(run) {
			continue
		}
		for _, l := range r.Body.Get("logs").Items {
			kind := known(l.Get("kind"))
			if kind == "" {
				kind = "run"
			}
			out = append(out, wantedLog{file: known(l.Get("file")), sha256: known(l.Get("sha256")), kind: kind, run: run, count: known(l.Get("counter")), pos: l.Get("sha256").Pos})
		}
	}
	return out
}

// ends are what channels.yaml says under works_at.
var ends = map[string]runlog.Ends{"low": runlog.LowEnd, "high": runlog.HighEnd, "both": runlog.BothEnds, "neither": runlog.NoEnd}

func logChannels(f *car.Folder) []runlog.Channel {
	var out []runlog.Channel
	for _, c := range f.Channels {
		ch := runlog.Channel{Name: c.Name, InLog: c.InLog, Unit: c.Unit, Reads: c.Reads, Rate: c.Rate, Hold: c.Hold, Within: c.Within, FaultValue: c.Fault, Pair: c.Pair, MovesWith: c.MovesWith, Still: c.Still, WorksAt: ends[c.WorksAt], Pos: c.Pos, UnitPos: c.Pos}
		switch {
		case c.YesNo:
			ch.Shape = runlog.YesNo
		case c.Count:
			ch.Shape = runlog.Count
		}
		if c.Range != nil {
			ch.Range, ch.Low, ch.High = true, c.Range.Low, c.Range.High
		}
		out = append(out, ch)
	}
	return out
}

// signatures gives the initials on each joint, oldest first, as rules ask for them.
func signatures(f *car.Folder, at time.Time) map[string][]pack.Signature {
	tools := map[string]string{}
	if t := f.Roots(at)["tools"]; t != nil {
		for _, tool := range t.Items {
			tools[known(tool.Get("tool"))] = known(tool.Get("kind"))
		}
	}
	out := map[string][]pack.Signature{}
	for _, i := range f.Initials(at) {
		joint := strings.TrimSpace(i.Joint + " " + i.Position)
		retained := expr.Unknown
		if i.Retained != nil && !i.Retained.Unknown {
			retained = expr.False
			if i.Retained.Bool {
				retained = expr.True
			}
		}
		out[joint] = append(out[joint], pack.Signature{
			Second: i.Place == "second", By: i.By, Torque: i.Torque, ToolKind: tools[i.Tool], Retained: retained,
			Void: i.Void, Record: i.Record.File, Pos: i.Line.Pos,
		})
	}
	for _, list := range out {
		slices.Reverse(list) // oldest first
	}
	return out
}

// Look looks at everything the options ask for and says what it comes to.
func (c *Car) Look(ctx context.Context) *check.Look {
	rules := c.plan()
	c.warm(ctx)
	early := c.early
	if early == nil {
		early = c.ask(ctx, c.checksOver(false))
	}
	late := c.ask(ctx, c.checksOver(true))
	answers := aside(func() []check.Result {
		all := slices.Concat(<-early, <-late)
		if answered := c.options.Answered; answered != nil {
			answered()
		}
		return all
	})
	results := slices.Concat(c.judge(ctx, rules), c.healthResults(), answers())
	results = c.hold(ctx, rules, slices.Concat(results, c.watched(results)))
	results = append(results, c.openJoints(ctx)...)
	faults := slices.Clone(c.faults)
	for i := range results {
		r := &results[i]
		if r.Fault != nil {
			faults = append(faults, check.ToolFault{Fault: *r.Fault, Systems: []string{r.Card.System}})
		}
	}
	open := c.finish(results)
	faults = sortFaults(faults)
	items := weigh(results, c.worn)
	look := &check.Look{
		Verdict: verdict(items, len(faults)), Part: strings.Join(c.part, "; "),
		AsOf: c.asOf, Run: c.evidence.Run, Faults: faults, Inputs: c.inputs, Items: items, Remarks: c.remarks, LockedOut: c.locks(),
		FirstToFall: c.first, Deviations: check.Deviations{Open: open, Most: mostDeviations},
	}
	roots := c.evidence.Roots
	look.Car, look.Number = known(roots["car"].Get("name")), known(roots["car"].Get("number"))
	look.Place, look.Next = known(roots["plan"].Get("event.place")), known(roots["plan"].Get("next.id"))
	look.Setup, look.Zone = known(roots["setup"].Get("revision")), zone(roots["plan"])
	look.Log = c.logWords()
	slices.SortFunc(look.Inputs, func(a, b check.File) int { return strings.Compare(a.Path, b.Path) })
	return look
}

// finish makes results ready to be shown: what nobody could decide has nothing in hand,
// deviations cover what they accept, and values are in the team's units. It gives how many
// deviations are open.
func (c *Car) finish(results []check.Result) (open int) {
	for i := range results {
		if results[i].Outcome == check.NoData {
			results[i].Margin = nil
		}
		c.lockedOut(&results[i])
	}
	open = c.cover(results)
	for i := range results {
		c.tongue.say(&results[i])
	}
	return open
}

// plan picks the rules that the options ask for, in the order of packs and rules. Looking
// at less than everything makes a part look.
func (c *Car) plan() []*pack.Rule {
	var out []*pack.Rule
	found := map[string]bool{}
	for _, p := range c.packs {
		for _, r := range p.Rules {
			if !c.asked(&r.Card) {
				continue
			}
			if k := c.options.LogKind; k != "" && k != "run" && !r.AnsweredBy(k) {
				continue
			}
			found[r.System], found[r.ID] = true, true
			out = append(out, r)
		}
	}
	if c.options.Moment != "" {
		c.part = append(c.part, "items of the moment "+string(c.options.Moment))
	}
	if k := c.options.LogKind; k != "" && k != "run" {
		c.part = append(c.part, "items that a "+k+" log answers")
		if len(out) == 0 && !slices.ContainsFunc(c.plugins, c.wanted) {
			c.remarks = append(c.remarks, "no rule takes its answer from a "+k+" log; `channels` shows what is in it")
		}
	}
	if len(c.options.Part) > 0 {
		c.part = append(c.part, "part "+strings.Join(c.options.Part, ", "))
		found[jointsID] = true
		for _, k := range c.plugins {
			found[k.card.System], found[k.card.ID] = true, true
		}
		for _, p := range c.options.Part {
			if !found[p] {
				c.fault(source.Faults{{What: "no rule looks at the part " + p, Remedy: c.parts(p)}}, nil)
			}
		}
	}
	return out
}

// asked says that the options ask for a check.
func (c *Car) asked(k *check.Card) bool {
	if c.options.Moment != "" && !slices.Contains(k.Moments, c.options.Moment) {
		return false
	}
	return len(c.options.Part) == 0 || slices.Contains(c.options.Part, k.System) || slices.Contains(c.options.Part, k.ID)
}

// parts says which systems there are, the nearest one first of all.
func (c *Car) parts(wanted string) string {
	var all []string
	for _, p := range c.packs {
		for _, r := range p.Rules {
			all = append(all, r.System)
		}
	}
	slices.Sort(all)
	all = slices.Compact(all)
	if n := source.Nearest(wanted, all); n != "" {
		return "did you mean " + n
	}
	return "there are " + strings.Join(all, ", ")
}

// announce tells each log what will be asked of it, so that one pass answers everything.
func (c *Car) announce(ctx context.Context, rules []*pack.Rule) {
	for i := range c.evidence.Logs {
		if c.runners[i] == nil { // its sheet answers
			continue
		}
		for _, r := range rules {
			c.runners[i].Want(r.Want(ctx, c.evidence, &c.evidence.Logs[i])...)
		}
	}
}
