package car

import (
	"testing"
)

// The cars of the demonstration load without a fault.
func TestCars(t *testing.T) {
	for _, name := range []string{"tern-3", "fallow-9"} {
		t.Run(name, func(t *testing.T) {
			f, faults := Open("../../testdata/cars/" + name)
			if err := faults.Err(); err != nil {
				t.Fatal(err)
			}
			if len(f.Records) == 0 || len(f.Channels) == 0 {
				t.Error("nothing was read")
			}
		})
	}
}
