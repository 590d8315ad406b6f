package runlog

// newSlab makes room for n numbers. Only what is written to takes memory.
func newSlab(n int) []float64 {
	s := make([]float64, n)
	wantHugePages(s)
	return s
}
