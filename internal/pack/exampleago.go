package pack

import (
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/paintmark/paintmark/internal/source"
)

// An example stands at six in the evening of the event's first day, after nine runs an hour
// apart, the newest an hour ago. What is shown was measured just now, what is on the car has
// been there for a year and there was no job, unless `ago` says otherwise:
//
//	ago: {measured: 2 runs, weather: 3 d, fitted: {wing.actuator: 20 min}, jobs: {wing: {began: 40 min, closed: 10 min}}}
const (
	exampleRuns = 9
	exampleFit  = 365 * 24 * time.Hour
)

var (
	exampleNow = time.Date(2026, 5, 16, 18, 0, 0, 0, time.UTC)
	agoText    = source.Form(`^([1-9]\d{0,3}) (runs?|d|h|min)$`)
)

const agoShape = "write measured, weather, fitted: {POSITION: AGE} or jobs: {SYSTEM: {began: AGE, closed: AGE}}, with ages such as 2 runs, 3 d, 5 h, 20 min"

func exampleDiary(r *Rule) *Diary {
	d := &Diary{
		AsOf: exampleNow, Run: exampleRuns, Zone: time.UTC, FirstDay: exampleNow.Truncate(24 * time.Hour),
		Records: map[string]When{}, Runs: map[int]time.Time{}, Places: map[string]string{},
	}
	for i := range exampleRuns {
		d.Runs[exampleRuns-i] = exampleNow.Add(-time.Duration(i+1) * time.Hour)
	}
	for _, root := range aged {
		d.Records[root] = When{exampleNow, exampleRuns}
	}
	if r.fresh != nil {
		for _, p := range r.fresh.afterFit {
			d.fit(p, exampleNow.Add(-exampleFit))
		}
	}
	return d
}

func (d *Diary) fit(position string, at time.Time) {
	d.Places[position] = "the part"
	d.Changes = append(d.Changes, Change{When: d.when(at), Position: position, What: "fitted"})
}

// when is a time with the newest run before it.
func (d *Diary) when(at time.Time) When {
	w := When{At: at}
	for no, started := range d.Runs {
		if no > w.Run && !started.After(at) {
			w.Run = no
		}
	}
	return w
}

// shownAgo reads how old an example's things are.
func (f *form) shownAgo(n *source.Node, d *Diary, system string) {
	if n.Kind != source.Map {
		f.fault(n.Pos, "ago is not a map", agoShape)
		return
	}
	for _, e := range n.Entries {
		switch name := e.Key.Text; name {
		case "measured", "weather":
			if e.Value.Text == "unknown" {
				delete(d.Records, name)
			} else if at, ok := f.ago(e.Value); ok {
				d.Records[name] = d.when(at)
			}
		case "fitted":
			for _, p := range f.under(e.Value) {
				if p.Value.Text == "unknown" {
					d.Places[p.Key.Text] = ""
				} else if at, ok := f.ago(p.Value); ok {
					d.Changes = slices.DeleteFunc(d.Changes, func(c Change) bool { return c.Position == p.Key.Text })
					d.fit(p.Key.Text, at)
					d.Changes[len(d.Changes)-1].System = system
				}
			}
		case "jobs":
			for _, s := range f.under(e.Value) {
				f.shownJob(s, d)
			}
		default:
			f.fault(e.Key.Pos, quoted(name)+" is nothing that has an age", agoShape)
		}
	}
	slices.SortStableFunc(d.Changes, func(a, b Change) int { return a.At.Compare(b.At) })
}

func (f *form) shownJob(s source.Entry, d *Diary) {
	keys := f.fields(s.Value, "a job", "began", "closed")
	if keys["began"] == nil {
		f.fault(s.Key.Pos, "the job does not say when it began", agoShape)
		return
	}
	job := Job{No: "XX-1", System: s.Key.Text}
	job.Began, _ = f.ago(keys["began"])
	if c := keys["closed"]; c != nil {
		job.Closed, _ = f.ago(c)
	}
	d.Jobs = append(d.Jobs, job)
}

func (f *form) under(n *source.Node) []source.Entry {
	if n.Kind != source.Map {
		f.fault(n.Pos, "is not a map", agoShape)
	}
	return n.Entries
}

// ago is the time that an age leads back to: before the last so many runs, or so long ago.
func (f *form) ago(n *source.Node) (time.Time, bool) {
	m := agoText().FindStringSubmatch(n.Text)
	if m == nil {
		f.fault(n.Pos, quoted(n.Text)+" is not an age", "write it as 2 runs, 3 d, 5 h or 20 min")
		return time.Time{}, false
	}
	count, _ := strconv.Atoi(m[1])
	if strings.HasPrefix(m[2], "run") {
		return exampleNow.Add(-time.Duration(count)*time.Hour - time.Minute), true
	}
	unit := map[string]time.Duration{"d": 24 * time.Hour, "h": time.Hour, "min": time.Minute}[m[2]]
	return exampleNow.Add(-time.Duration(count) * unit), true
}
