package sensorhealth

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/paintmark/paintmark/plugins/sdk"
	"github.com/paintmark/paintmark/plugins/sdk/sdktest"
)

// A pair that reads otherwise apart than it did is found, also where it is apart by as much all the run long.
func TestPairShift(t *testing.T) {
	first := made(100, 60, course)
	low, high := math.Inf(1), math.Inf(-1)
	for _, x := range first {
		low, high = math.Min(low, x), math.Max(high, x)
	}
	travel := high - low
	for _, c := range []struct {
		name       string
		kept, read float64 // of the travel
		doc        string
		want       sdk.Outcome
	}{
		{"as it was", 0.03, 0.03, "", sdk.Pass},
		{"a little more", 0.03, 0.04, "", sdk.Pass},
		{"shifted", 0.03, 0.065, "", sdk.Warn},
		{"shifted the other way", 0.03, -0.01, "", sdk.Warn},
		{"far off", 0, -0.08, "", sdk.Fail},
		{"its baseline void", 0, 0, `{"b": null}`, sdk.NoData},
	} {
		src := rand.New(rand.NewPCG(4, 2))
		second := made(50, 60, func(t float64) float64 { return course(t) + c.read*travel + 0.001*src.NormFloat64() })
		docs := list("a %", `b % "pair_with": "a"`)
		docs["baseline"] = fmt.Sprintf(`{"apart": {"b": %g}}`, c.kept*travel)
		if c.doc != "" {
			docs["baseline"] = `{"apart": ` + c.doc + `}`
		}
		limits := map[string]float64{"pair_shift_warn": 0.02, "pair_shift_fail": 0.05}
		e := sdktest.Evidence{Documents: docs, Limits: limits, Log: sdktest.Log(60, sdktest.Channel("a", 100, first...), sdktest.Channel("b", 50, second...))}
		r := found(t, pairShift, e, "b")
		want := math.Abs(c.read - c.kept)
		if r.Outcome != c.want || c.doc == "" && math.Abs(r.Measured.Mid()-want) > 0.002+0.12*want { // 1 to 99 % is a tenth less
			t.Errorf("%s: %s, %+v; want %s", c.name, r.Outcome, r.Measured, c.want)
		}
		e.Log = sdktest.Log(60, sdktest.Channel("b", 50, second...))
		if r := found(t, pairShift, e, "b"); r.Outcome != sdk.NoData {
			t.Errorf("%s, without the other: %s", c.name, r.Outcome)
		}
	}
}

// A pair that was hardly seen, or of which the one that it is held against stood still, is not judged, however far apart.
func TestPairShiftNotExercised(t *testing.T) {
	still := func(float64) float64 { return 1 }
	for _, c := range []struct {
		name    string
		course  func(t float64) float64
		seconds float64
		tell    bool
	}{
		{"seen 300 times", course, 3, true},
		{"seen 299 times", course, 2.99, false},
		{"standing still", still, 60, false},
	} {
		for _, above := range []float64{0, 1} {
			docs := list("a %", `b % "pair_with": "a"`)
			docs["baseline"] = `{"apart": {"b": 0}}`
			e := sdktest.Evidence{
				Documents: docs, Limits: map[string]float64{"pair_shift_warn": 0.02, "pair_shift_fail": 0.05},
				Log: sdktest.Log(c.seconds, sdktest.Channel("a", 100, made(100, c.seconds, c.course)...),
					sdktest.Channel("b", 100, made(100, c.seconds, func(t float64) float64 { return c.course(t) + above })...)),
			}
			want := sdk.NoData
			if c.tell {
				want = map[float64]sdk.Outcome{0: sdk.Pass, 1: sdk.Fail}[above]
			}
			if r := found(t, pairShift, e, "b"); r.Outcome != want || !c.tell && !strings.HasPrefix(r.Message, "not exercised") {
				t.Errorf("%s, %g apart: %s, %+v, %s; want %s", c.name, above, r.Outcome, r.Measured, r.Message, want)
			}
		}
	}
}
