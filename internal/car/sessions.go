package car

import "time"

// Session is what is still planned of a session.
type Session struct {
	ID   string
	Kind string
	At   time.Time // zero where the plan does not say
	Runs int       // still to come
}

// SessionsLeft lists the sessions of the plan that still have runs to come, in its order.
// ok is false where the plan leaves open how many there are.
func (f *Folder) SessionsLeft(at time.Time) (left []Session, ok bool) {
	plan := f.root("plan")
	sessions, first := plan.Get("sessions"), plan.Get("event.first_day")
	if plan.Unknown || sessions.Unknown || first.Unknown {
		return nil, false
	}
	done := f.sessionsDone(at, first.Time.Add(-zone(plan)))
	for _, s := range sessions.Items {
		runs, id := s.Get("runs"), s.Get("id")
		if s.Unknown || runs.Unknown || id.Unknown {
			return nil, false
		}
		if n := int(runs.Int) - done[id.Text]; n > 0 {
			session := Session{ID: id.Text, Kind: text(s.Get("kind")), Runs: n}
			if v := s.Get("at"); !v.Unknown {
				session.At = v.Time
			}
			left = append(left, session)
		}
	}
	return left, true
}

// sessionsDone counts the runs of each session since an event began. A run that was
// stopped before its end is run again, and runs of an earlier event count for nothing.
func (f *Folder) sessionsDone(at, began time.Time) map[string]int {
	done := map[string]int{}
	for _, r := range f.Runs() {
		start := r.At
		if s := r.Body.Fields["started"]; s != nil && !s.Unknown {
			start = s.Time
		}
		if !r.At.After(at) && r.Body.Fields["aborted"] == nil && !start.Before(began) {
			done[r.text("session")]++
		}
	}
	return done
}
