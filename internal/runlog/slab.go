package runlog

// newSlab makes room for n numbers.
func newSlab(n int) []float64 { return make([]float64, n) }
