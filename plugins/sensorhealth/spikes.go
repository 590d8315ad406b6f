package sensorhealth

import (
	"fmt"
	"math"
	"slices"

	"github.com/paintmark/paintmark/internal/trade"
	"github.com/paintmark/paintmark/plugins/sdk"
)

// Spikes counts single samples that stand apart from both their neighbours, the same way, by more than a share of the
// channel's own spread (1 to 99 %) and eight times its noise, and from the median of three samples to either side by more
// than five scaled MADs (Hampel's identifier). at is the time of the widest. Unseen values are NaN, and so is the
// noise where it is not known: then nothing is told to be a spike.
func Spikes(times, values []float64, tremble, share float64) (count int, at float64) {
	const each, sigmas, noises = 3, 5.0, 8.0
	var stand []int // those that stand apart from both neighbours by more than noise
	floor := noises * tremble
	for i := 1; i+1 < len(values); i++ {
		if up := values[i] - values[i-1]; math.Abs(up) > floor { // which is rare
			if down := values[i] - values[i+1]; math.Abs(down) > floor && (up > 0) == (down > 0) {
				stand = append(stand, i)
			}
		}
	}
	if len(stand) == 0 {
		return 0, 0
	}
	seen := slices.DeleteFunc(slices.Clone(values), func(v float64) bool { return !finite(v) })
	least := share * trade.Between(seen, 0.01, 0.99)
	widest := 0.0
	for _, i := range stand {
		apart, from := math.Min(math.Abs(values[i]-values[i-1]), math.Abs(values[i]-values[i+1])), max(0, i-each)
		if !(apart > least) {
			continue
		}
		if window := values[from:min(len(values), i+each+1)]; trade.Hampel(window, each, sigmas)[i-from] {
			if count++; apart > widest {
				widest, at = apart, times[i]
			}
		}
	}
	return count, at
}

// calm says that Spikes finds none whatever the noise, for a fraction of the work: the sample that stands farthest apart from
// both its neighbours does so by no more than the share of a part of the spread. It may be false where there are none.
func calm(values []float64, share float64) bool {
	least, most, widest, seen := math.Inf(1), math.Inf(-1), 0.0, 0
	before := math.NaN()
	for i, v := range values {
		if v < least {
			least = v
		}
		if v > most {
			most = v
		}
		if v == v { // it is seen
			seen++
		}
		if i+1 < len(values) {
			up, down := v-before, v-values[i+1]
			if up > widest && down > widest || up < -widest && down < -widest {
				widest = math.Min(math.Abs(up), math.Abs(down))
			}
		}
		before = v
	}
	reach := widest / share * (1 + 1e-9) // for rounding
	low := (least+most)/2 - reach/2
	high, below, above := low+reach, 0, 0
	outside := int(0.01*float64(seen)) + 2 // the quantiles lie between this one and the next from either end
	for _, v := range values {
		if widest == 0 || below >= outside && above >= outside {
			return true
		}
		if v <= low {
			below++
		} else if v >= high {
			above++
		}
	}
	return false
}

var spikes = &sdk.Check{
	ID: "sensorhealth.spikes", Item: "Spikes in a thousand samples", System: "electrical",
	Moments: []sdk.Moment{sdk.Run},
	Needs: sdk.Needs{
		Documents: []string{"channels"}, AllChannels: true,
		Limits: []sdk.Limit{
			{Name: "spikes_warn", Value: 0.5, Tighten: "down", Source: practice},
			{Name: "spikes_fail", Value: 5, Tighten: "down", Source: practice},
			{Name: "spike_least", Value: 0.3, Tighten: "down", Source: sdk.Source{Kind: "practice", Text: "share of the channel's own spread"}},
		},
	},
	Do:     "Connector, shield and earth of this sensor; what switches on at that time.",
	Source: sdk.Source{Kind: "practice", Text: "Hampel's identifier, three samples to either side, five sigmas"}, Accept: two,
	Run: perChannel(declared.measures, func(ev *sdk.Evidence, c declared) (sdk.Result, bool) {
		if c.unseen() {
			return sdk.CannotTell("nothing of it was seen"), true
		}
		count, at, share := 0, 0.0, ev.Limit("spike_least")
		if !calm(c.here.Values, share) {
			sigma, _ := c.tremble()
			count, at = Spikes(c.here.Times, c.here.Values, sigma, share)
		}
		r := sdk.Judge(sdk.Exactly(1000*float64(count)/float64(len(c.here.Values))), ev.Ceiling("spikes_fail", sdk.Fail), ev.Ceiling("spikes_warn", sdk.Warn))
		if count > 0 {
			r.At, r.Message = &sdk.At{Time: at, Within: c.here.Period}, fmt.Sprintf("%d in all", count)
		}
		return r, true
	}),
}
