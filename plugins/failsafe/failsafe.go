// Package failsafe looks at what the car does when something is lost: the wing returns to high
// downforce, throttle and pedal agree with themselves, boost falls to what the spring gives, the
// gearbox keeps its declared state, and the trips in the control unit are those of the sheet.
//
// Nothing is energised, vented or moved by it. Springs and stored air move a wing by
// themselves: vent, pin, hands clear of the gap.
package failsafe

import "github.com/paintmark/paintmark/plugins/sdk"

// Plugin is the checks of this package.
func Plugin() sdk.Plugin {
	return sdk.Plugin{Name: "failsafe", Version: "1.0.0", Checks: []*sdk.Check{
		wingLosses, wingMoments, wingCylinder, wingVent, wingBottle, pairs, boostFalls, gearHeld, trips,
	}}
}

const (
	bar        = 1e5
	zeroC      = 273.15
	pneumatic  = `car.wing.open_by == "pneumatic"`
	springBack = `car.wing.close_by == "spring"`
)

var (
	practice = sdk.Source{Kind: "practice"}
	// What must fail to safe is nobody's to accept.
	strict = sdk.Accept{Warn: sdk.Hats("lead-engineer", "data").ForRuns(1)}
	// What is worked out, and not seen, the lead engineer may weigh.
	worked = sdk.Accept{Warn: sdk.Hats("lead-engineer"), NoData: sdk.Hats("lead-engineer", "data")}
)
