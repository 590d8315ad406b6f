package sdk

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"
)

// Evidence is what a check may look at: the documents it named, its limits, and one log.
//
// It keeps account of what was read. What was looked for and is not known turns the passes of
// this evidence into no data, so an author cannot pass on a gap by accident.
type Evidence struct {
	check  *Check
	given  *Given
	limits map[string]GivenLimit
	parent *Evidence
	scopes map[string]*Evidence // by position

	read    []string // document paths that were there
	missing []string // document paths and channels that were not known
	holes   []string // channels read that have spans nobody saw
	fault   error    // the first thing the author got wrong
}

// Given is what the host hands a check. Authors meet it in tests only.
type Given struct {
	// Documents are decoded JSON in SI by their root: "car", "measured". Null, and whatever
	// is left out, is not known.
	Documents map[string]any
	// NotFitted are the paths of what the car has none of, which is a fact and no gap.
	NotFitted []string
	Limits    []GivenLimit
	Log       *Log      // nil: none at hand
	Today     time.Time // the day of the look: the newest record's, never the machine's clock
	Run       int       // the newest run
}

// GivenLimit is a limit in force.
type GivenLimit struct {
	Name  string
	Value float64 // SI
}

func newEvidence(c *Check, g Given) *Evidence {
	ev := &Evidence{check: c, given: &g, limits: map[string]GivenLimit{}, scopes: map[string]*Evidence{}}
	for _, l := range g.Limits {
		ev.limits[l.Name] = l
	}
	return ev
}

// For is the evidence of one position. What is missed through it counts against that position
// alone; what was missed through ev itself counts against every position.
func (ev *Evidence) For(position string) *Evidence {
	top := ev.top()
	if s := top.scopes[position]; s != nil {
		return s
	}
	s := &Evidence{check: top.check, given: top.given, limits: top.limits, parent: top}
	top.scopes[position] = s
	return s
}

func (ev *Evidence) top() *Evidence {
	if ev.parent != nil {
		return ev.parent
	}
	return ev
}

// Today is the day of the look: the newest record's, never the machine's clock.
func (ev *Evidence) Today() time.Time { return ev.given.Today }

// NewestRun is the number of the newest run, 0 before the first.
func (ev *Evidence) NewestRun() int { return ev.given.Run }

// Limit is a declared limit in SI, as the team has set it. A name that was not declared is a
// fault of the check.
func (ev *Evidence) Limit(name string) float64 {
	l, ok := ev.limits[name]
	if !ok {
		ev.wrong(fmt.Errorf("asks for the limit %q, which it did not declare", name))
	}
	return l.Value
}

// Floor is a declared limit below which a value is out.
func (ev *Evidence) Floor(name string, means Outcome) Bound {
	b := Floor(ev.Limit(name), means)
	b.Name = name
	return b
}

// Ceiling is a declared limit above which a value is out.
func (ev *Evidence) Ceiling(name string, means Outcome) Bound {
	b := Ceiling(ev.Limit(name), means)
	b.Name = name
	return b
}

// Log is the log at hand, nil where none is.
func (ev *Evidence) Log() *Log { return ev.given.Log }

// Channel is a channel of the log. Where it is not at hand it is nil, and counts as missing.
// A name that was not declared is a fault of the check.
func (ev *Evidence) Channel(name string) *Channel {
	c, err := ev.channel(name)
	switch {
	case err != nil:
		ev.wrong(err)
	case c == nil:
		ev.miss(name)
	case len(c.Gaps) > 0:
		ev.holes = append(ev.holes, name)
	}
	return c
}

func (ev *Evidence) channel(name string) (*Channel, error) {
	if needs := &ev.check.Needs; !needs.AllChannels && !slices.ContainsFunc(needs.Channels, func(c ChannelNeed) bool { return c.Name == name }) {
		return nil, fmt.Errorf("asks for the channel %q, which it did not declare", name)
	}
	if ev.given.Log == nil {
		return nil, nil
	}
	return ev.given.Log.channel(name)
}

// Channels are the names of the channels handed over, sorted.
func (ev *Evidence) Channels() []string {
	if ev.given.Log == nil {
		return nil
	}
	return slices.Sorted(maps.Keys(ev.given.Log.channels))
}

// NoData is a result that says what was looked for and is not known.
func (ev *Evidence) NoData() Result {
	missing := ev.allMissing()
	if len(missing) == 0 {
		return Result{Outcome: NoData, Message: "not known"}
	}
	return Result{Outcome: NoData, Message: listed(missing) + " not known"}
}

func (ev *Evidence) allMissing() []string {
	missing := slices.Clone(ev.missing)
	if ev.parent != nil {
		missing = append(missing, ev.parent.missing...)
	}
	slices.Sort(missing)
	return slices.Compact(missing)
}

func (ev *Evidence) miss(what string) {
	if !slices.Contains(ev.missing, what) {
		ev.missing = append(ev.missing, what)
	}
}

// wrong keeps the first thing the author got wrong; the check then gives a fault and no result.
func (ev *Evidence) wrong(err error) {
	if top := ev.top(); top.fault == nil {
		top.fault = err
	}
}

// listed joins up to three names and counts the rest.
func listed(names []string) string {
	const most = 3
	if len(names) <= most {
		return strings.Join(names, ", ")
	}
	return fmt.Sprintf("%s and %d more", strings.Join(names[:most], ", "), len(names)-most)
}
