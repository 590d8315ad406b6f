package expr

import (
	"cmp"
	"slices"

	"github.com/paintmark/paintmark/internal/source"
)

// why says what left a value undecided. Never changed once made.
type why struct {
	gaps      []Gap
	empty     bool // a log call had nothing to fold
	notFitted bool // a field is absent because the car has no such thing
}

func missing(path string, pos source.Pos, reason string) *why {
	return &why{gaps: []Gap{{Path: path, Pos: pos, Why: reason}}}
}

// and joins two reasons; either may be nil.
func (w *why) and(v *why) *why {
	switch {
	case w == nil || w == v:
		return v
	case v == nil:
		return w
	}
	return &why{
		gaps:      sortGaps(append(slices.Clone(w.gaps), v.gaps...)),
		empty:     w.empty || v.empty,
		notFitted: w.notFitted || v.notFitted,
	}
}

func sortGaps(gaps []Gap) []Gap {
	slices.SortFunc(gaps, func(a, b Gap) int {
		return cmp.Or(cmp.Compare(a.Pos.File, b.Pos.File), cmp.Compare(a.Pos.Line, b.Pos.Line),
			cmp.Compare(a.Pos.Column, b.Pos.Column), cmp.Compare(a.Path, b.Path), cmp.Compare(a.Why, b.Why))
	})
	return slices.Compact(gaps)
}
