package readiness

import (
	"time"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/pack"
)

// diary tells the rules when things happened.
func diary(f *car.Folder, at time.Time) *pack.Diary {
	d := &pack.Diary{
		AsOf: at, Run: f.NewestTold(at),
		Records: map[string]pack.When{}, Runs: map[int]time.Time{}, Places: map[string]string{},
	}
	if ahead, first, ok := f.EventDays(); ok {
		d.Zone, d.FirstDay = time.FixedZone("", int(ahead.Seconds())), first
	}
	for _, r := range f.Records {
		if !r.At.After(at) {
			d.Records[r.File] = pack.When{At: r.At, Run: r.Run}
		}
	}
	for _, r := range f.Runs() {
		if !r.At.After(at) {
			d.Runs[r.Run] = car.Started(r)
		}
	}
	fitted := f.Fitted(at)
	for _, p := range f.Positions {
		d.Places[p.Name] = fitted.Serial(p.Name)
	}
	for _, c := range f.Changes(at) {
		d.Changes = append(d.Changes, pack.Change{
			When: pack.When{At: c.Record.At, Run: c.Record.Run}, Position: c.Position.Name, System: c.Position.System,
			What: known(c.Record.Body.Get("serial")) + " " + c.Record.Kind,
		})
	}
	for _, j := range f.Jobs(at) {
		job := pack.Job{No: j.No, System: j.System(), Began: f.Began(j)}
		if j.Closed != nil {
			job.Closed = j.Closed.At
		}
		d.Jobs = append(d.Jobs, job)
	}
	return d
}
