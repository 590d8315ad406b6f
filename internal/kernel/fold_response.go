package kernel

// responseFold: the longest time from a trigger becoming true to the first time at or
// after it that the reaction is true.
//
// The trigger became true up to one of its sampling periods before its row, and the reaction
// up to one of its own before its row: a response found lies in [found - reaction period, found +
// trigger period], and is never less than 0. A trigger that nothing answers before the log ends gives
// [time left, +Inf). A trigger that is true in the first row became true there.
type responseFold struct {
	trigger, reaction             truths // the whole log
	times                         []float64
	n                             int
	triggerPeriod, reactionPeriod float64
	leans                         [2]*leaning
}

func newResponseFold(g *grid, a aggregate, nodes []node) *responseFold {
	space := func() truths { return truths{yes: make([]uint64, words(g.n)), no: make([]uint64, words(g.n))} }
	return &responseFold{
		trigger: space(), reaction: space(), times: g.times, n: g.n,
		triggerPeriod: g.longest(nodes[a.x].channels), reactionPeriod: g.longest(nodes[a.y].channels),
	}
}

func (f *responseFold) block(in *input) {
	w := in.from / 64
	copy(f.trigger.yes[w:], in.x.yes)
	copy(f.trigger.no[w:], in.x.no)
	copy(f.reaction.yes[w:], in.y.yes)
	copy(f.reaction.no[w:], in.y.no)
	f.leans = in.open
}

func (f *responseFold) done() bool { return false }

// edge says whether the trigger may become true in a row.
func (f *responseFold) edge(i int) bool {
	return !isSet(f.trigger.no, i) && (i == 0 || !isSet(f.trigger.yes, i-1))
}

func (f *responseFold) answer() Answer {
	const none = -1
	sure, possible := f.n, f.n // first row from here on in which the reaction is, or may be, true
	a := Answer{High: none, At: nowhere, Within: max(f.triggerPeriod, f.reactionPeriod)}
	// least longest response of the rows from here on, if the row before was false, or true
	ifFalse, ifTrue := float64(none), float64(none)
	for i := f.n - 1; i >= 0; i-- {
		if isSet(f.reaction.yes, i) {
			sure = i
		}
		if !isSet(f.reaction.no, i) {
			possible = i
		}
		canTrue, canFalse := !isSet(f.trigger.no, i), !isSet(f.trigger.yes, i)
		least := f.times[f.n] - f.times[i]
		if possible < f.n {
			least = max(0, f.times[possible]-f.times[i]-f.reactionPeriod)
		}
		newFalse, newTrue := plusInf, plusInf
		if canTrue {
			newFalse, newTrue = max(least, ifTrue), ifTrue
		}
		if canFalse {
			newFalse, newTrue = min(newFalse, ifFalse), min(newTrue, ifFalse)
		}
		ifFalse, ifTrue = newFalse, newTrue
		if f.edge(i) {
			most := plusInf
			if sure < f.n {
				most = f.times[sure] - f.times[i] + f.triggerPeriod
			}
			if most >= a.High {
				a.High, a.At = most, f.times[i]
			}
		}
	}
	if a.High == none {
		return Answer{Empty: true, At: nowhere}
	}
	a.MaybeEmpty = ifFalse == none
	a.Low = max(0, ifFalse)
	f.lean()
	return a
}

// lean notes the rows of the trigger that are unknown, and those of the reaction while an answer is awaited.
func (f *responseFold) lean() {
	awaited := false
	for i := range f.n {
		if f.edge(i) {
			awaited = true
		}
		if isSet(f.reaction.yes, i) {
			awaited = false
		}
		bit := uint64(1) << (i & 63)
		if !isSet(f.trigger.yes, i) && !isSet(f.trigger.no, i) {
			f.leans[0].add(i/64, bit)
		}
		if awaited && !isSet(f.reaction.no, i) {
			f.leans[1].add(i/64, bit)
		}
	}
}
