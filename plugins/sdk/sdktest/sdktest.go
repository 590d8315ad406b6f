// Package sdktest tests a check without a process: what it is given, and what must come out.
package sdktest

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"testing"
	"time"

	"github.com/paintmark/paintmark/plugins/sdk"
)

// Evidence is what a test gives to a check. What is left out is not known.
type Evidence struct {
	// Documents are JSON by root, in SI: {"car": `{"wing": {"spring": {"moment": 38}}}`}.
	Documents map[string]string
	NotFitted []string // paths of what the car has none of
	// Limits are in SI, instead of the declared values. One that is declared in bar or the like
	// has to be here: only the host knows units.
	Limits map[string]float64
	Log    *sdk.Log // see Log
	Today  time.Time
	Run    int
}

// Log makes a run log.
func Log(end float64, channels ...*sdk.Channel) *sdk.Log {
	return sdk.NewLog("run", 1, end, channels...)
}

// Channel makes a channel that is sampled evenly from 0 s; NaN is a sample nobody saw, and
// becomes a gap.
func Channel(name string, rate float64, values ...float64) *sdk.Channel {
	c := &sdk.Channel{Name: name, Values: values, Period: 1 / rate, Hold: 3 / rate}
	for i, v := range values {
		t := float64(i) / rate
		c.Times = append(c.Times, t)
		if !math.IsNaN(v) {
			continue
		}
		if n := len(c.Gaps); n > 0 && i > 0 && math.IsNaN(values[i-1]) {
			c.Gaps[n-1].To = t + c.Period
		} else {
			c.Gaps = append(c.Gaps, sdk.Span{Channel: name, From: t, To: t + c.Period, Why: "not seen"})
		}
	}
	return c
}

// Run runs a check as a host does. It fails the test where the check is not valid or breaks.
func Run(t testing.TB, c *sdk.Check, e Evidence) []sdk.Result {
	t.Helper()
	results, err := Try(c, e)
	if err != nil {
		t.Fatalf("%s: %v", c.ID, err)
	}
	return results
}

// Try is Run for a check that is expected to break: its fault is the error.
func Try(c *sdk.Check, e Evidence) ([]sdk.Result, error) {
	if err := c.Validate(); err != nil {
		return nil, err
	}
	given := sdk.Given{Documents: map[string]any{}, NotFitted: e.NotFitted, Log: e.Log, Today: e.Today, Run: e.Run}
	for root, text := range e.Documents {
		var v any
		if err := json.Unmarshal([]byte(text), &v); err != nil {
			return nil, fmt.Errorf("the document %s: %w", root, err)
		}
		given.Documents[root] = v
	}
	for _, l := range c.Needs.Limits {
		value, ok := e.Limits[l.Name]
		if !ok {
			if !slices.Contains([]string{"", "1", "s", "K"}, l.Unit) {
				return nil, fmt.Errorf("give the test the limit %s in SI: the kit does not know what %s is", l.Name, l.Unit)
			}
			value = l.Value
		}
		given.Limits = append(given.Limits, sdk.GivenLimit{Name: l.Name, Value: value})
	}
	return c.Inspect(context.Background(), given)
}

// One runs a check that must give exactly one result.
func One(t testing.TB, c *sdk.Check, e Evidence) sdk.Result {
	t.Helper()
	results := Run(t, c, e)
	if len(results) != 1 {
		t.Fatalf("%s gave %d results, want one: %+v", c.ID, len(results), results)
	}
	return results[0]
}
