package sdk_test

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/paintmark/paintmark/plugins/sdk"
	"github.com/paintmark/paintmark/plugins/sdk/sdktest"
)

var practice = sdk.Source{Kind: "practice"}

// spread compares the greatest and least of a channel, and the sheet's mass.
func spread() *sdk.Check {
	return &sdk.Check{
		ID: "yard.spread", Item: "Spread of oil pressure", System: "engine", Moments: []sdk.Moment{sdk.Run},
		Unit: "bar", Do: "Look at the pump.", Source: practice,
		Needs: sdk.Needs{
			Documents: []string{"car.engine"},
			Channels:  []sdk.ChannelNeed{{Name: "oil_pressure", Quantity: "pressure", Reads: "gauge"}},
			Limits:    []sdk.Limit{{Name: "spread_max", Value: 3, Unit: "bar", Tighten: "down", Source: practice}},
		},
		Run: func(_ context.Context, ev *sdk.Evidence) ([]sdk.Result, error) {
			low, high := math.Inf(1), math.Inf(-1)
			for _, x := range ev.Channel("oil_pressure").Values {
				if !math.IsNaN(x) {
					low, high = min(low, x), max(high, x)
				}
			}
			ev.Number("car.engine.idle")
			return []sdk.Result{sdk.Judge(sdk.Exactly(high-low), ev.Ceiling("spread_max", sdk.Fail))}, nil
		},
	}
}

func TestInspect(t *testing.T) {
	car := map[string]string{"car": `{"engine": {"idle": 90}}`}
	log := func(values ...float64) *sdk.Log {
		return sdktest.Log(1, sdktest.Channel("oil_pressure", 10, values...))
	}
	for _, c := range []struct {
		name  string
		given sdktest.Evidence
		want  sdk.Outcome
		says  string
	}{
		{"inside", sdktest.Evidence{Documents: car, Log: log(2e5, 4e5)}, sdk.Pass, ""},
		{"on the limit", sdktest.Evidence{Documents: car, Log: log(1e5, 4e5)}, sdk.Pass, ""},
		{"outside", sdktest.Evidence{Documents: car, Log: log(0.5e5, 4e5)}, sdk.Fail, ""},
		{"the team's own limit", sdktest.Evidence{Documents: car, Log: log(2e5, 4e5), Limits: map[string]float64{"spread_max": 1e5}}, sdk.Fail, ""},
		{"no log", sdktest.Evidence{Documents: car}, sdk.NoData, "no log at hand; take the run in"},
		{"no channel", sdktest.Evidence{Documents: car, Log: sdktest.Log(1)}, sdk.NoData, "oil_pressure not known"},
		{"a hole in the channel", sdktest.Evidence{Documents: car, Log: log(2e5, math.NaN(), 4e5)}, sdk.NoData, "oil_pressure unseen in places"},
		{"a hole does not excuse a fail", sdktest.Evidence{Documents: car, Log: log(0, math.NaN(), 4e5)}, sdk.Fail, ""},
		{"a document value that is null", sdktest.Evidence{Documents: map[string]string{"car": `{"engine": {"idle": null}}`}, Log: log(2e5, 4e5)}, sdk.NoData, "car.engine.idle not known"},
		{"a document that is not there", sdktest.Evidence{Log: log(2e5, 4e5)}, sdk.NoData, "car.engine.idle not known"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if c.given.Limits == nil {
				c.given.Limits = map[string]float64{"spread_max": 3e5}
			}
			r := sdktest.One(t, spread(), c.given)
			if r.Outcome != c.want || r.Message != c.says {
				t.Errorf("%s %q, want %s %q", r.Outcome, r.Message, c.want, c.says)
			}
		})
	}
}

// TestDespite: a pass with something missing has to be said.
func TestDespite(t *testing.T) {
	c := spread()
	run := c.Run
	c.Run = func(ctx context.Context, ev *sdk.Evidence) ([]sdk.Result, error) {
		results, err := run(ctx, ev)
		results[0].Despite = []string{"oil_pressure", "car.engine"}
		return results, err
	}
	r := sdktest.One(t, c, sdktest.Evidence{Log: sdktest.Log(1, sdktest.Channel("oil_pressure", 10, 2e5, math.NaN(), 4e5)), Limits: map[string]float64{"spread_max": 3e5}})
	if r.Outcome != sdk.Pass || len(r.Unseen) != 1 {
		t.Errorf("%+v, want a pass with the unseen span", r)
	}
}

// TestPositions: what one position misses does not hurt another, what all share does.
func TestPositions(t *testing.T) {
	c := spread()
	c.Unit, c.Needs = "mm", sdk.Needs{Documents: []string{"measured"}}
	shared := false
	c.Run = func(_ context.Context, ev *sdk.Evidence) ([]sdk.Result, error) {
		if shared {
			ev.Number("measured.jig")
		}
		var out []sdk.Result
		for _, at := range []string{"FL", "FR"} {
			ev.For(at).Number("measured.pad[" + at + "]")
			out = append(out, sdk.Result{Position: at, Outcome: sdk.Pass, Message: "thick"})
		}
		return out, nil
	}
	given := sdktest.Evidence{Documents: map[string]string{"measured": `{"pad": {"FL": 0.012}}`}}
	got := outcomes(sdktest.Run(t, c, given))
	if want := "FL pass, FR no data"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
	shared = true
	if got, want := outcomes(sdktest.Run(t, c, given)), "FL no data, FR no data"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
}

func outcomes(results []sdk.Result) string {
	var out []string
	for _, r := range results {
		out = append(out, r.Position+" "+string(r.Outcome))
	}
	return strings.Join(out, ", ")
}

func TestFaultsOfAuthors(t *testing.T) {
	log := sdktest.Log(1, sdktest.Channel("oil_pressure", 10, 1, 2))
	one := func(r sdk.Result) func(context.Context, *sdk.Evidence) ([]sdk.Result, error) {
		return func(context.Context, *sdk.Evidence) ([]sdk.Result, error) { return []sdk.Result{r}, nil }
	}
	for _, c := range []struct {
		says string
		run  func(context.Context, *sdk.Evidence) ([]sdk.Result, error)
	}{
		{"panicked: no oil at sdk_test.go:", func(context.Context, *sdk.Evidence) ([]sdk.Result, error) { panic("no oil") }},
		{"cannot count", func(context.Context, *sdk.Evidence) ([]sdk.Result, error) { return nil, errors.New("cannot count") }},
		{"gave no result", func(context.Context, *sdk.Evidence) ([]sdk.Result, error) { return nil, nil }},
		{`asks for the channel "rpm", which it did not declare`, func(_ context.Context, ev *sdk.Evidence) ([]sdk.Result, error) {
			ev.Channel("rpm")
			return one(sdk.Result{Outcome: sdk.Pass, Message: "fine"})(nil, nil)
		}},
		{`asks for the limit "most", which it did not declare`, func(_ context.Context, ev *sdk.Evidence) ([]sdk.Result, error) {
			return []sdk.Result{sdk.Judge(sdk.Exactly(1), ev.Ceiling("most", sdk.Fail))}, nil
		}},
		{"reads car.wing, which is none of the documents it declared", func(_ context.Context, ev *sdk.Evidence) ([]sdk.Result, error) {
			ev.For("FL").Text("car.wing")
			return one(sdk.Result{Outcome: sdk.Pass, Message: "fine"})(nil, nil)
		}},
		{`gave the outcome "ok", which is none`, one(sdk.Result{Outcome: "ok", Message: "fine"})},
		{"measured no number at FL", one(sdk.Result{Position: "FL", Outcome: sdk.Fail, Measured: &sdk.Value{Low: math.NaN(), High: 1, Known: true}})},
		{"passes what is not inside its limit", one(sdk.Result{Outcome: sdk.Pass, Measured: &sdk.Value{Low: 1, High: 3, Known: true}, Limit: &sdk.Bound{Low: 2, High: math.Inf(1), Means: sdk.Fail}})},
		{"gives fail to what is not outside its limit", one(sdk.Result{Outcome: sdk.Fail, Measured: &sdk.Value{Low: 2, High: 3, Known: true}, Limit: &sdk.Bound{Low: 2, High: math.Inf(1), Means: sdk.Fail}})},
		{"calls spans dead and is no check of health", one(sdk.Result{Outcome: sdk.Fail, Message: "stuck", Dead: []sdk.Span{{Channel: "oil_pressure", To: 1}}})},
		{"says nothing: neither a message nor a measured value", one(sdk.Result{Outcome: sdk.Pass})},
	} {
		t.Run(c.says, func(t *testing.T) {
			check := spread()
			check.Run = c.run
			results, err := sdktest.Try(check, sdktest.Evidence{Log: log, Limits: map[string]float64{"spread_max": 3e5}})
			if err == nil || !strings.HasPrefix(err.Error(), c.says) {
				t.Errorf("%v, %v; want the fault %q", results, err, c.says)
			}
		})
	}
}

func TestJudge(t *testing.T) {
	warn, fail := sdk.Ceiling(2, sdk.Warn), sdk.Ceiling(3, sdk.Fail)
	for _, c := range []struct {
		v    sdk.Value
		want sdk.Outcome
	}{
		{sdk.Exactly(1), sdk.Pass},
		{sdk.Exactly(2), sdk.Pass},
		{sdk.Exactly(2 + 1e-10), sdk.Pass},
		{sdk.Exactly(2.1), sdk.Warn},
		{sdk.Exactly(3.1), sdk.Fail},
		{sdk.Between(1, 2.5), sdk.NoData},
		{sdk.Between(2.1, 3), sdk.Warn},
		{sdk.Between(2.5, 3.5), sdk.NoData},
		{sdk.Between(3.5, math.Inf(1)), sdk.Fail},
		{sdk.Between(math.Inf(-1), 1), sdk.Pass},
		{sdk.Between(math.Inf(-1), math.Inf(1)), sdk.NoData},
		{sdk.Exactly(math.NaN()), sdk.NoData},
		{sdk.Value{}, sdk.NoData},
	} {
		for _, bounds := range [][]sdk.Bound{{warn, fail}, {fail, warn}} {
			if r := sdk.Judge(c.v, bounds...); r.Outcome != c.want {
				t.Errorf("%+v: %s, want %s", c.v, r.Outcome, c.want)
			}
		}
	}
	if r := sdk.Judge(sdk.Exactly(1)); r.Outcome != sdk.NoData {
		t.Errorf("with no bound: %s, want no data", r.Outcome)
	}
	band := sdk.Band(1, 2, sdk.Fail)
	for v, want := range map[float64]sdk.Outcome{0.9: sdk.Fail, 1: sdk.Pass, 2: sdk.Pass, 2.1: sdk.Fail} {
		if r := sdk.Judge(sdk.Exactly(v), band); r.Outcome != want {
			t.Errorf("%v in a band: %s, want %s", v, r.Outcome, want)
		}
	}
}

func TestDocuments(t *testing.T) {
	c := spread()
	c.Needs = sdk.Needs{Documents: []string{"car", "measured.pad"}}
	given := sdktest.Evidence{
		Documents: map[string]string{
			"car":      `{"wing": {"lock": null, "from": "2026-05-16", "curve": [[1, 2], [3, 4]], "mass": {"low": 1, "high": null}}, "corners": [{"axle": "front"}, {"axle": "rear"}]}`,
			"measured": `{"pad": {"FR": 0.011, "FL": 0.012}}`,
		},
		NotFitted: []string{"car.bottle"},
	}
	c.Run = func(_ context.Context, ev *sdk.Evidence) ([]sdk.Result, error) {
		if v := ev.Number("car.wing.mass"); v.Low != 1 || !math.IsInf(v.High, 1) {
			t.Errorf("mass %+v", v)
		}
		if v := ev.Number("measured.pad[FL]"); v != sdk.Exactly(0.012) {
			t.Errorf("pad %+v", v)
		}
		if day, known := ev.Time("car.wing.from"); !known || day.Day() != 16 {
			t.Errorf("day %v %v", day, known)
		}
		if points, known := ev.Get("car.wing.curve").Points(); !known || !slices.Equal(points, [][2]float64{{1, 2}, {3, 4}}) {
			t.Errorf("points %v %v", points, known)
		}
		var axles, pads []string
		corners, _ := ev.Each("car.corners")
		for _, n := range corners {
			axle, _ := n.Get("axle").Text()
			axles = append(axles, n.Path()+" "+axle)
		}
		each, _ := ev.Each("measured.pad")
		for _, n := range each {
			pads = append(pads, n.Key())
		}
		if got := strings.Join(append(axles, pads...), ", "); got != "car.corners[0] front, car.corners[1] rear, FL, FR" {
			t.Error(got)
		}
		if fitted, known := ev.Get("car.bottle.volume").Fitted(); fitted || !known {
			t.Errorf("bottle fitted %v known %v", fitted, known)
		}
		if armed, known := ev.Yes("car.bottle.armed"); armed || !known {
			t.Errorf("bottle armed %v known %v", armed, known)
		}
		if r := ev.NoData(); r.Message != "not known" {
			t.Errorf("before anything is missing: %q", r.Message)
		}
		ev.Yes("car.wing.lock")
		ev.Number("car.bottle.volume")
		return []sdk.Result{ev.NoData()}, nil
	}
	r := sdktest.One(t, c, given)
	if want := "car.bottle.volume, car.wing.lock not known"; r.Message != want {
		t.Errorf("%q, want %q", r.Message, want)
	}
	if want := []string{"car.bottle.armed", "car.corners", "car.corners[0].axle", "car.corners[1].axle", "car.wing.curve", "car.wing.from", "car.wing.mass", "measured.pad", "measured.pad.FL"}; !slices.Equal(r.Inputs, want) {
		t.Errorf("inputs %q", r.Inputs)
	}
}

func TestChannelAt(t *testing.T) {
	c := sdktest.Channel("speed", 10, 1, 2)
	for at, want := range map[float64]float64{-0.1: math.NaN(), 0: 1, 0.09: 1, 0.1: 2, 0.39: 2, 0.41: math.NaN()} {
		if got := c.At(at); got != want && !(math.IsNaN(got) && math.IsNaN(want)) {
			t.Errorf("at %v: %v, want %v", at, got, want)
		}
	}
}

// Along is At at each of many times, with samples that did not come among them.
func TestChannelAlong(t *testing.T) {
	src := rand.New(rand.NewPCG(6, 6))
	c := &sdk.Channel{Hold: 0.3}
	for i := range 200 {
		if src.IntN(4) > 0 {
			c.Times, c.Values = append(c.Times, float64(i)/10), append(c.Values, src.Float64())
		}
	}
	times := append(slices.Clone(c.Times), -1, 30)
	for range 500 {
		times = append(times, 22*src.Float64()-1)
	}
	slices.Sort(times)
	for i, got := range c.Along(times) {
		if want := c.At(times[i]); got != want && !(math.IsNaN(got) && math.IsNaN(want)) {
			t.Errorf("at %v: %v, want %v", times[i], got, want)
		}
	}
}

// What checks work out of a channel is worked out once for each key, whoever asks first.
func TestOnce(t *testing.T) {
	type mean struct{}
	c := sdktest.Channel("speed", 10, 1, 2)
	worked := 0
	for range 3 {
		if got := sdk.Once(c, mean{}, func() int { worked++; return 40 + worked }); got != 41 {
			t.Errorf("%d, want what was worked out first", got)
		}
	}
	if got := sdk.Once(c, "other", func() string { return "apart" }); got != "apart" || worked != 1 {
		t.Errorf("%q under another key, worked out %d times", got, worked)
	}
}

// What cannot be told says which channel was not seen throughout, unless its author did.
func TestCannotTellSaysWhatWasUnseen(t *testing.T) {
	for said, want := range map[string]string{"not exercised": "not exercised; speed unseen in places", "speed was lost": "speed was lost"} {
		c := &sdk.Check{
			ID: "yard.still", Item: "Stood still", System: "chassis", Moments: []sdk.Moment{sdk.Run}, Do: "Look.", Source: sdk.Source{Kind: "practice"},
			Needs: sdk.Needs{Channels: []sdk.ChannelNeed{{Name: "speed", Quantity: "speed"}}},
			Run: func(_ context.Context, ev *sdk.Evidence) ([]sdk.Result, error) {
				ev.Channel("speed")
				return sdk.One(sdk.CannotTell(said))
			},
		}
		if r := sdktest.One(t, c, sdktest.Evidence{Log: sdktest.Log(1, sdktest.Channel("speed", 10, 1, math.NaN(), 2))}); r.Message != want || r.Outcome != sdk.NoData {
			t.Errorf("%s: %q, want %q", r.Outcome, r.Message, want)
		}
	}
}

func TestValidate(t *testing.T) {
	for _, c := range []struct {
		says string
		make func(*sdk.Plugin)
	}{
		{"", func(*sdk.Plugin) {}},
		{`plugin "Yard": the name`, func(p *sdk.Plugin) { p.Name = "Yard" }},
		{`plugin yard: the version "1" is not`, func(p *sdk.Plugin) { p.Version = "1" }},
		{"plugin yard has no checks", func(p *sdk.Plugin) { p.Checks = nil }},
		{"plugin yard: two checks are called yard.spread", func(p *sdk.Plugin) { p.Checks = append(p.Checks, spread()) }},
		{`plugin yard: the id "oil.spread" does not begin with "yard."`, func(p *sdk.Plugin) { p.Checks[0].ID = "oil.spread" }},
		{`plugin yard: check "yard.": the id`, func(p *sdk.Plugin) { p.Checks[0].ID = "yard." }},
		{"plugin yard: check yard.spread: item", func(p *sdk.Plugin) { p.Checks[0].Do = "" }},
		{"plugin yard: check yard.spread has no moments", func(p *sdk.Plugin) { p.Checks[0].Moments = nil }},
		{"plugin yard: check yard.spread: the source", func(p *sdk.Plugin) { p.Checks[0].Source.Kind = "" }},
		{"plugin yard: check yard.spread: the limit spread_max is no number", func(p *sdk.Plugin) { p.Checks[0].Needs.Limits[0].Value = math.NaN() }},
		{`plugin yard: check yard.spread: the channel "oil_pressure" needs`, func(p *sdk.Plugin) { p.Checks[0].Needs.Channels[0].Quantity = "" }},
		{"plugin yard: check yard.spread: there is no log", func(p *sdk.Plugin) { p.Checks[0].Needs.From = []string{"bench"} }},
	} {
		p := &sdk.Plugin{Name: "yard", Version: "1.0.0", Checks: []*sdk.Check{spread()}}
		c.make(p)
		err := p.Validate()
		if c.says == "" && err != nil || c.says != "" && (err == nil || !strings.HasPrefix(err.Error(), c.says)) {
			t.Errorf("%v, want %q", err, c.says)
		}
	}
}
