package readiness

import (
	"fmt"
	"time"

	"github.com/paintmark/paintmark/internal/car"
)

// runsOutOfOrder says which runs began before the one of the number below, by their sheets. What a part ran
// on a bench has no place in that order. (A number without a sheet is an item of the pack parts.)
func runsOutOfOrder(f *car.Folder, at time.Time) (out []string) {
	before, began := 0, time.Time{}
	for _, r := range f.Runs() {
		if r.At.After(at) || r.Body.Fields["parts"] != nil {
			continue
		}
		no, start := int(r.Body.Get("no").Int), car.Started(r)
		if start.Before(began) {
			out = append(out, fmt.Sprintf("run %d began before run %d, by their sheets; one of the clocks was wrong", no, before))
			continue
		}
		before, began = no, start
	}
	return out
}
