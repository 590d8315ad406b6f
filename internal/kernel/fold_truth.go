package kernel

// alwaysFold: in every row, the filter does not hold or p is true.
type alwaysFold struct {
	failed, open      bool
	filtered          bool
	exercised, mayRun bool // the filter was true; may have been true
	at                float64
	idle              leaning // rows where the filter may hold, and p is true if it does
	leans             [2]*leaning
}

func (f *alwaysFold) block(in *input) {
	f.leans = in.open
	for w := range in.x.yes {
		yes, maybe := in.filter(w)
		f.exercised = f.exercised || yes != 0
		f.mayRun = f.mayRun || maybe != 0
		if bad := in.x.no[w] & yes; bad != 0 {
			f.failed = true
			f.at = in.time(w*64 + trailing(bad))
			return
		}
		unknown := rowsOf(in.n, w) &^ (in.x.yes[w] | in.x.no[w])
		f.open = f.open || unknown&(yes|maybe)|in.x.no[w]&maybe != 0
		in.open[0].add(in.from/64+w, unknown&(yes|maybe))
		in.open[1].add(in.from/64+w, maybe&^in.x.yes[w])
		f.idle.n = in.open[1].n
		f.idle.add(in.from/64+w, maybe&in.x.yes[w])
	}
}

func (f *alwaysFold) done() bool { return f.failed }

func (f *alwaysFold) answer() Answer {
	a := Answer{
		Low: truthOf(!f.failed && !f.open), High: truthOf(!f.failed), At: f.at,
		Empty:      f.filtered && !f.exercised && !f.mayRun,
		MaybeEmpty: f.filtered && !f.exercised && f.mayRun,
	}
	switch {
	case f.failed:
		f.leans[0].rows, f.leans[1].rows = nil, nil
	case a.MaybeEmpty:
		for w, m := range f.idle.rows {
			f.leans[1].add(w, m)
		}
	}
	return a
}

// everFold: in some row, p is true.
type everFold struct {
	found, open bool
	at          float64
	leans       *leaning
}

func (f *everFold) block(in *input) {
	f.leans = in.open[0]
	for w, yes := range in.x.yes {
		if yes != 0 {
			f.found = true
			f.at = in.time(w*64 + trailing(yes))
			return
		}
		unknown := rowsOf(in.n, w) &^ in.x.no[w]
		f.open = f.open || unknown != 0
		in.open[0].add(in.from/64+w, unknown)
	}
}

func (f *everFold) done() bool { return f.found }

func (f *everFold) answer() Answer {
	if f.found {
		f.leans.rows = nil
	}
	return Answer{Low: truthOf(f.found), High: truthOf(f.found || f.open), At: f.at}
}
