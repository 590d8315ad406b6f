package life

import (
	"math"
)

// forecast adds what the planned runs will use, and finds the session in which each limit
// falls at worst.
func (b *book) forecast(sheet *Sheet) {
	sheet.Sessions = b.plan.sessions
	for i := range b.meters {
		a, from := b.perRun(i)
		sheet.Uses, sheet.UsesFrom = append(sheet.Uses, a), append(sheet.UsesFrom, from)
	}
	once := 0.0 // how often a meter counted by the plan still counts
	if len(b.plan.sessions) > 0 && !b.eventPosted() {
		once = 1
	}
	planned := make([]Amount, len(b.meters))
	for i, m := range b.meters {
		switch {
		case m.ByPlan:
			planned[i] = counted(once)
		case !b.plan.known:
			planned[i] = unknown()
		}
		for _, s := range b.plan.sessions {
			planned[i] = planned[i].plus(sheet.Uses[i].times(float64(s.Runs), float64(s.Runs)))
		}
	}
	for _, p := range b.parts {
		for i := range p.Totals {
			p.Totals[i].Planned = planned[b.index[p.Totals[i].Meter.Name]]
		}
		for _, l := range p.Limits {
			b.ahead(l, sheet, once)
			if l.Risk != nil {
				l.Risk.ahead(l.Used, l.Planned)
			}
		}
		for _, ins := range p.Inspections {
			for _, iv := range ins.Every {
				b.ahead(&iv.Limit, sheet, once)
			}
		}
	}
}

// over says that an amount is beyond a limit; on the limit is not.
func over(used, life float64) bool { return used > life+1e-9*math.Abs(life) }

func (b *book) ahead(l *Limit, sheet *Sheet, once float64) {
	l.falls = len(b.plan.sessions)
	if over(l.Used.High, l.Life) && !math.IsInf(l.Used.High, 1) {
		l.Falls, l.falls = Now, -1
	}
	if l.Meter == nil {
		if !math.IsInf(l.Used.High, 1) {
			l.Planned = counted(max(0, days(b.today, b.plan.day)))
		}
		l.RunsLeft = Amount{math.Inf(1), math.Inf(1), false}
		for i, s := range b.plan.sessions {
			if l.Falls == "" && !l.Ends.IsZero() && !s.At.IsZero() && b.folder.EventDay(s.At).After(l.Ends) {
				l.Falls, l.falls = s.ID, i
			}
		}
		return
	}
	meter := b.index[l.Meter.Name]
	use, from := sheet.Uses[meter], sheet.UsesFrom[meter]
	if from != "plan" {
		l.From = from
	}
	if l.Meter.ByPlan {
		l.Planned = counted(once)
		l.RunsLeft = Amount{math.Inf(1), math.Inf(1), false}
		if once > 0 && l.Falls == "" && over(l.Used.High+once, l.Life) {
			l.Falls, l.falls = b.plan.sessions[0].ID, 0
			l.RunsLeft = counted(0)
		}
		return
	}
	l.RunsLeft = Amount{runsLeft(l.Life-l.Used.High, use.High), runsLeft(l.Life-l.Used.Low, use.Low), false}
	if !b.plan.known {
		l.Planned = unknown()
		return
	}
	for i, s := range b.plan.sessions {
		n := float64(s.Runs)
		l.Planned = l.Planned.plus(use.times(n, n))
		if l.Falls == "" && !math.IsInf(l.Used.High, 1) && over(l.Used.High+l.Planned.High, l.Life) {
			l.Falls, l.falls = s.ID, i
		}
	}
}

// runsLeft is how many whole runs are left of a rest.
func runsLeft(left, use float64) float64 {
	switch {
	case math.IsNaN(left):
		return 0
	case left < 0:
		return 0
	case use <= 0:
		return math.Inf(1)
	case math.IsInf(use, 1):
		return 0
	}
	return math.Floor(left/use + 1e-9)
}

// first finds the limit that falls first: by the session in which it falls at worst, then
// by the share of it that will be used. A limit of which nothing is known is no help here:
// it has an item of its own.
func first(sheet *Sheet) *First {
	var best *First
	for _, p := range sheet.Parts {
		if !p.Fitted {
			continue
		}
		for _, l := range p.Limits {
			if share := l.WithPlan().High / l.Life; math.IsInf(share, 0) || math.IsNaN(share) {
				continue
			}
			if best == nil || l.falls < best.Limit.falls ||
				l.falls == best.Limit.falls && l.WithPlan().High/l.Life > best.Limit.WithPlan().High/best.Limit.Life {
				best = &First{p, l}
			}
		}
	}
	return best
}
