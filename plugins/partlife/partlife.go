// Package partlife looks at what the life sheet says of parts together: the weakest member of an
// assembly over the planned runs, the chance that a part fails in them, and rolling bearings by
// the load and speed that the log has.
package partlife

import (
	"math"
	"slices"
	"strings"

	"github.com/paintmark/paintmark/plugins/sdk"
)

// Plugin is the checks of this package.
func Plugin() sdk.Plugin {
	return sdk.Plugin{Name: "partlife", Version: "1.0.0", Checks: []*sdk.Check{
		assembly, risk(false), risk(true), bearing(false), bearing(true),
	}}
}

var (
	practice = sdk.Source{Kind: "practice"}
	both     = sdk.Hats("lead-engineer", "chief-mechanic")
)

// accept is who may accept what is found on a part: of a no-go part nobody accepts an overrun.
func accept(noGo bool) sdk.Accept {
	a := sdk.Accept{Warn: both.ForRuns(3), NoData: both}
	if !noGo {
		a.Fail = both.ForRuns(1)
	}
	return a
}

// suffix tells a check of no-go parts from the same one of all others.
func suffix(id, item string, noGo bool) (string, string) {
	if noGo {
		return id + "-no-go", item + ", no-go part"
	}
	return id, item
}

// bounded says that an amount is known between two bounds.
func bounded(v sdk.Value) bool {
	return v.Known && !math.IsInf(v.Low, 0) && !math.IsInf(v.High, 0)
}

func join(words ...string) string {
	return strings.Join(slices.DeleteFunc(words, func(w string) bool { return w == "" }), "; ")
}
