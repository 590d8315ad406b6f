package car

import (
	"fmt"
	"time"

	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
)

// Job is a job as its records tell it.
type Job struct {
	No             string
	Opened, Closed *Record // Closed nil while it is open
}

// System is the system a job is on, "" while it is not known.
func (j *Job) System() string { return text(j.open("system")) }

func (j *Job) open(key string) *schema.Value { return j.Opened.Body.Get("opened." + key) }

// Fault is an entry of the fault list as its records tell it.
type Fault struct {
	No      string
	Opened  *Record
	Job     string  // the job opened for it, ""
	Cleared *Record // what cleared it: words, or the close of its job; nil while it is open
}

// Jobs lists the jobs opened up to a time, oldest first.
func (f *Folder) Jobs(at time.Time) []*Job { return f.jobs(at, nil) }

func (f *Folder) checkJobs(faults *source.Faults) { f.jobs(f.AsOf, faults) }

func (f *Folder) jobs(at time.Time, faults *source.Faults) []*Job {
	var list []*Job
	byNo := map[string]*Job{}
	say := func(pos source.Pos, what, remedy string) {
		if faults != nil {
			faults.Add(pos, what, remedy)
		}
	}
	records := f.Of("job")
	for _, r := range records {
		no := r.text("no")
		if no == "" || r.At.After(at) || r.Body.Fields["opened"] == nil {
			continue
		}
		if first := byNo[no]; first != nil {
			say(r.Body.Fields["no"].Pos, fmt.Sprintf("job %s was already opened (%s)", no, first.Opened.Pos), "give the new job its own number")
			continue
		}
		byNo[no] = &Job{No: no, Opened: r}
		list = append(list, byNo[no])
	}
	for _, r := range records {
		no := r.text("no")
		if no == "" || r.At.After(at) {
			continue
		}
		closed := r.Body.Fields["closed"]
		if closed == nil {
			if r.Body.Fields["opened"] == nil {
				say(r.Pos, fmt.Sprintf("job %s is neither opened nor closed here", no), "write opened: or closed:")
			}
			continue
		}
		j := byNo[no]
		switch {
		case j == nil:
			say(closed.Pos, fmt.Sprintf("job %s was never opened", no), "write the record that opens it, or look at the number")
		case j.Opened.At.After(r.At):
			say(closed.Pos, fmt.Sprintf("job %s is closed before it was opened (%s)", no, j.Opened.Pos), "look at both times")
		case j.Closed != nil:
			say(closed.Pos, fmt.Sprintf("job %s was already closed (%s)", no, j.Closed.Pos), "open a new job for new work")
		default:
			j.Closed = r
		}
	}
	return list
}

// Faults lists the faults opened up to a time, oldest first.
func (f *Folder) Faults(at time.Time) []*Fault { return f.faultList(at, nil) }

func (f *Folder) checkFaultList(faults *source.Faults) { f.faultList(f.AsOf, faults) }

func (f *Folder) faultList(at time.Time, faults *source.Faults) []*Fault {
	var list []*Fault
	byNo := map[string]*Fault{}
	say := func(pos source.Pos, what, remedy string) {
		if faults != nil {
			faults.Add(pos, what, remedy)
		}
	}
	records := f.Of("fault")
	for _, r := range records {
		no := r.text("no")
		if no == "" || r.At.After(at) || r.Body.Fields["what"] == nil {
			continue
		}
		if first := byNo[no]; first != nil {
			say(r.Body.Fields["no"].Pos, fmt.Sprintf("fault %s was already written (%s)", no, first.Opened.Pos), "give the new fault its own number")
			continue
		}
		byNo[no] = &Fault{No: no, Opened: r, Job: r.text("job")}
		list = append(list, byNo[no])
	}
	for _, r := range records {
		no := r.text("no")
		if no == "" || r.At.After(at) {
			continue
		}
		entry := byNo[no]
		switch {
		case entry == nil:
			say(r.Pos, fmt.Sprintf("fault %s was never written with its words", no), "write what:, or look at the number")
			continue
		case entry.Opened.At.After(r.At):
			say(r.Pos, fmt.Sprintf("this is dated before fault %s was seen (%s)", no, entry.Opened.Pos), "look at both times")
			continue
		}
		if j := r.text("job"); j != "" {
			entry.Job = j
		}
		if r.text("cleared") != "" {
			entry.Cleared = r
		}
	}
	byJob := map[string]*Job{}
	for _, j := range f.jobs(at, nil) {
		byJob[j.No] = j
		for _, no := range texts(j.open("faults")) {
			if entry := byNo[no.Text]; entry != nil && entry.Job == "" {
				entry.Job = j.No
			}
		}
	}
	for _, entry := range list {
		if j := byJob[entry.Job]; j != nil && j.Closed != nil && entry.Cleared == nil {
			entry.Cleared = j.Closed
		}
	}
	return list
}

// LockedOut says which systems are made safe and left out of use at a time, each with
// its record. It takes two people, and only a job on the system that closes with
// ends_lockout puts it back.
func (f *Folder) LockedOut(at time.Time) map[string]*Record {
	out := map[string]*Record{}
	for _, r := range f.Of("lockout") {
		if second := r.text("second"); !r.At.After(at) && second != "" && second != r.By {
			out[r.text("system")] = r
		}
	}
	for _, j := range f.jobs(at, nil) {
		system := text(j.open("system"))
		if r := out[system]; r != nil && j.Closed != nil && j.Closed.At.After(r.At) && yes(j.Closed.Body.Get("closed.ends_lockout")) {
			delete(out, system)
		}
	}
	return out
}
