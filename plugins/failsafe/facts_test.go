package failsafe

import (
	"math"
	"strings"
	"testing"

	"github.com/paintmark/paintmark/plugins/sdk"
	"github.com/paintmark/paintmark/plugins/sdk/sdktest"
)

// A fact of the trade, common practice: a wing that is back 20 ms after its order was lost at 80 m/s has
// covered 1.6 m, which is 20 samples at 1,000 Hz.
func TestTwentyMilliseconds(t *testing.T) {
	const rate, lost, back, speed = 1000.0, 2.0, 0.020, 80.0
	var command, angle, brake, lat, v []float64
	between := 0
	for i := range 4000 {
		at := float64(i) / rate
		ordered, open := at >= 1 && at < lost, at >= 1.2 && at < lost+back-1e-9
		if open && !ordered {
			between++
		}
		a := 38 * deg
		if open {
			a = 9 * deg
		}
		command, angle, v = append(command, yes(ordered)), append(angle, a), append(v, speed)
		brake, lat = append(brake, 0), append(lat, 0)
	}
	if between != 20 {
		t.Fatalf("the wing is open for %d samples more", between)
	}
	log := sdktest.Log(4, sdktest.Channel("wing_command", rate, command...), sdktest.Channel("wing_angle", rate, angle...),
		sdktest.Channel("brake_front", rate, brake...), sdktest.Channel("lat_g", rate, lat...), sdktest.Channel("speed", rate, v...))
	for _, r := range sdktest.Run(t, wingLosses, sdktest.Evidence{Documents: map[string]string{"car": wingCar}, Limits: wingLimits, Log: log}) {
		if r.Position != "command off" {
			continue
		}
		if r.Outcome != sdk.Pass || !strings.Contains(r.Message, "1.6 m travelled meanwhile") {
			t.Errorf("%s: %q", r.Outcome, r.Message)
		}
		if m := r.Measured; m.Low*speed > 1.6+1e-9 || m.High*speed < 1.6-1e-9 || math.Abs(m.High-m.Low) > 2.001/rate {
			t.Errorf("%g to %g s", m.Low, m.High)
		}
	}
}
