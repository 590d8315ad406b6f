package partlife

import (
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"github.com/paintmark/paintmark/plugins/sdk"
	"github.com/paintmark/paintmark/plugins/sdk/sdktest"
)

func TestThePluginIsValid(t *testing.T) {
	p := Plugin()
	if err := p.Validate(); err != nil {
		t.Fatal(err)
	}
}

// lifeSheet is a document `life` with what the car has none of.
func lifeSheet(fitted, limits string, notFitted ...string) sdktest.Evidence {
	return sdktest.Evidence{
		Documents: map[string]string{"life": `{"fitted": [` + fitted + `], "limits": [` + limits + `]}`},
		NotFitted: notFitted,
		Limits:    map[string]float64{"life": 1, "risk_warn": 0.05, "risk_fail": 0.2, "confidence": 0.9, "failures_min": 3},
	}
}

func TestAssembly(t *testing.T) {
	const box = `{"serial": "GB"}, {"serial": "GS", "inside": "GB"}, {"serial": "PIN", "inside": "GS"}, {"serial": "E"}`
	const outer = `{"part": "GB", "meter": "distance", "share_with_plan": 0.4, "runs_left": 90}, {"part": "E", "meter": "hours", "share_with_plan": 3}`
	for _, c := range []struct {
		name, pin string // what the pin, two deep in the box, has used
		outcome   sdk.Outcome
		message   string
	}{
		{"the box itself", `{"part": "PIN", "meter": "shifts", "share_with_plan": 0.2, "runs_left": 400}`, sdk.Pass, "GB by distance, 90 runs left"},
		{"the pin", `{"part": "PIN", "meter": "shifts", "share_with_plan": 0.9, "runs_left": 7}`, sdk.Pass, "PIN by shifts, 7 runs left"},
		{"on the limit", `{"part": "PIN", "meter": "shifts", "share_with_plan": 1, "runs_left": 4}`, sdk.Pass, "PIN by shifts, 4 runs left"},
		{"by the calendar", `{"part": "PIN", "meter": "calendar", "share_with_plan": 0.9, "runs_left": 1e6}`, sdk.Pass, "PIN by calendar"},
		{"the pin falls", `{"part": "PIN", "meter": "shifts", "share_with_plan": 1.01, "falls_in": "T3"}`, sdk.Warn, "PIN by shifts, falls in T3"},
		{"it may fall", `{"part": "PIN", "meter": "shifts", "share_with_plan": {"low": 0.8, "high": 1.2}, "falls_in": "T2"}`, sdk.NoData, "the limit lies between; PIN by shifts, falls in T2"},
		{"nobody knows", `{"part": "PIN", "meter": "shifts"}`, sdk.NoData, "the limit lies between; PIN by shifts"},
	} {
		got := sdktest.Run(t, assembly, lifeSheet(box, outer+","+c.pin, "life.fitted[0].inside", "life.fitted[3].inside"))
		if len(got) != 1 || got[0].Position != "GB" || got[0].Outcome != c.outcome || got[0].Message != c.message && c.outcome != sdk.NoData || !strings.HasPrefix(got[0].Message, c.message) {
			t.Errorf("%s: %+v, want %s, %q for GB alone", c.name, got, c.outcome, c.message)
		}
	}
	alone := sdktest.One(t, assembly, lifeSheet(`{"serial": "E"}`, `{"part": "E", "meter": "hours", "share_with_plan": 3}`, "life.fitted[0].inside"))
	if alone.Outcome != sdk.NotApplicable {
		t.Errorf("a part that is no assembly: %+v", alone)
	}
	if got := sdktest.One(t, assembly, sdktest.Evidence{Limits: map[string]float64{"life": 1}}); got.Outcome != sdk.NoData {
		t.Errorf("no life sheet: %+v", got)
	}
}

// An assembly is out exactly when some member is, whatever is inside what.
func TestAssemblyIsItsWorstMember(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		n := rapid.IntRange(2, 6).Draw(r, "parts")
		var fitted, limits, bare []string
		worst := 0.0
		for i := range n {
			f := map[string]any{"serial": fmt.Sprint("P", i)}
			if i > 0 {
				f["inside"] = fmt.Sprint("P", rapid.IntRange(0, i-1).Draw(r, "inside"))
			} else {
				bare = append(bare, "life.fitted[0].inside")
			}
			fitted = append(fitted, text(f))
			share := rapid.Float64Range(0, 1.3).Draw(r, "share")
			worst = max(worst, share)
			limits = append(limits, text(map[string]any{"part": f["serial"], "meter": "m", "share_with_plan": share, "runs_left": 1}))
		}
		for i := range n { // the sheet's order must not matter
			j := rapid.IntRange(0, i).Draw(r, "swap")
			limits[i], limits[j] = limits[j], limits[i]
		}
		got := sdktest.One(t, assembly, lifeSheet(strings.Join(fitted, ","), strings.Join(limits, ","), append(bare, falls(n)...)...))
		if got.Position != "P0" || got.Measured.High != worst || (got.Outcome == sdk.Warn) != (worst > 1+1e-9) {
			r.Errorf("%+v, worst %g", got, worst)
		}
	})
}

func falls(n int) (paths []string) {
	for i := range n {
		paths = append(paths, fmt.Sprintf("life.limits[%d].falls_in", i))
	}
	return paths
}

func text(v any) string {
	b, err := json.Marshal(v)
	if err != nil {
		panic(err)
	}
	return string(b)
}

// The lives of NIST/SEMATECH e-Handbook 8.4.1.3.
const nist = `"lives": {"failed": [54, 187, 216, 240, 244, 335, 361, 373, 375, 386], "running": [500, 500, 500, 500, 500, 500, 500, 500, 500, 500], "unclear": []}`

func TestRisk(t *testing.T) {
	limit := func(rest string) string {
		return `{"name": "E hours", "part": "E", "no_go_part": false, ` + rest + `}`
	}
	for _, c := range []struct {
		name, limit string
		outcome     sdk.Outcome
		says        string
	}{
		// From 300 to 400 h the likeliest chance is 17.3662 %.
		{"a hundred hours", limit(`"used": 300, "planned": 100, ` + nist), sdk.Fail, "17 % likeliest; 10 failed and 10 not, shape 1.7"},
		{"ten hours", limit(`"used": 300, "planned": 10, ` + nist), sdk.Pass, "likeliest"},
		{"forty hours", limit(`"used": 300, "planned": 40, ` + nist), sdk.Warn, "likeliest"},
		{"used between", limit(`"used": {"low": 10, "high": 400}, "planned": 20, ` + nist), sdk.NoData, "the limit lies between"},
		{"used unknown", limit(`"used": {"low": 10, "high": null}, "planned": 20, ` + nist), sdk.NoData, "not known"},
		{"nothing said of the plan", limit(`"used": 10, ` + nist), sdk.NoData, "not known"},
		{"two failures", limit(`"used": 1, "planned": 1, "lives": {"failed": [5, 6], "running": [7], "unclear": []}`), sdk.NoData, "2 of 3 of its kind failed, a fit takes 3"},
		{"all at one life", limit(`"used": 1, "planned": 1, "lives": {"failed": [6, 6, 6], "running": [], "unclear": []}`), sdk.NoData, "different lives"},
		{"one not written", limit(`"used": 1, "planned": 1, "lives": {"failed": [5, 6, 7], "running": [], "unclear": ["E-03 retired, failed or whole not written"]}`), sdk.NoData, "E-03 retired, failed or whole not written"},
	} {
		got := sdktest.One(t, risk(false), lifeSheet("", c.limit))
		if got.Outcome != c.outcome || !strings.Contains(got.Message, c.says) && c.outcome != sdk.NoData || c.outcome == sdk.NoData && !strings.Contains(got.Message, c.says) {
			t.Errorf("%s: %s (%s), want %s, %q", c.name, got.Outcome, got.Message, c.outcome, c.says)
		}
		if got := sdktest.One(t, risk(true), lifeSheet("", c.limit)); got.Outcome != sdk.NotApplicable {
			t.Errorf("%s: among the no-go parts too: %+v", c.name, got)
		}
	}
	got := sdktest.One(t, risk(false), lifeSheet("", limit(`"used": 300, "planned": 100`), "life.limits[0].lives"))
	if got.Outcome != sdk.NotApplicable {
		t.Errorf("no lives: %+v", got)
	}
	// A part of which nobody said that its failing hurts nobody is a no-go part.
	unsaid := strings.Replace(limit(`"used": 300, "planned": 10, `+nist), `"no_go_part": false, `, "", 1)
	if got := sdktest.One(t, risk(true), lifeSheet("", unsaid)); got.Position != "E hours" {
		t.Errorf("a part of which nobody said whether it is a no-go part: %+v", got)
	}
}

// steps are a ball bearing's loads in turn, each for a second at a hundred samples.
func steps(values ...float64) []float64 {
	var out []float64
	for _, v := range values {
		for range 100 {
			out = append(out, v)
		}
	}
	return out
}

func bearingEvidence(bearing, meters string, load, turns []float64) sdktest.Evidence {
	return sdktest.Evidence{
		Documents: map[string]string{
			"parts":    `[{"serial": "OP", "bearing": ` + bearing + `}, {"serial": "E"}]`,
			"life":     `{"parts": [{"serial": "OP", "fitted": true, "no_go_part": false, "meters": [` + meters + `]}, {"serial": "E", "fitted": true}]}`,
			"channels": `[{"name": "load", "unit": "kN"}, {"name": "press", "unit": "bar"}, {"name": "rpm", "unit": "rpm"}, {"name": "speed", "unit": "km/h"}]`,
		},
		NotFitted: []string{"parts[1].bearing", "parts[0].bearing.load.area", "parts[0].bearing.load.arm", "parts[0].bearing.turns.radius", "parts[0].bearing.turns.ratio"},
		Limits:    map[string]float64{"l10_warn": 0.8, "l10_fail": 1},
		Log:       sdktest.Log(10, sdktest.Channel("load", 100, load...), sdktest.Channel("press", 100, load...), sdktest.Channel("rpm", 100, turns...), sdktest.Channel("speed", 100, turns...)),
	}
}

// C 30 kN, P 5 kN, 1,500 rpm: 216 million turns, 2,400 h on balls; 392.498 million on rollers
// (ISO 281 by maker's pages).
func TestBearing(t *testing.T) {
	const rpm1500 = 1500 * 2 * math.Pi / 60
	spec := func(rolls string) string {
		return `{"rolls": "` + rolls + `", "rating": 30000, "load": {"channel": "load"}, "turns": {"channel": "rpm"}, "meter": "hours", "source": "x"}`
	}
	hours := func(used, planned float64) string {
		return fmt.Sprintf(`{"meter": "km", "unit": "km", "used": 1, "planned": 1}, {"meter": "hours", "unit": "h", "used": %g, "planned": %g}`, used, planned)
	}
	steady, turning := steps(5000, 5000, -5000), steps(rpm1500, rpm1500, rpm1500)
	for _, c := range []struct {
		rolls         string
		used, planned float64
		share         float64
		outcome       sdk.Outcome
	}{
		{"balls", 1190, 10, 0.5, sdk.Pass},
		{"balls", 2000, 40, 0.85, sdk.Warn},
		{"balls", 2400, 24, 1.01, sdk.Fail},
		{"rollers", 2400, 0, 216 / 392.498, sdk.Pass},
	} {
		got := sdktest.One(t, bearing(false), bearingEvidence(spec(c.rolls), hours(c.used, c.planned), steady, turning))
		if got.Outcome != c.outcome || got.Position != "OP" || math.Abs(got.Measured.Mid()/c.share-1) > 1e-5 {
			t.Errorf("%+v: %s at %v, %s", c, got.Outcome, got.Measured, got.Message)
		}
		if c.rolls == "balls" && got.Message != "as in this run: 5000 N at 1500 rpm, rating life 2400 h" {
			t.Error(got.Message)
		}
		if got := sdktest.One(t, bearing(true), bearingEvidence(spec(c.rolls), hours(c.used, c.planned), steady, turning)); got.Outcome != sdk.NotApplicable {
			t.Errorf("among the no-go parts too: %+v", got)
		}
	}
	// A spectrum of 3, 2, 1 and no kN over 1, 2, 3 and 4 s: 1.663 kN; unloaded and standing still differ.
	loads := steps(3000, 2000, 2000, 1000, 1000, 1000, 0, 0, 0, 0)
	got := sdktest.One(t, bearing(false), bearingEvidence(spec("balls"), hours(1, 0), loads, steps(100, 100, 100, 100, 100, 100, 100, 100, 100, 100)))
	if !strings.HasPrefix(got.Message, "as in this run: 1663 N at 955 rpm") {
		t.Error(got.Message)
	}
	got = sdktest.One(t, bearing(false), bearingEvidence(spec("balls"), hours(1, 0), loads, steps(100, 100, 100, 100, 100, 100, 0, 0, 0, 0)))
	if !strings.HasPrefix(got.Message, "as in this run: 1972 N at 955 rpm") {
		t.Error(got.Message)
	}
}

// Whatever the loads and turns, the share is the sum of the shares of the samples, worked out one by one.
func TestBearingIsTheSumOfItsSamples(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		n := rapid.IntRange(2, 60).Draw(r, "samples")
		load := rapid.SliceOfN(rapid.Float64Range(-9000, 9000), n, n).Draw(r, "press")
		speed := rapid.SliceOfN(rapid.Float64Range(0.1, 80), n, n).Draw(r, "speed")
		spec := `{"rolls": "rollers", "rating": 20000, "load": {"channel": "press", "area": 0.5}, "turns": {"channel": "speed", "radius": 0.3, "ratio": 2}, "meter": "km", "source": "x"}`
		e := bearingEvidence(spec, `{"meter": "km", "unit": "km", "used": 700, "planned": 20}`, load, speed)
		e.NotFitted = []string{"parts[1].bearing", "parts[0].bearing.load.arm"}
		got := sdktest.One(t, bearing(false), e)
		share, metres := 0.0, 0.0
		for i := range load {
			metres += speed[i] * 0.01
			turns := 2 * speed[i] * 0.01 / (2 * math.Pi * 0.3)
			share += turns / 1e6 * math.Pow(math.Abs(load[i])*0.5/20000, 10.0/3)
		}
		if want := share / metres * 720e3; math.Abs(got.Measured.Mid()-want) > 1e-9*want+1e-15 {
			r.Errorf("%g, want %g", got.Measured.Mid(), want)
		}
	})
}

func TestBearingCannotTell(t *testing.T) {
	const spec = `{"rolls": "balls", "rating": 30000, "load": {"channel": "load"}, "turns": {"channel": "rpm"}, "meter": "hours", "source": "x"}`
	const hours = `{"meter": "hours", "unit": "h", "used": 10, "planned": 1}`
	steady, turning := steps(5000, 5000), steps(100, 100)
	holed := steps(5000, 5000)
	holed[50] = math.NaN()
	for _, c := range []struct {
		name, spec, meters string
		load, turns        []float64
		says               string
	}{
		{"over half the rating", spec, hours, steps(5000, 16000), turning, "over half its rating"},
		{"never turned", spec, hours, steady, steps(0, 0), "did not turn"},
		{"a gap in the load", spec, hours, holed, turning, "load"},
		{"a pressure without an area", strings.Replace(spec, `"channel": "load"`, `"channel": "press"`, 1), hours, steady, turning, "press is in bar"},
		{"a speed without a radius", strings.Replace(spec, `"channel": "rpm"`, `"channel": "speed"`, 1), hours, steady, turning, "speed is in km/h"},
		{"no such channel", strings.Replace(spec, `"channel": "load"`, `"channel": "gone"`, 1), hours, steady, turning, "gone is in"},
		{"another meter", spec, `{"meter": "km", "unit": "km", "used": 10, "planned": 1}`, steady, turning, "not known"},
		{"its meter in km", strings.Replace(spec, `"meter": "hours"`, `"meter": "km"`, 1), `{"meter": "km", "unit": "km", "used": 10, "planned": 1}`, steady, turning, "its meter is in km"},
		{"used unknown", spec, `{"meter": "hours", "unit": "h", "used": {"low": 0, "high": null}, "planned": 1}`, steady, turning, "not known"},
		{"no rating", strings.Replace(spec, `"rating": 30000`, `"rating": null`, 1), hours, steady, turning, "rating not known"},
	} {
		got := sdktest.One(t, bearing(false), bearingEvidence(c.spec, c.meters, c.load, c.turns))
		if got.Outcome != sdk.NoData || !strings.Contains(got.Message, c.says) {
			t.Errorf("%s: %s (%s), want no data, %q", c.name, got.Outcome, got.Message, c.says)
		}
	}
}
