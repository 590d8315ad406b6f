package kernel

import "math/bits"

// responseFold: the longest time from a trigger becoming true to the first time at or
// after it that the reaction is true.
//
// The trigger became true up to one of its sampling periods before its row, and the reaction
// up to one of its own before its row: a response found lies in [found - reaction period, found +
// trigger period], and is never less than 0. A trigger that nothing answers before the log ends gives
// [time left, +Inf). A trigger that is true in the first row became true there.
//
// It follows one trigger at a time, for of those that wait for the same reaction the first waits longest.
// Once a row is unknown it gives up, and the whole log is looked at by respond.
type responseFold struct {
	triggerPeriod, reactionPeriod float64

	before  uint64  // the trigger in the last row
	waiting bool    // for a reaction
	since   float64 // the trigger it waits for
	any     bool
	longest float64
	at      float64
	end     float64
	unknown bool
}

func newResponseFold(g *grid, a aggregate, nodes []node) *responseFold {
	return &responseFold{
		triggerPeriod: g.longest(nodes[a.x].channels), reactionPeriod: g.longest(nodes[a.y].channels),
		longest: -1, at: nowhere,
	}
}

func (f *responseFold) block(in *input) {
	for w, trigger := range in.x.yes {
		valid := rowsOf(in.n, w)
		reaction := in.y.yes[w]
		if trigger|in.x.no[w] != valid || reaction|in.y.no[w] != valid {
			f.unknown = true
			return
		}
		edges := trigger &^ (trigger<<1 | f.before)
		f.before = trigger >> (bits.Len64(valid) - 1) & 1
		for from := 0; from < 64; {
			if !f.waiting {
				rest := edges >> from
				if rest == 0 {
					break
				}
				from += trailing(rest)
				f.waiting, f.any, f.since = true, true, in.time(w*64+from)
			}
			rest := reaction >> from
			if rest == 0 {
				break
			}
			from += trailing(rest)
			f.waiting = false
			if d := in.time(w*64+from) - f.since; d > f.longest {
				f.longest, f.at = d, f.since
			}
			from++
		}
	}
	f.end = in.time(in.n)
}

func (f *responseFold) done() bool { return f.unknown }

func (f *responseFold) answer() Answer {
	within := max(f.triggerPeriod, f.reactionPeriod)
	if !f.any {
		return Answer{Empty: true, At: nowhere, Within: within}
	}
	a := Answer{Low: max(0, f.longest-f.reactionPeriod), High: f.longest + f.triggerPeriod, At: f.at, Within: within}
	if f.waiting {
		a.Low, a.High, a.At = max(a.Low, f.end-f.since), plusInf, f.since
	}
	return a
}

// respond is a response where rows are unknown: bounds over every way to fill them, where
// the trigger changes as countFold has it. Of the trigger it takes any edge that may be for the upper bound, and for the lower one the filling whose
// longest response is least.
func respond(g *grid, trigger, reaction *series, triggerPeriod, reactionPeriod float64, free []uint64, leans *[2]leaning) Answer {
	const none = -1
	n := g.n
	unknown := func(i int) bool { return !isSet(trigger.yes, i) && !isSet(trigger.no, i) }
	bound := func(i int) bool { // the trigger is what it was in the row before
		return free != nil && i > 0 && !isSet(free, i) && unknown(i) && unknown(i-1)
	}
	edge := func(i int) bool { // the trigger may become true
		return !isSet(trigger.no, i) && (i == 0 || !isSet(trigger.yes, i-1)) && !bound(i)
	}
	sure, possible := n, n // first row from here on in which the reaction is, or may be, true
	a := Answer{High: none, At: nowhere, Within: max(triggerPeriod, reactionPeriod)}
	// the least longest response from here on, if the row before was false, or true
	ifFalse, ifTrue := float64(none), float64(none)
	for i := n - 1; i >= 0; i-- {
		if isSet(reaction.yes, i) {
			sure = i
		}
		if !isSet(reaction.no, i) {
			possible = i
		}
		if bound(i) {
			continue
		}
		least := g.end - g.start(i)
		if possible < n {
			least = max(0, g.start(possible)-g.start(i)-reactionPeriod)
		}
		newFalse, newTrue := plusInf, plusInf
		if !isSet(trigger.no, i) {
			newFalse, newTrue = max(least, ifTrue), ifTrue
		}
		if !isSet(trigger.yes, i) {
			newFalse, newTrue = min(newFalse, ifFalse), min(newTrue, ifFalse)
		}
		ifFalse, ifTrue = newFalse, newTrue
		if edge(i) {
			most := plusInf
			if sure < n {
				most = g.start(sure) - g.start(i) + triggerPeriod
			}
			if most >= a.High {
				a.High, a.At = most, g.start(i)
			}
		}
	}
	if a.High == none {
		return Answer{Empty: true, At: nowhere, Within: a.Within}
	}
	a.MaybeEmpty = ifFalse == none
	a.Low = max(0, ifFalse)
	awaited := false // a reaction, by a trigger that may be
	for i := range n {
		bit := uint64(1) << (i & 63)
		awaited = (awaited || edge(i)) && !isSet(reaction.yes, i)
		if unknown(i) {
			leans[0].add(i/64, bit)
		}
		if awaited && !isSet(reaction.no, i) {
			leans[1].add(i/64, bit)
		}
	}
	return a
}
