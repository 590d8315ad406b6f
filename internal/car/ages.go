package car

import "time"

// Began is the earliest time at which work of a job may have begun: when it was opened, or,
// for work put off to the next event or rebuild, when the first other record of it was
// written or it was closed; zero while nothing tells that it began.
func (f *Folder) Began(j *Job) time.Time {
	if before := text(j.open("before")); before != "next event" && before != "next rebuild" {
		return j.Opened.At
	}
	for _, r := range f.Records {
		if r.Replaced == nil && r != j.Opened && r.Kind != "fault" && r.names(j.No) {
			return r.At
		}
	}
	return time.Time{}
}

// names says that a record is of a job.
func (r *Record) names(job string) bool {
	return r.text("job") == job || r.Kind == "job" && r.text("no") == job
}

// NewestTold is the newest run that anything tells of at a time: its own sheet, or a record
// written after it.
func (f *Folder) NewestTold(at time.Time) int {
	no := f.NewestRun(at)
	for _, r := range f.Records {
		if r.Kind != "run" && !r.At.After(at) && r.Replaced == nil {
			no = max(no, r.Run)
		}
	}
	return no
}

// Started is when a run set out: as its sheet has it, else when the sheet was written.
func Started(run *Record) time.Time {
	if s := run.Body.Fields["started"]; s != nil && !s.Unknown {
		return s.Time
	}
	return run.At
}

// EventDays is what ages by the event's days need: how far its clock is ahead of UTC and its
// first day; ok is false while the plan does not say both.
func (f *Folder) EventDays() (ahead time.Duration, first time.Time, ok bool) {
	plan := f.root("plan")
	v := plan.Get("event.first_day")
	if v.Unknown || text(plan.Get("event.time_zone")) == "" {
		return 0, time.Time{}, false
	}
	return zone(plan), v.Time, true
}
