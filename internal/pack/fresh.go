package pack

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/source"
)

// fresh says when what was measured or logged is too old to answer. All of it must hold.
type fresh struct {
	within   []reach
	afterFit []string // positions, or the part of their name before a corner
	afterJob []string // systems
}

// reach is one age that may not be passed.
type reach struct {
	text      string // as written
	runs      int    // it holds for so many runs, 0 for any
	days      int    // -1 for any
	eventDay  bool
	thisEvent bool
}

var (
	ages   = source.Form(`^(?:(next run)|([1-9]\d{0,2}) runs?|(event day)|(this event)|([1-9]\d{0,3}) d)$`)
	placed = source.Form(`^[a-z][a-z0-9_.-]*$`)
)

func (f *form) fresh(n *source.Node) *fresh {
	keys := f.fields(n, "fresh", "within", "after-fit", "after-job-on")
	if keys == nil {
		return nil
	}
	if len(keys) == 0 {
		f.fault(n.Pos, "fresh says nothing", "add within, after-fit or after-job-on")
		return nil
	}
	out := &fresh{}
	if n := keys["within"]; n != nil {
		for _, w := range f.texts(n, "within") {
			r, ok := reachOf(w.Text)
			if !ok {
				f.fault(w.Pos, quoted(w.Text)+" is not an age", "write N runs, event day, this event or N d")
			}
			out.within = append(out.within, r)
		}
	}
	for key, to := range map[string]*[]string{"after-fit": &out.afterFit, "after-job-on": &out.afterJob} {
		if n := keys[key]; n != nil {
			for _, p := range f.texts(n, key) {
				if !placed().MatchString(p.Text) {
					f.fault(p.Pos, quoted(p.Text)+" is not a name", "write a position or system, such as wing.actuator")
				}
				*to = append(*to, p.Text)
			}
		}
	}
	return out
}

func reachOf(text string) (reach, bool) {
	m := ages().FindStringSubmatch(text)
	if m == nil {
		return reach{}, false
	}
	r := reach{text: text, days: -1, eventDay: m[3] != "", thisEvent: m[4] != ""}
	switch {
	case m[1] != "":
		r.runs = 1
	case m[2] != "":
		r.runs, _ = strconv.Atoi(m[2])
	case m[5] != "":
		r.days, _ = strconv.Atoi(m[5])
	}
	return r, true
}

// ages are the roots whose values a person read at some time. What is worked out, sworn on a
// label or kept as a baseline is not young or old by itself.
var aged = []string{"measured", "weather"}

func isAged(path string) bool {
	root, _, _ := strings.Cut(path, ".")
	return slices.Contains(aged, root)
}

// age holds what an item rests on against `fresh`. Age never makes an outcome better: what
// failed while it was fresh stays a fail.
func (j *judgement) age() {
	if j.r.fresh == nil || j.res.Outcome == check.NotApplicable || j.res.Outcome == check.NoData || j.res.Fault != nil {
		return
	}
	why := j.tooOld()
	if why == "" {
		return
	}
	if j.res.Outcome != check.Fail {
		j.res.Outcome = check.NoData
	}
	j.stale = true
	j.note(why)
}

// tooOld says of the first thing an item rests on that is too old what it is, how old, and
// what it must be newer than; "" where all is fresh.
func (j *judgement) tooOld() string {
	d := j.ev.Diary
	if d == nil {
		return "nothing tells how old it is"
	}
	// A log of no run was given by hand, which makes no verdict: it is looked at as it is.
	if j.log != nil && j.log.From.Run != 0 {
		w := When{At: d.Runs[j.log.From.Run], Run: j.log.From.Run}
		if w.At.IsZero() {
			return "nothing tells when it was logged"
		}
		if why := j.r.fresh.why(d, w, j.res.Position, true); why != "" {
			return "logged on run " + strconv.Itoa(j.log.From.Run) + "; " + why + "; run it again" + j.orProve()
		}
	}
	if j.log == nil && len(j.aged) == 0 {
		return "nothing that was measured bears it"
	}
	seen := map[string]bool{}
	for _, read := range j.aged {
		file := read.Value.Record
		if seen[file] {
			continue
		}
		seen[file] = true
		w, ok := d.Records[file]
		if file == "" || !ok {
			return read.Path + ": nothing tells when it was measured"
		}
		if why := j.r.fresh.why(d, w, j.res.Position, strings.HasPrefix(read.Path, "measured")); why != "" {
			return "measured " + ago(d, w) + " (" + file + "); " + why + "; measure it again"
		}
	}
	return ""
}

// ago is how long ago a time is, in runs where there were any since.
func ago(d *Diary, w When) string {
	said := d.clock(w.At)
	if days := int(d.AsOf.Sub(w.At).Hours() / 24); days > 0 {
		said += ", " + counted(days, "day") + " ago"
	}
	switch {
	case w.Run > 0 && w.Run < d.Run:
		said += ", after run " + strconv.Itoa(w.Run)
	case w.Run < d.Run:
		said += ", before the first run there is a sheet of"
	}
	return said
}

// orProve names the other way to an answer, where the rule has one.
func (j *judgement) orProve() string {
	if j.r.cleared == nil {
		return ""
	}
	return ", or prove it on stands in that job"
}

func counted(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return strconv.Itoa(n) + " " + what + "s"
}

// why says what makes a time too old, "" where nothing does. mounted: it is about parts of
// the car, so that changing them counts.
func (f *fresh) why(d *Diary, w When, position string, mounted bool) string {
	for _, r := range f.within {
		if why := r.why(d, w); why != "" {
			return why
		}
	}
	if !mounted {
		return ""
	}
	for _, name := range f.afterFit {
		if why := sinceFit(d, w, name, position); why != "" {
			return why
		}
	}
	for _, system := range f.afterJob {
		for i := range slices.Backward(d.Jobs) {
			if job := &d.Jobs[i]; job.touched(system, d.AsOf) && !w.At.After(job.Began) {
				return fmt.Sprintf("it must be newer than job %s on %s, begun %s", job.No, system, d.clock(job.Began))
			}
		}
	}
	return ""
}

func (r reach) why(d *Diary, w When) string {
	switch {
	case r.runs > 0 && d.Run-w.Run >= r.runs:
		return "it holds for " + counted(r.runs, "run")
	case r.days >= 0 && d.AsOf.Sub(w.At) > time.Duration(r.days)*24*time.Hour:
		return "it holds for " + counted(r.days, "day")
	case r.eventDay || r.thisEvent:
		if d.Zone == nil || d.FirstDay.IsZero() {
			return "the plan does not say when the event is"
		}
		day := d.FirstDay
		if r.eventDay && d.day(d.AsOf).After(day) {
			day = d.day(d.AsOf)
		}
		if d.day(w.At).Before(day) {
			return "it must be of " + day.Format("2 Jan") + map[bool]string{true: ", the event day", false: " or later, this event"}[r.eventDay]
		}
	}
	return ""
}

// sinceFit holds a time against the newest change in a place. A place that nobody knows what
// is in may have been changed at any time.
func sinceFit(d *Diary, w When, name, position string) string {
	at := func(p string) bool {
		own, corner, ok := strings.Cut(p, name+".")
		return p == name || ok && own == "" && (position == "" || corner == position)
	}
	known := false
	for p, serial := range d.Places {
		if !at(p) {
			continue
		}
		if serial == "" {
			return "nothing tells what is in " + name
		}
		known = true
	}
	if !known {
		return "nothing tells what is in " + name
	}
	if c := d.newest(func(c *Change) bool { return at(c.Position) }); c != nil && w.At.Before(c.At) {
		return fmt.Sprintf("it must be newer than %s, %s on %s", c.Position, c.What, d.clock(c.At))
	}
	return ""
}
