package kernel

// Compares of whole words of rows, at least one, in compare_amd64.s.

//go:noescape
func lessConst64(dst *uint64, a *float64, words int, c float64)

//go:noescape
func moreConst64(dst *uint64, a *float64, words int, c float64)

//go:noescape
func equalConst64(dst *uint64, a *float64, words int, c float64)

//go:noescape
func lessEach64(dst *uint64, a, b *float64, words int)

//go:noescape
func equalEach64(dst *uint64, a, b *float64, words int)

func lessConst(dst []uint64, a []float64, c float64) {
	w := len(a) / 64
	if w > 0 {
		lessConst64(&dst[:w][0], &a[0], w, c)
	}
	lessConstAnywhere(dst[w:], a[w*64:], c)
}

func moreConst(dst []uint64, a []float64, c float64) {
	w := len(a) / 64
	if w > 0 {
		moreConst64(&dst[:w][0], &a[0], w, c)
	}
	moreConstAnywhere(dst[w:], a[w*64:], c)
}

func equalConst(dst []uint64, a []float64, c float64) {
	w := len(a) / 64
	if w > 0 {
		equalConst64(&dst[:w][0], &a[0], w, c)
	}
	equalConstAnywhere(dst[w:], a[w*64:], c)
}

func lessEach(dst []uint64, a, b []float64) {
	w := len(a) / 64
	if w > 0 {
		lessEach64(&dst[:w][0], &a[0], &b[:w*64][0], w)
	}
	lessEachAnywhere(dst[w:], a[w*64:], b[w*64:])
}

func equalEach(dst []uint64, a, b []float64) {
	w := len(a) / 64
	if w > 0 {
		equalEach64(&dst[:w][0], &a[0], &b[:w*64][0], w)
	}
	equalEachAnywhere(dst[w:], a[w*64:], b[w*64:])
}
