package pack

import (
	"slices"
	"time"
)

// Diary says when things happened: what was measured, changed, repaired and run. Ages are
// told by it; without one nothing is fresh.
type Diary struct {
	AsOf time.Time // ages count to it
	Run  int       // the newest run that anything tells of, 0 before the first
	// Zone is the event's own time, and FirstDay its first day as UTC midnight; nil and zero
	// while the plan does not say.
	Zone     *time.Location
	FirstDay time.Time

	Records map[string]When // by Value.Record: when it was written
	Runs    map[int]time.Time
	Places  map[string]string // position: the serial in it, "" for none that is known
	Changes []Change          // of parts, oldest first
	Jobs    []Job             // oldest first
}

// When is a time and the newest run before it, 0 for before the first.
type When struct {
	At  time.Time
	Run int
}

// Change is what was done to the part in a place on the car.
type Change struct {
	When
	Position, System string
	What             string // "AC-2 fitted"
}

// Job is work on one system.
type Job struct {
	No     string
	System string // "" while it is not known: it may be any
	// Began is the earliest time at which work may have begun: when it was opened, or, for
	// work that was put off, when something of it was first written; zero while not begun.
	Began  time.Time
	Closed time.Time // zero while it is open
}

// touched says that work of a job may have touched a system by a time.
func (j *Job) touched(system string, at time.Time) bool {
	return (j.System == "" || j.System == system) && !j.Began.IsZero() && !j.Began.After(at)
}

// ended says that a job was over at a time.
func (d *Diary) ended(j *Job) bool { return !j.Closed.IsZero() && !j.Closed.After(d.AsOf) }

// newest is the newest change that an asked one picks, nil for none.
func (d *Diary) newest(pick func(*Change) bool) *Change {
	for i := range slices.Backward(d.Changes) {
		if c := &d.Changes[i]; !c.At.After(d.AsOf) && pick(c) {
			return c
		}
	}
	return nil
}

// day is the day of a time at the event's place, as UTC midnight.
func (d *Diary) day(t time.Time) time.Time {
	local := t.In(d.Zone)
	return time.Date(local.Year(), local.Month(), local.Day(), 0, 0, 0, 0, time.UTC)
}

// clock is a time as people at the event say it.
func (d *Diary) clock(t time.Time) string {
	zone := d.Zone
	if zone == nil {
		zone = time.UTC
	}
	return t.In(zone).Format("2 Jan 15:04")
}
