package readiness

import (
	"fmt"
	"slices"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/check"
)

// Lockable are the systems that a car can run without once they are made safe. Nobody locks out
// brakes or steering to get round what is wrong with them.
var Lockable = []string{"logger", "wing"}

// lockedOut says of a result that its system is made safe and left out of use, by whom, and by
// which record. What passes all the same is left to pass.
func (c *Car) lockedOut(r *check.Result) {
	if !slices.Contains(Lockable, r.Card.System) || r.Outcome == check.Pass || r.Outcome == check.NotApplicable || r.Fault != nil {
		return
	}
	if lock := c.folder.LockedOut(c.asOf)[r.Card.System]; lock != nil {
		said := "locked out: " + lockedWords(lock) + " (" + lock.File + ")"
		r.Outcome, r.Message, r.Note, r.Margin, r.Due = check.NotApplicable, said, said, nil, nil
	}
}

func lockedWords(lock *car.Record) string {
	return fmt.Sprintf("%s, by %s and %s", known(lock.Body.Get("state")), lock.By, known(lock.Body.Get("second")))
}

// locks lists the systems that are locked out, in words.
func (c *Car) locks() []string {
	var out []string
	locked := c.folder.LockedOut(c.asOf)
	for _, system := range Lockable {
		if lock := locked[system]; lock != nil {
			out = append(out, system+": "+lockedWords(lock))
		}
	}
	return out
}
