//go:build !amd64

package kernel

func lessConst(dst []uint64, a []float64, c float64)  { lessConstAnywhere(dst, a, c) }
func moreConst(dst []uint64, a []float64, c float64)  { moreConstAnywhere(dst, a, c) }
func equalConst(dst []uint64, a []float64, c float64) { equalConstAnywhere(dst, a, c) }
func lessEach(dst []uint64, a, b []float64)           { lessEachAnywhere(dst, a, b) }
func equalEach(dst []uint64, a, b []float64)          { equalEachAnywhere(dst, a, b) }
