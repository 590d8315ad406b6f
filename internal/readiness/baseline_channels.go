package readiness

import (
	"math"
	"slices"

	"github.com/paintmark/paintmark/internal/kernel"
	"github.com/paintmark/paintmark/internal/pack"
	"github.com/paintmark/paintmark/internal/trade"
	"github.com/paintmark/paintmark/internal/units"
)

// ofChannels are the noise of every channel that can have any, and how far each reads above its pair, in the unit it is logged in.
func (c *Car) ofChannels() (out []BaselineValue) {
	var log *kernel.Log
	if i := slices.IndexFunc(c.evidence.Logs, func(l pack.Log) bool { return l.Kind == "run" }); i >= 0 && c.logs[i] != nil {
		log = c.logs[i].data
	}
	take := func(key, unit string, of func(col func(name string) *kernel.Column) float64, channels ...string) {
		v := BaselineValue{Key: key}
		defer func() { out = append(out, v) }()
		if log == nil {
			v.Why = noRunLog
			return
		}
		for _, name := range channels {
			if log.Columns[name] == nil {
				v.Why = name + " is not in the log"
				return
			}
		}
		x := of(func(name string) *kernel.Column { return log.Columns[name] })
		if math.IsNaN(x) {
			v.Why = "too little was seen in a row"
		} else if unit == "1" {
			v.Text = short(x)
		} else if u, err := units.Lookup(unit); err == nil { // channels.yaml was read with it
			v.Text = short(u.AsDifference().Of(x)) + " " + unit
		}
	}
	for _, ch := range c.folder.Channels {
		if !ch.YesNo && !ch.Count {
			take("noise."+ch.Name, ch.Unit, func(col func(string) *kernel.Column) float64 {
				sigma, _ := trade.Noise(seen(col(ch.Name)))
				return sigma
			}, ch.Name)
		}
	}
	for _, ch := range c.folder.Channels {
		if ch.Pair != "" && !ch.YesNo && !ch.Count {
			take("apart."+ch.Name, ch.Unit, func(col func(string) *kernel.Column) float64 { return above(log, col(ch.Name), col(ch.Pair)) }, ch.Name, ch.Pair)
		}
	}
	return out
}

// seen are the values of a channel in SI, NaN where they were taken away.
func seen(col *kernel.Column) []float64 {
	if col.Bad == nil {
		return col.SI()
	}
	out := slices.Clone(col.SI())
	for i := range out {
		if col.Bad[i/64]&(1<<(i%64)) != 0 {
			out[i] = math.NaN()
		}
	}
	return out
}

// above is by how much one channel reads above another, the median of when both were seen; NaN where they hardly were.
func above(log *kernel.Log, one, other *kernel.Column) float64 {
	const few = 300
	at := func(c *kernel.Column, k int) float64 {
		if c.Rows != nil {
			k = int(c.Rows[k])
		}
		return log.Time(k)
	}
	values, others := seen(one), seen(other)
	var off []float64
	next := 0
	for k, v := range values {
		t := at(one, k)
		for next < len(others) && at(other, next) <= t {
			next++
		}
		if next > 0 && t < at(other, next-1)+other.Hold && !math.IsNaN(v-others[next-1]) {
			off = append(off, v-others[next-1])
		}
	}
	if len(off) < few {
		return math.NaN()
	}
	return trade.Median(off)
}
