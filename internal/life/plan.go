package life

import (
	"time"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/schema"
)

// plan is what the plan says about life.
type plan struct {
	known       bool
	name        string
	first, last time.Time // days, UTC midnight
	day         time.Time // the day to which calendar lives count with the plan
	sessions    []car.Session
	perRun      *schema.Value
}

func (b *book) readPlan(today time.Time) {
	b.plan.day = today
	root := b.document("plan")
	if root == nil || root.Unknown {
		return
	}
	b.plan.name = text(root.Get("event.name"))
	if v := root.Get("event.first_day"); !v.Unknown {
		b.plan.first = v.Time
	}
	if v := root.Get("event.last_day"); !v.Unknown {
		b.plan.last = v.Time
		if v.Time.After(today) {
			b.plan.day = v.Time
		}
	}
	b.plan.sessions, b.plan.known = b.folder.SessionsLeft(b.at)
	b.plan.perRun = root.Get("per_run")
}

// perRun is what one planned run uses of a meter: as the plan says, else as the last runs
// did. Source says which. It is unknown where neither says anything.
func (b *book) perRun(meter int) (a Amount, source string) {
	m := b.meters[meter]
	if m.ByPlan {
		return Amount{}, "plan" // once an event, see planned
	}
	if v := field(field(b.plan.perRun, "meters"), m.Name); v != nil {
		if n, ok := m.read(v, &b.faults); ok {
			return counted(n), "plan"
		}
	}
	if v := field(b.plan.perRun, m.Name); v != nil && !v.Unknown {
		switch {
		case v.Type.Kind == schema.Quantity && !m.plain() && v.Type.Unit.Dim == m.unit.Type.Dim:
			return Amount{Low: m.unit.Of(v.Low), High: m.unit.Of(v.High)}, "plan"
		case v.Type.Kind == schema.Number && m.plain():
			return Amount{Low: v.Low, High: v.High}, "plan"
		}
	}
	if a, from, to, ok := b.recent(meter); ok {
		return a, runsWord(from, to)
	}
	return unknown(), ""
}

// eventPosted says that a run of the plan's event has been brought in.
func (b *book) eventPosted() bool {
	for _, r := range b.runs {
		if r.event != "" && r.event == b.plan.name {
			return true
		}
	}
	return false
}
