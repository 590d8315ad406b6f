package runlog

import (
	"fmt"
	"slices"

	"github.com/paintmark/paintmark/internal/kernel"
	"github.com/paintmark/paintmark/internal/units"
)

// Velocity and acceleration: of a car on its wheels they move only where it does.
var (
	velocity     = units.Dim{Length: 1, Time: -1}
	acceleration = units.Dim{Length: 1, Time: -2}
)

// FindStill looks in the log of a run, cleaned, for measured channels that read one and the
// same value from its first sample to its last while the car moved, and of which nothing is
// declared that they move with: those of which something is are FindDead's. A sensor on a car
// that moves trembles by its last digit; one that does not, for fifty samples and for as long
// as it may stand still (10 s, a temperature 30 s, or its own Still), is dead, or so coarse or so well
// held that somebody has to say so: Still no shorter than the log has it believed.
//
// Switches, gears and other counts may stand for a whole run and are not looked at; nor are
// logs in which the car stood, such as those on stands. The car moved where a speed or an
// acceleration went three times there and back by a tenth of its range; where the log has none
// but the channel itself, where any other measured channel did.
func FindStill(log *kernel.Log, channels []Channel) (dead []Dead) {
	h := health{log: log, channels: make(map[string]*Channel, len(channels))}
	for i := range channels {
		h.channels[channels[i].Name] = &channels[i]
	}
	logged := func(n *Channel) bool { return log.Columns[n.Name] != nil }
	for i := range channels {
		ch := &channels[i]
		s, there := h.samples(ch.Name)
		if !there || ch.Shape != Number || slices.ContainsFunc(h.neighbours(ch), logged) {
			continue
		}
		r, one := s.oneValue()
		if period := s.period(); !one || r.n < fewSamples || float64(r.n)*period < ch.still(period)*(1-1e-9) {
			continue
		}
		from, to := s.time(r.first), s.until(r.last)
		if mover := h.carMoved(ch, from, to); mover != "" {
			dead = append(dead, Dead{
				Channel: ch.Name, From: from, To: to,
				Why:    fmt.Sprintf("stood still at %s all run while %s moved", ch.say(r.value), mover),
				Unless: "if it may, say how long with still, or what it moves with, in channels.yaml",
			})
		}
	}
	sortDead(dead)
	return dead
}

// oneValue gathers the good samples of a column, if all of them are one and the same value.
func (s samples) oneValue() (r run, one bool) {
	for i := range s.Values {
		if s.bad(i) {
			continue
		}
		v := s.value(i)
		if r.n > 0 && v != r.value {
			return r, false
		}
		r.add(i, v)
	}
	return r, r.n > 0
}

// carMoved names a channel other than this one by which the car moved within a span, "" where
// none tells so.
func (h *health) carMoved(but *Channel, from, to float64) string {
	var motion, measured []*Channel
	for _, name := range sortedNames(h.channels) {
		ch := h.channels[name]
		if ch == but || ch.Shape != Number || !ch.Range || h.log.Columns[name] == nil {
			continue
		}
		measured = append(measured, ch)
		if u, bad := ch.declaredUnit(); bad == nil && (u.Type.Dim == velocity || u.Type.Dim == acceleration) {
			motion = append(motion, ch)
		}
	}
	if len(motion) == 0 {
		motion = measured
	}
	for _, ch := range motion {
		if h.moved(ch, from, to) {
			return ch.Name
		}
	}
	return ""
}
