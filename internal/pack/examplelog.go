package pack

import (
	"math"
	"strings"

	"github.com/paintmark/paintmark/internal/expr"
	"github.com/paintmark/paintmark/internal/kernel"
	"github.com/paintmark/paintmark/internal/source"
	"github.com/paintmark/paintmark/internal/units"
)

// shape of a channel in an example log, for messages.
const logShape = "write points [[0 s, 180 bar], [30 s, 118 bar]], {lasts: 0.1 s, starts: [1 s, 2 s]}, or {rate: 10 Hz, points: [..]}"

// mostSamples bounds a channel of an example log.
const mostSamples = 100_000

// channelLog is one channel of an example log while it is read.
type channelLog struct {
	name    string
	steps   []kernel.Step
	missing []bool  // per step: nothing is known from here on
	rate    float64 // Hz, 0 where times are exact
}

// shownLog builds the log that an example shows. It ends at the latest time any channel
// states; points step and hold to it.
func (r *Rule) shownLog(f *form, n *source.Node) *kernel.Log {
	if n.Kind != source.Map || len(n.Entries) == 0 {
		f.fault(n.Pos, "the example's log is not a map of channels", "write NAME: and "+strings.TrimPrefix(logShape, "write "))
		return nil
	}
	before := len(f.faults)
	var all []channelLog
	end := 0.0
	for _, e := range n.Entries {
		declared, ok := r.Pack.channels[e.Key.Text]
		if !ok {
			f.fault(e.Key.Pos, quoted(e.Key.Text)+" is not a channel of this pack", nearest(e.Key.Text, r.Pack.channelNames()))
			continue
		}
		c := channelLog{name: e.Key.Text}
		f.channelLog(&c, declared, e.Value)
		if len(c.steps) > 0 {
			all = append(all, c)
			end = math.Max(end, c.steps[len(c.steps)-1].At)
		}
	}
	for _, c := range all {
		if c.rate*end > mostSamples {
			f.fault(n.Pos, "the example's log is too long for the rate of "+quoted(c.name), "show a short spell; some seconds are enough")
		}
	}
	if len(f.faults) > before {
		return nil
	}
	channels := map[string][]kernel.Step{}
	for i := range all {
		all[i].sample(end)
		channels[all[i].name] = all[i].steps
	}
	log, err := kernel.Steps(channels)
	if err != nil {
		f.fault(n.Pos, "the example's log: "+err.Error(), "put each channel's points in order of time")
		return nil
	}
	for _, c := range all {
		c.finish(log, end)
	}
	return log
}

// sample turns the points of a channel with a rate into the samples a logger would take.
func (c *channelLog) sample(end float64) {
	if c.rate == 0 {
		return
	}
	var steps []kernel.Step
	var missing []bool
	at := -1
	for k := 0; float64(k)/c.rate <= end; k++ {
		t := float64(k) / c.rate
		for at+1 < len(c.steps) && c.steps[at+1].At <= t {
			at++
		}
		if at < 0 {
			continue
		}
		steps = append(steps, kernel.Step{At: t, Value: c.steps[at].Value})
		missing = append(missing, c.missing[at])
	}
	c.steps, c.missing = steps, missing
}

// finish marks what is missing and, with a rate, when samples were taken.
func (c *channelLog) finish(log *kernel.Log, end float64) {
	column := log.Columns[c.name]
	if c.rate > 0 {
		column.Period, column.Hold = 1/c.rate, 3/c.rate
	}
	for i, gone := range c.missing {
		if !gone {
			continue
		}
		if column.Bad == nil {
			column.Bad = make([]uint64, (len(c.steps)+63)/64)
		}
		column.Bad[i/64] |= 1 << (i % 64)
		to := end
		if i+1 < len(c.steps) {
			to = c.steps[i+1].At
		}
		column.Gaps = append(column.Gaps, kernel.Gap{From: c.steps[i].At, To: to, Why: "missing"})
	}
}

func (f *form) channelLog(c *channelLog, declared expr.Channel, n *source.Node) {
	what := "channel " + quoted(c.name)
	switch {
	case n.Kind == source.List:
		f.points(c, declared, n)
	case n.Kind == source.Map && n.Get("starts") != nil:
		f.pulses(c, declared, n)
	case n.Kind == source.Map:
		keys := f.fields(n, what, "rate", "points")
		if keys["rate"] == nil || keys["points"] == nil || keys["points"].Kind != source.List {
			f.fault(n.Pos, what+" needs rate and points", logShape)
			return
		}
		q, ok := f.quantity(keys["rate"], "rate")
		if frequency, _ := units.Lookup("Hz"); !ok || q.Type.Dim != frequency.Type.Dim || q.SI <= 0 || q.SI > 1e4 {
			f.fault(keys["rate"].Pos, quoted(keys["rate"].Text)+" is not a rate", "write it in Hz, to 10000 Hz")
			return
		}
		c.rate = q.SI
		f.points(c, declared, keys["points"])
	default:
		f.fault(n.Pos, what+" is not a series", logShape)
	}
}

func (f *form) pulses(c *channelLog, declared expr.Channel, n *source.Node) {
	keys := f.fields(n, "channel "+quoted(c.name), "lasts", "starts")
	if declared.Shape != expr.YesNo {
		f.fault(n.Pos, "channel "+quoted(c.name)+" is not a yes-no channel", "give it points")
		return
	}
	lasts, ok := f.seconds(keys["lasts"], "lasts")
	starts := keys["starts"]
	if !ok || starts.Kind != source.List {
		f.fault(n.Pos, "channel "+quoted(c.name)+" needs lasts and starts", logShape)
		return
	}
	var at []float64
	for _, s := range starts.Items {
		t, ok := f.seconds(s, "starts")
		if !ok {
			return
		}
		at = append(at, t)
	}
	c.steps = kernel.Pulses(0, lasts, at...)
	c.missing = make([]bool, len(c.steps))
}

func (f *form) points(c *channelLog, declared expr.Channel, n *source.Node) {
	for _, item := range n.Items {
		if item.Kind != source.List || len(item.Items) != 2 {
			remedy := item.CommaHint()
			if remedy == "" {
				remedy = logShape
			}
			f.fault(item.Pos, "a point of "+quoted(c.name)+" is not a time and a value", remedy)
			return
		}
		t, ok := f.seconds(item.Items[0], "the time of a point")
		if !ok {
			return
		}
		v, gone, ok := f.sample(c.name, declared, item.Items[1])
		if !ok {
			return
		}
		if len(c.steps) > 0 && t <= c.steps[len(c.steps)-1].At {
			f.fault(item.Pos, "the points of "+quoted(c.name)+" are not in order of time", "put them in order, each time once")
			return
		}
		c.steps = append(c.steps, kernel.Step{At: t, Value: v})
		c.missing = append(c.missing, gone)
	}
}

// sample is one value of a channel, in SI; gone is true for the word missing.
func (f *form) sample(name string, declared expr.Channel, n *source.Node) (v float64, gone, ok bool) {
	if n.Kind == source.Scalar && n.Text == "missing" {
		return 0, true, true
	}
	if declared.Shape == expr.YesNo {
		switch w := f.word(n, "a yes-no channel", []string{"yes", "no", "true", "false"}); w {
		case "yes", "true":
			return 1, false, true
		case "no", "false":
			return 0, false, true
		}
		return 0, false, false
	}
	q, ok := f.quantity(n, "channel "+quoted(name))
	if !ok {
		return 0, false, false
	}
	want := declared.Unit
	if q, err := units.Check(q, want); err == nil {
		return q.SI, false, true
	} else {
		f.unitFault(n.Pos, "channel "+quoted(name)+": ", err)
	}
	return 0, false, false
}

func (f *form) seconds(n *source.Node, what string) (float64, bool) {
	q, ok := f.quantity(n, what)
	if !ok {
		return 0, false
	}
	if second, _ := units.Lookup("s"); q.Type != second.Type || q.SI < 0 {
		f.fault(n.Pos, quoted(n.Text)+" is not a time from the start of the log", "write seconds, such as 31 s")
		return 0, false
	}
	return q.SI, true
}
