package car

import "testing"

// BenchmarkOpen reads the Tern 3: about 1000 fields in 75 files.
func BenchmarkOpen(b *testing.B) {
	for b.Loop() {
		if _, faults := Open("../../testdata/cars/tern-3"); len(faults) > 0 {
			b.Fatal(faults)
		}
	}
}

func BenchmarkRoots(b *testing.B) {
	f, _ := Open("../../testdata/cars/tern-3")
	for b.Loop() {
		f.Roots(f.AsOf)
	}
}
