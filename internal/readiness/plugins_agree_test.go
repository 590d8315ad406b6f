package readiness

import (
	"math"
	"strings"
	"testing"
	"time"

	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/demo"
)

// What the bundled plugins say of the demo car with its planted faults is worked out again, from its
// documents by plain arithmetic and from what the vehicle model did. (partlife: TestPartlifeAgrees.)
func TestPluginsAgree(t *testing.T) {
	c := Open(t.Context(), tern3, Options{Logs: "logs", Plugins: served})
	look := c.Look(t.Context())
	items := map[string]check.Item{}
	for _, it := range look.Items {
		items[it.Name()] = it
	}
	si := func(path string) float64 {
		v := c.document(path)
		if v == nil || v.Unknown {
			t.Fatalf("the demo car has no %s", path)
		}
		return v.Low
	}
	item := func(name string, outcome check.Outcome, says string) check.Item {
		it, ok := items[name]
		if !ok || it.Outcome != outcome || !strings.Contains(it.Message, says) {
			t.Errorf("%s: %s, %q; want %s with %q", name, it.Outcome, it.Message, outcome, says)
		}
		return it
	}
	measured := func(name string, outcome check.Outcome, want, near float64) {
		it := item(name, outcome, "")
		if it.Measured == nil || math.Abs(it.Measured.Value-want) > near {
			t.Errorf("%s: %+v, want %g", name, it.Measured, want)
		}
	}

	// Planted: the wing was late once. The other plugin's item and the rule's are worked out apart.
	truth := demo.Run57().Record().Truth[demo.WingReturn]
	wing := item("failsafe.wing-losses command off", check.Fail, "slowest of 10")
	if m := wing.Measured; m == nil || m.Low > truth.Value || m.High < truth.Value || m.High-m.Low > 0.031 || math.Abs(wing.At.Time-truth.At) > 0.02 {
		t.Errorf("the wing is said to be back after %+v at %+v, the model's after %+v", m, wing.At, truth)
	}
	// Planted: the oil temperature sensor open. The trip that has it is blind.
	item("failsafe.trips oil temperature trip", check.NoData, "oil_temp")

	// Half rho v² S C x and friction against nine tenths of the spring, in the coldest air to be reckoned with.
	air := si("plan.forecast.station_pressure") / (287.05 * (si("plan.forecast.air") - 10))
	hinge := 0.5*air*math.Pow(si("car.wing.max_speed"), 2)*si("car.wing.flap_area")*si("car.wing.normal_force_coefficient")*si("car.wing.centre_of_pressure_arm") + si("car.wing.friction_moment")
	measured("failsafe.wing-moments closed", check.Pass, 0.9*si("car.wing.spring_force")*si("car.wing.spring_arm")/hinge, 2e-3)

	// The logger's rates are those of channels.yaml, and no two of the model's sensors are late or reversed.
	measured("sensorhealth.rate rpm", check.Pass, 100, 1e-6)
	measured("sensorhealth.rate damper_fl", check.Pass, 1000, 1e-6)
	measured("sensorhealth.skew speed and long_g", check.Pass, 0, 0.02)
	measured("sensorhealth.reversed brake_front and brake_rear", check.Pass, 1, 0.02)

	item("classregs.class", check.Pass, "2754 cm3 equivalent is class VI-7") // 1620 · 1.7
	measured("classregs.weight", check.Pass, si("measured.weight.total.value"), 1e-9)
	served := time.Date(2024, 6, 3, 0, 0, 0, 0, time.UTC).AddDate(0, 24, 0) // as the label of the bottle says
	measured("classregs.labels fire bottle F2-5512", check.Pass, served.Sub(time.Date(2026, 5, 16, 0, 0, 0, 0, time.UTC)).Hours()/24, 1e-9)

	// ISO 4406: each number is twice as many particles, 1 is up to 0.02 a mL.
	number := func(path string) float64 { return math.Ceil(math.Log2(si(path)/0.02)) + 1 }
	over := 0.0
	for i, path := range []string{"from_4um", "from_6um", "from_14um"} {
		over = max(over, number("measured.hydraulics.particles."+path)-[]float64{16, 14, 11}[i])
	}
	measured("hydraulics.oil-code", check.Pass, over, 0)
	beta := si("measured.hydraulics.particles.from_14um") / si("measured.hydraulics.particles.behind_filter_14um")
	measured("hydraulics.filter-beta", check.Pass, beta/si("car.hydraulics.filter.beta_14um"), 1e-9)
	// A fact of the trade, common practice: shift hydraulics near 100 bar are filtered to about 15 µm, which
	// is a beta ratio of 75 or more there (98.7 % held back; 14 µm(c) of ISO 11171 is about 15 µm).
	if p := si("car.hydraulics.shift_min"); math.Abs(p/100e5-1) > 0.1 || si("car.hydraulics.filter.beta_14um") < 75 {
		t.Errorf("shifts at %g Pa, beta %g", p, si("car.hydraulics.filter.beta_14um"))
	}
}
