package runlog

// newSlab makes room for n numbers. Only what is written to takes memory.
func newSlab[T int64 | float64](n int) []T {
	s := make([]T, n)
	wantHugePages(bytesOf(s))
	return s
}
