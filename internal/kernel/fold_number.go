package kernel

// plainWord says whether the rows of word w that may pass the filter surely do, with an
// exact number in each, and which rows those are.
func (in *input) plainWord(w int) (rows uint64, plain bool) {
	valid := rowsOf(in.n, w)
	rows = valid
	if in.y != nil {
		rows = in.y.yes[w]
		if rows|in.y.no[w] != valid {
			return 0, false
		}
	}
	if in.x.high != nil || in.x.known != nil && rows&^in.x.known[w] != 0 {
		return 0, false
	}
	return rows, true
}

// eachUnder calls do for each row of word w that passes the filter or may, and notes what was missing.
func (in *input) eachUnder(w int, do func(i int, low, high float64, sure bool)) {
	yes, maybe := in.filter(w)
	may := yes | maybe
	if may == 0 {
		return
	}
	in.open[0].add(in.from/64+w, may&^in.x.exact(w, rowsOf(in.n, w)))
	in.open[1].add(in.from/64+w, maybe)
	for m := may; m != 0; m &= m - 1 {
		b := trailing(m)
		low, high := in.x.numbers.at(w*64 + b)
		do(w*64+b, low, high, yes>>b&1 != 0)
	}
}
