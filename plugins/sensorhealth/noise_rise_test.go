package sensorhealth

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/paintmark/paintmark/plugins/sdk"
	"github.com/paintmark/paintmark/plugins/sdk/sdktest"
)

var riseLimits = map[string]float64{"noise_rise_warn": 2, "noise_rise_fail": 4}

// kept is channels.yaml with one channel and what a baseline has of noise, as a plugin is given it.
func kept(channel, noise string) map[string]string {
	docs := list(channel)
	docs["baseline"] = `{"noise": ` + noise + `}`
	return docs
}

// written is a course with noise of so many steps, as a log has it in whole steps of 0.1.
func written(steps float64) []float64 {
	src := rand.New(rand.NewPCG(9, uint64(10*steps)))
	return made(100, 60, func(t float64) float64 { return 0.1 * math.Round(20*course(t/5)+steps*src.NormFloat64()) })
}

func TestNoiseRise(t *testing.T) {
	for _, c := range []struct {
		name      string
		has, kept float64 // in steps of the log
		want      sdk.Outcome
	}{
		{"as it was", 1, 1.04, sdk.Pass},
		{"less", 1, 4, sdk.Pass},
		{"half as much again", 1.5, 1.04, sdk.Pass},
		{"three times", 3, 1.04, sdk.Warn},
		{"five times", 5.2, 1.04, sdk.Fail},
		{"nothing but steps, of a baseline that stood still in them", 0, 0, sdk.Pass},
		{"a little in the steps, of a baseline that stood still in them", 0.4, 0, sdk.Pass},
		{"one step, of a baseline that stood still in them", 1, 0, sdk.Warn},
		{"two steps, of a baseline that stood still in them", 2, 0, sdk.Fail},
	} {
		doc := fmt.Sprintf(`{"p": %g}`, 0.1*c.kept)
		e := sdktest.Evidence{Documents: kept("p bar", doc), Limits: riseLimits, Log: sdktest.Log(60, sdktest.Channel("p", 100, written(c.has)...))}
		if r := found(t, noiseRise, e, "p"); r.Outcome != c.want {
			t.Errorf("%s: %s, %+v; want %s", c.name, r.Outcome, r.Measured, c.want)
		}
	}
}

// What stands still throughout has no more noise than a baseline that has none.
func TestNoiseRiseOfNothing(t *testing.T) {
	still := made(100, 60, func(float64) float64 { return 2.5 })
	for _, baseline := range []string{"0", "0.1"} {
		e := sdktest.Evidence{Documents: kept("p bar", `{"p": `+baseline+`}`), Limits: riseLimits, Log: sdktest.Log(60, sdktest.Channel("p", 100, still...))}
		if r := found(t, noiseRise, e, "p"); r.Outcome != sdk.Pass || r.Measured.Mid() != 0 {
			t.Errorf("of a baseline of %s: %s, %+v", baseline, r.Outcome, r.Measured)
		}
	}
}

// A channel that a baseline has the noise of is never left out because it cannot be told, and one without is not looked at.
func TestNoiseRiseMissing(t *testing.T) {
	whole := sdktest.Channel("p", 100, written(1)...)
	for _, c := range []struct {
		name, channel, noise string
		log                  *sdk.Channel
		position             string
		want                 sdk.Outcome
	}{
		{"its baseline void", "p bar", `{"p": null}`, whole, "p", sdk.NoData},
		{"not declared any more", "q bar", `{"p": 0.1}`, whole, "p", sdk.NoData},
		{"not logged", "p bar", `{"p": 0.1}`, sdktest.Channel("q", 100, written(1)...), "p", sdk.NoData},
		{"hardly seen", "p bar", `{"p": 0.1}`, sdktest.Channel("p", 100, written(1)[:200]...), "p", sdk.NoData},
		{"no channel has a baseline", "p bar", `{}`, whole, "", sdk.NotApplicable},
		{"no baseline has noise", "p bar", `null`, whole, "", sdk.NotApplicable},
	} {
		e := sdktest.Evidence{Documents: kept(c.channel, c.noise), Limits: riseLimits, Log: sdktest.Log(60, c.log)}
		if r := found(t, noiseRise, e, c.position); r.Outcome != c.want {
			t.Errorf("%s: %s, want %s", c.name, r.Outcome, c.want)
		}
	}
}
