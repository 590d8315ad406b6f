package runlog

import (
	"slices"

	"github.com/paintmark/paintmark/internal/units"
)

// The speed of an engine that is worth being a neighbour, rpm: below it did not run, above
// it is a turbo's. Common practice.
const (
	leastEngine = 1000
	mostEngine  = 20000
)

// proposedNeighbours guesses for each measured channel one that cannot move long without it:
// engine speed, and for the engine itself the speed of the car. Not for an angle: a wing or a
// wheel may well be held straight. A guess that this very log
// speaks against, because the channel stood still while the other moved, is not made: either
// the sensor is dead or the two have nothing to do with each other.
func proposedNeighbours(raw *Raw, looks []Look, names []string) []string {
	out := make([]string, len(looks))
	engine, car := -1, -1
	for i := range looks {
		l := &looks[i]
		unit, known := l.unit()
		switch {
		case names[i] == "" || !known || l.Shape != Number:
		case engine < 0 && unit.Symbol == "rpm" && l.Max >= leastEngine && l.Max <= mostEngine:
			engine = i
		case car < 0 && unit.Type.Dim == units.Dim{Length: 1, Time: -1}:
			car = i
		}
	}
	var channels []Channel
	for i := range looks {
		l := &looks[i]
		unit, known := l.unit()
		if names[i] == "" || !known || l.Shape != Number {
			continue
		}
		low, high := l.rounded(unit)
		ch := Channel{Name: names[i], InLog: l.Column.Name, Unit: unit.Symbol, Rate: l.Column.Rate, Range: true, Low: unit.SI(low), High: unit.SI(high)}
		switch {
		case i == engine && car >= 0:
			ch.MovesWith = []string{names[car]}
		case i != engine && i != car && engine >= 0 && unit.Symbol != "deg" && unit.Symbol != "rad": // a car that stands may rev
			ch.MovesWith = []string{names[engine]}
		}
		channels = append(channels, ch)
	}
	log, _ := Clean(raw, channels) // a unit that nobody knows for sure is no neighbour either
	dead := FindDead(log, channels)
	for _, ch := range channels {
		if len(ch.MovesWith) == 0 || log.Columns[ch.Name] == nil || log.Columns[ch.MovesWith[0]] == nil {
			continue
		}
		if !slices.ContainsFunc(dead, func(d Dead) bool { return d.Channel == ch.Name }) {
			out[slices.Index(names, ch.Name)] = ch.MovesWith[0]
		}
	}
	return out
}
