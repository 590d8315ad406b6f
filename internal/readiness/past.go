package readiness

import (
	"fmt"
	"strings"
	"time"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/check"
)

// past is what the run sheets up to a time say that items came to.
type past struct {
	run     int                // of the newest sheet that kept outcomes, 0 for none
	newest  []PostedOutcome    // on it
	decided map[string]decided // by name: what was last found, however long ago
}

// decided is the last time that an item came to pass, warn or fail.
type decided struct {
	run     int
	started time.Time
	outcome check.Outcome
}

func pastOf(f *car.Folder, at time.Time) past {
	p := past{decided: map[string]decided{}}
	for _, r := range f.Runs() {
		outcomes := r.Body.Get("outcomes")
		if r.At.After(at) || r.Body.Fields["outcomes"] == nil || outcomes.Unknown {
			continue
		}
		p.run, p.newest = int(r.Body.Get("no").Int), nil
		for _, group := range []string{"no_go", "other"} {
			for _, o := range []check.Outcome{check.Fail, check.NoData, check.Warn, check.Pass} {
				for _, name := range outcomes.Get(group + "." + strings.ReplaceAll(string(o), " ", "_")).Items {
					if name.Unknown {
						continue
					}
					p.newest = append(p.newest, PostedOutcome{Name: name.Text, NoGo: group == "no_go", Outcome: o})
					if o != check.NoData {
						p.decided[name.Text] = decided{p.run, car.Started(r), o}
					}
				}
			}
		}
	}
	return p
}

// provenWords say when an item was last proven, for one that was not exercised; "" where no
// sheet kept outcomes.
func (p past) provenWords(name string, at time.Time) (words string, run int) {
	d, ok := p.decided[name]
	switch {
	case p.run == 0:
		return "", 0
	case !ok:
		return "proven on no run", 0
	case d.outcome == check.Fail:
		return fmt.Sprintf("failed on run %d, %s before", d.run, ageWords(at.Sub(d.started))), d.run
	}
	return fmt.Sprintf("last proven on run %d, %s before", d.run, ageWords(at.Sub(d.started))), d.run
}
