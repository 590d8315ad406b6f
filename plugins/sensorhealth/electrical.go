package sensorhealth

import (
	"fmt"
	"strings"

	"github.com/paintmark/paintmark/internal/trade"
	"github.com/paintmark/paintmark/plugins/sdk"
)

// judgeOf tells what a sample of an electrical signal says, by the kind of sensor and the unit it is logged in; nil for a
// channel that is logged as what it measures.
func judgeOf(sensor, unit string) func(v float64) trade.Signal {
	switch {
	case unit == "V" && strings.Contains(sensor, "ratiometric 5 V"):
		return func(v float64) trade.Signal { return trade.Ratiometric(v / 5) }
	case unit == "mA" && strings.Contains(sensor, "4-20 mA"):
		return func(v float64) trade.Signal { return trade.CurrentLoop(v * 1000) } // channels are in A
	case unit == "count" && strings.Contains(sensor, "J1939"):
		bytes := 1
		for n, word := range map[int]string{2: "2 bytes", 4: "4 bytes"} {
			if strings.Contains(sensor, word) {
				bytes = n
			}
		}
		return func(v float64) trade.Signal { return trade.J1939(v, bytes) }
	}
	return nil
}

// signalWords say what is wrong with a signal.
var signalWords = map[trade.Signal]string{
	trade.SignalFault: "reports a fault", trade.SignalNotThere: "reports that it is not available", trade.SignalUnassigned: "sends a code that is no value",
}

var electrical = &sdk.Check{
	ID: "sensorhealth.electrical", Item: "Signal at an electrical fault, longest", System: "electrical", Unit: "s", Health: true,
	Moments: []sdk.Moment{sdk.Run},
	Needs: sdk.Needs{
		Documents: []string{"channels"}, AllChannels: true,
		Limits: []sdk.Limit{{Name: "fault_time", Value: 0.05, Unit: "s", Tighten: "down", Source: practice}},
	},
	Do:     "Supply, earth, plug and wire of this sensor; then the sensor.",
	Source: sdk.Source{Kind: "practice", Text: "NAMUR NE 43; SAE J1939-71, from memory; 4 and 96 % of the supply for ratiometric sensors"}, Accept: two,
	Run: perChannel(func(c declared) bool { return c.signal() != nil }, func(ev *sdk.Evidence, c declared) (sdk.Result, bool) {
		return c.electrical(ev, c.signal()), true
	}),
}

// signal judges a sensor's signal, nil where it is not what is logged.
func (c declared) signal() func(float64) trade.Signal {
	if !c.Get("sensor").Known() {
		return nil
	}
	sensor, _ := c.Get("sensor").Text()
	unit, _ := c.Get("unit").Text()
	return judgeOf(sensor, unit)
}

// electrical finds the spans in which a signal says that it is none, and calls them dead.
func (c declared) electrical(ev *sdk.Evidence, state func(float64) trade.Signal) sdk.Result {
	longest, at, worst := 0.0, 0.0, trade.SignalValid
	var dead []sdk.Span
	for i := 0; i < len(c.here.Values); i++ {
		s := state(c.here.Values[i])
		if s == trade.SignalValid || s == trade.SignalOutside || !finite(c.here.Values[i]) {
			continue
		}
		from := c.here.Times[i]
		for i+1 < len(c.here.Values) && state(c.here.Values[i+1]) == s {
			i++
		}
		span := sdk.Span{Channel: c.name, From: from, To: c.here.Times[i] + c.here.Period, Why: signalWords[s]}
		dead = append(dead, span)
		if span.To-span.From > longest {
			longest, at, worst = span.To-span.From, span.From, s
		}
	}
	r := sdk.Judge(sdk.Exactly(longest), ev.Ceiling("fault_time", sdk.Fail))
	r.Dead = dead
	if worst != trade.SignalValid {
		r.At, r.Message = &sdk.At{Time: at, Within: c.here.Period}, fmt.Sprintf("it %s", signalWords[worst])
	}
	return r
}
