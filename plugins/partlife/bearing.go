package partlife

import (
	"context"
	"fmt"
	"math"

	"github.com/paintmark/paintmark/internal/trade"
	"github.com/paintmark/paintmark/plugins/sdk"
)

// bearing is the check of rolling bearings, in no-go parts or in others.
func bearing(noGo bool) *sdk.Check {
	id, item := suffix("partlife.bearing", "Share of its rating life a bearing has used, planned runs included", noGo)
	return &sdk.Check{
		ID: id, Item: item, System: "chassis", Moments: []sdk.Moment{sdk.Run}, Unit: "%",
		Applies: `parts.exists(p, p.bearing.rolls == "balls" || p.bearing.rolls == "rollers")`,
		Needs: sdk.Needs{
			Documents: []string{"parts", "channels", "life.parts"}, AllChannels: true,
			Limits: []sdk.Limit{
				{Name: "l10_warn", Value: 80, Unit: "%", Tighten: "down", Source: practice},
				{Name: "l10_fail", Value: 100, Unit: "%", Tighten: "down", Source: sdk.Source{Kind: "practice", Text: "nine of ten reach their rating life"}},
			},
		},
		Do: "Renew the bearing; until then feel for play and roughness, and look at the filter.", Caution: "rotating",
		Source: sdk.Source{Kind: "practice", Text: "ISO 281 rating life, equivalent load of this run's loads and turns; oil, dirt and fit at their best"},
		Accept: accept(noGo),
		Run: func(_ context.Context, ev *sdk.Evidence) ([]sdk.Result, error) {
			parts, ok1 := ev.Each("parts")
			sheet, ok2 := ev.Each("life.parts")
			channels, ok3 := ev.Each("channels")
			if !ok1 || !ok2 || !ok3 {
				return sdk.One(ev.NoData())
			}
			units := map[string]string{} // of channels
			for _, c := range channels {
				name, _ := c.Get("name").Text()
				units[name], _ = c.Get("unit").Text()
			}
			byPart := map[string]sdk.Node{}
			for _, p := range sheet {
				serial, _ := p.Get("serial").Text()
				byPart[serial] = p
			}
			var out []sdk.Result
			for _, p := range parts {
				serial, _ := p.Get("serial").Text()
				p = p.For(serial)
				life, there := byPart[serial]
				if fitted, _ := p.Get("bearing").Fitted(); !fitted || !there {
					continue
				}
				life = life.For(serial)
				on, _ := life.Get("fitted").Yes()
				if is, known := life.Get("no_go_part").Yes(); on && (is || !known) == noGo {
					r := rate(ev.For(serial), p.Get("bearing"), life, units)
					r.Position = serial
					out = append(out, r)
				}
			}
			if len(out) == 0 {
				return sdk.One(sdk.Result{Outcome: sdk.NotApplicable, Message: "no bearing of this kind is on the car"})
			}
			return out, nil
		},
	}
}

// rate judges one bearing by one log.
func rate(ev *sdk.Evidence, b, life sdk.Node, units map[string]string) sdk.Result {
	rolls, ok := b.Get("rolls").Text()
	rating := b.Get("rating").Number()
	if !ok || !rating.Known {
		return ev.NoData()
	}
	exponent := trade.BallBearing
	if rolls == "rollers" {
		exponent = trade.RollerBearing
	}
	load, what := force(ev, b.Get("load"), units)
	if what == "" {
		var turns signal
		turns, what = rotation(ev, b.Get("turns"), units)
		if what == "" {
			s := spectrumOf(load, turns)
			return s.judge(ev, b, life, rating.Low, exponent)
		}
	}
	return sdk.CannotTell(what)
}

// signal is a channel times a factor.
type signal struct {
	channel *sdk.Channel
	times   float64
	radius  float64 // of a wheel; 0 for none
}

func (s signal) at(t float64) float64 { return math.Abs(s.channel.At(t)) * s.times }

// force is the load in N, or why there is none.
func force(ev *sdk.Evidence, n sdk.Node, units map[string]string) (s signal, why string) {
	name, ok := n.Get("channel").Text()
	if !ok {
		return s, "the channel of its load is not known"
	}
	s.times = 1
	area, hasArea := optional(n.Get("area"))
	arm, hasArm := optional(n.Get("arm"))
	switch kind := kinds[units[name]]; {
	case kind == "force" && !hasArea && !hasArm:
	case kind == "pressure" && hasArea && !hasArm:
		s.times = area
	case kind == "torque" && hasArm && !hasArea && arm > 0:
		s.times = 1 / arm
	default:
		return s, fmt.Sprintf("%s is in %s: a load is a force, a pressure with an area or a torque with an arm", name, units[name])
	}
	if s.channel = ev.Channel(name); s.channel == nil {
		return s, name + " is not in the log"
	}
	return s, ""
}

// rotation is how fast the bearing turns in rad/s, or why nobody knows.
func rotation(ev *sdk.Evidence, n sdk.Node, units map[string]string) (s signal, why string) {
	name, ok := n.Get("channel").Text()
	if !ok {
		return s, "the channel of its turning is not known"
	}
	s.times = 1
	if ratio, has := optional(n.Get("ratio")); has {
		s.times = ratio
	}
	radius, has := optional(n.Get("radius"))
	switch kind := kinds[units[name]]; {
	case kind == "rotation" && !has:
	case kind == "speed" && has && radius > 0:
		s.radius = radius
		s.times /= radius
	default:
		return s, fmt.Sprintf("%s is in %s: turning is a rotation, or a speed with a radius", name, units[name])
	}
	if s.channel = ev.Channel(name); s.channel == nil {
		return s, name + " is not in the log"
	}
	return s, ""
}

// optional is a number that need not be there; one that is unknown is NaN.
func optional(n sdk.Node) (value float64, has bool) {
	if fitted, known := n.Fitted(); known && !fitted {
		return 0, false
	}
	v := n.Number()
	if !v.Known {
		return math.NaN(), true
	}
	return v.Mid(), true
}

// kinds are what channels of a unit measure; all arrive in SI.
var kinds = map[string]string{
	"N": "force", "kN": "force", "lbf": "force",
	"Pa": "pressure", "hPa": "pressure", "kPa": "pressure", "MPa": "pressure", "mbar": "pressure", "bar": "pressure", "psi": "pressure",
	"N·m": "torque", "Nm": "torque",
	"rpm": "rotation", "rad/s": "rotation",
	"m/s": "speed", "km/h": "speed", "mph": "speed",
}

// spectrum is what a bearing went through in a log.
type spectrum struct {
	loads, turns []float64 // N, revolutions turned under each
	seconds      float64   // in which it turned
	metres       float64   // rolled; NaN where it is on no wheel
}

// spectrumOf takes the loads and turns at the samples of the faster channel.
func spectrumOf(load, turns signal) (s spectrum) {
	clock := turns.channel
	if load.channel.Period > 0 && load.channel.Period < clock.Period {
		clock = load.channel
	}
	for i, t := range clock.Times {
		lasts := clock.Hold
		if i+1 < len(clock.Times) {
			lasts = math.Min(lasts, clock.Times[i+1]-t)
		} else if clock.Period > 0 {
			lasts = clock.Period
		}
		f, w := load.at(t), turns.at(t)
		if math.IsNaN(f) || math.IsNaN(w) || w == 0 { // what was not seen is a gap, and said
			continue
		}
		s.loads = append(s.loads, f)
		s.turns = append(s.turns, w*lasts/(2*math.Pi))
		s.seconds += lasts
	}
	s.metres = math.NaN()
	if turns.radius > 0 {
		s.metres = s.revolutions() * 2 * math.Pi / turns.times // a turn of the wheel rolls its circumference
	}
	return s
}

func (s *spectrum) revolutions() (sum float64) {
	for _, n := range s.turns {
		sum += n
	}
	return sum
}

// amount is how much of a meter in a unit the log has, in that unit; NaN where it has no such.
func (s *spectrum) amount(unit string) float64 {
	switch unit {
	case "1":
		return s.revolutions()
	case "s":
		return s.seconds
	case "min":
		return s.seconds / 60
	case "h":
		return s.seconds / 3600
	case "m":
		return s.metres
	case "km":
		return s.metres / 1000
	}
	return math.NaN()
}

// judge holds what the part has used and the plan will use, turned under this spectrum, against
// the rating life.
func (s *spectrum) judge(ev *sdk.Evidence, b, life sdk.Node, rating, exponent float64) sdk.Result {
	if len(s.loads) == 0 {
		return sdk.CannotTell("it did not turn in this log")
	}
	greatest := 0.0
	for _, f := range s.loads {
		greatest = math.Max(greatest, f)
	}
	if greatest > rating/2 {
		return sdk.CannotTell(fmt.Sprintf("loads up to %.0f N are over half its rating, where the rating life does not hold; ask its maker", greatest))
	}
	meter, ok := b.Get("meter").Text()
	if !ok {
		return ev.NoData()
	}
	used, planned, unit, ok := counted(meter, life)
	if !ok {
		return sdk.CannotTell("what it has used of " + meter + ", or what is planned, is not known: write it under at_register, and the plan")
	}
	amount := s.amount(unit)
	if !(amount > 0) {
		return sdk.CannotTell("its meter is in " + unit + ": count hours, turns, or metres where the radius is given")
	}
	equal := trade.EquivalentLoad(s.loads, s.turns, exponent)
	perUnit := 0.0 // share of the rating life in one of the meter
	if equal > 0 {
		perUnit = s.revolutions() / trade.BearingLife(rating, equal, exponent) / amount
	}
	r := sdk.Judge(sdk.Between((used.Low+planned.Low)*perUnit, (used.High+planned.High)*perUnit), ev.Ceiling("l10_fail", sdk.Fail), ev.Ceiling("l10_warn", sdk.Warn))
	rate := s.revolutions() / s.seconds // 1/s
	r.Message = join(r.Message, fmt.Sprintf("as in this run: %.0f N at %.0f rpm", equal, 60*rate))
	if equal > 0 {
		r.Message += fmt.Sprintf(", rating life %.0f h", trade.BearingTime(rating, equal, exponent, 2*math.Pi*rate)/3600)
	}
	return r
}

// counted is what a part has used of the meter that its bearing goes by.
func counted(meter string, life sdk.Node) (used, planned sdk.Value, unit string, ok bool) {
	meters, _ := life.Get("meters").Each()
	for _, m := range meters {
		if name, _ := m.Get("meter").Text(); name == meter {
			used, planned = m.Get("used").Number(), m.Get("planned").Number()
			unit, ok = m.Get("unit").Text()
			return used, planned, unit, ok && bounded(used) && bounded(planned)
		}
	}
	return used, planned, "", false
}
