package readiness

import (
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/runlog"
)

// Noise that is put on a channel which says of itself nothing that it reads within is found against the baseline, and
// told as what was put on: variances add up.
func TestNoiseRiseIsFound(t *testing.T) {
	if testing.Short() {
		t.Skip("looks as others do, at another log")
	}
	s := openLogged(t, tern3, 57)
	channels := logChannels(s.car.folder)
	for _, channel := range []string{"oil_pressure", "lat_g"} {
		ch := &channels[slices.IndexFunc(channels, func(c runlog.Channel) bool { return c.Name == channel })]
		if ch.Within > 0 {
			t.Fatalf("%s reads within %g: that alone would find it", channel, ch.Within)
		}
		written := s.car.document("baseline").Get("noise." + channel).Text
		number, _, _ := strings.Cut(written, " ")
		base, err := strconv.ParseFloat(number, 64)
		if err != nil {
			t.Fatalf("%s: %q", channel, written)
		}
		for added, want := range map[float64]check.Outcome{0: check.Pass, 1.4: check.Pass, 3: check.Warn, 6: check.Fail} {
			src := rand.New(rand.NewPCG(7, uint64(added)))
			raw := s.spoil(ch, spoiling{do: func(c *runlog.Column, _, _ float64) {
				c.Values = slices.Clone(c.Values)
				for i := range c.Values {
					c.Values[i] = math.Round(100*(c.Values[i]+added*base*src.NormFloat64())) / 100
				}
			}})
			times := math.Hypot(1, added)
			found := 0
			for _, it := range s.look(t, raw).Items {
				if called(it) != "sensorhealth.noise-rise "+channel {
					continue
				}
				found++
				if it.Outcome != want || it.Measured == nil || math.Abs(it.Measured.Value/times-1) > 0.08 {
					t.Errorf("%s with %g times its noise put on: %s, %+v; want %s, %.2f times", channel, added, it.Outcome, it.Measured, want, times)
				}
			}
			if found != 1 {
				t.Errorf("%s: %d items", channel, found)
			}
		}
	}
}

// A second throttle sensor that reads 3 % more than on the run of the baseline, all the run long, does not go apart in
// it: against the baseline it is found, by as much as was put on, of the first one's travel.
func TestPairShiftIsFound(t *testing.T) {
	if testing.Short() {
		t.Skip("looks as others do, at another log")
	}
	s := openLogged(t, tern3, 57)
	channels := logChannels(s.car.folder)
	ch := &channels[slices.IndexFunc(channels, func(c runlog.Channel) bool { return c.Name == "throttle_b" })]
	for added, want := range map[float64]check.Outcome{0: check.Pass, 3: check.Warn} {
		raw := s.spoil(ch, spoiling{do: func(c *runlog.Column, _, _ float64) {
			c.Values = slices.Clone(c.Values)
			for i := range c.Values {
				c.Values[i] = math.Min(100, c.Values[i]+added)
			}
		}})
		items := map[string]check.Item{}
		for _, it := range s.look(t, raw).Items {
			items[called(it)] = it
		}
		it := items["sensorhealth.pair-shift throttle_b"]
		if it.Outcome != want || it.Measured == nil || math.Abs(it.Measured.Value-added) > 0.2 {
			t.Errorf("%g %% more: %s, %+v; want %s", added, it.Outcome, it.Measured, want)
		}
		if within := items["sensorhealth.pair-drift throttle_b and throttle"]; within.Outcome != check.Pass {
			t.Errorf("%g %% more all along goes apart within the run: %s", added, within.Message)
		}
	}
}
