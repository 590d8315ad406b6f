package readiness

import (
	"fmt"

	"github.com/paintmark/paintmark/internal/car"
)

// workedOn says what was done since a deviation to the system it is on: what was accepted was
// accepted of the car as it then stood. "" while nobody touched it.
func (c *Car) workedOn(d *car.Record, system string) string {
	for _, change := range c.folder.Changes(c.asOf) {
		if change.Position.System == system && change.Record.At.After(d.At) {
			return fmt.Sprintf("%s was %s since", known(change.Record.Body.Get("serial")), change.Record.Kind)
		}
	}
	for _, j := range c.folder.Jobs(c.asOf) {
		opened := j.Opened.Body.Get("opened")
		touched := len(opened.Get("opens").Items)+len(opened.Get("voids").Items)+len(opened.Get("needs").Items) > 0
		if touched && known(opened.Get("system")) == system && j.Opened.At.After(d.At) {
			return fmt.Sprintf("job %s was opened on the %s since", j.No, system)
		}
	}
	return ""
}
