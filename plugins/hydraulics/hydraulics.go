// Package hydraulics looks at the shift hydraulics: what the accumulator holds in reserve, its
// precharge where a log shows it, what a shift takes, the leak at rest, filter and oil.
//
// Oil and gas stay under pressure when all is switched off: every remedy here begins with
// isolating, venting to zero and reading the gauge.
package hydraulics

import "github.com/paintmark/paintmark/plugins/sdk"

// Plugin is the checks of this package.
func Plugin() sdk.Plugin {
	return sdk.Plugin{Name: "hydraulics", Version: "1.0.0", Checks: []*sdk.Check{
		shiftsLeft, prechargeSeen, oilPerShift, leakAtRest, filter, cleanliness, beta,
	}}
}

const (
	fitted  = `car.gearbox.shift == "hydraulic"`
	bar     = 1e5
	station = 101325.0 // Pa; a gauge is read against the air, whose swing of 5 kPa is nothing to 100 bar
	zeroC   = 273.15
)

var (
	practice = sdk.Source{Kind: "practice"}
	team     = sdk.Accept{
		Warn: sdk.Hats("lead-engineer", "gearbox").ForRuns(2), NoData: sdk.Hats("lead-engineer", "gearbox"),
	}
	adviser = sdk.Accept{
		Warn: sdk.Hats("lead-engineer", "gearbox").ForRuns(3), Fail: sdk.Hats("lead-engineer", "gearbox"), NoData: sdk.Hats("lead-engineer", "gearbox"),
	}
)
