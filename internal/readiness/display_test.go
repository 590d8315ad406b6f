package readiness

import (
	"math"
	"strings"
	"testing"

	"github.com/paintmark/paintmark/internal/check"
)

func TestTongue(t *testing.T) {
	speak, err := newTongue(map[string]string{"pressure": "psi", "temperature": "°F", "length": "in"})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		unit                 string
		value, limit, margin float64
		wantUnit             string
		want                 [3]float64
	}{
		// NIST SP 811: 1 psi = 6894.757 Pa, so 1 bar = 14.50377 psi.
		{"bar", 2, 1, 1, "psi", [3]float64{29.00754, 14.50377, 14.50377}},
		{"°C", 100, 120, 20, "°F", [3]float64{212, 248, 36}},
		{"mm", 25.4, 50.8, 25.4, "in", [3]float64{1, 2, 1}},
		{"km", 5.3, 10, 4.7, "km", [3]float64{5.3, 10, 4.7}},
		{"rpm", 7000, 7600, 600, "rpm", [3]float64{7000, 7600, 600}},
		{"", 3, 4, 1, "", [3]float64{3, 4, 1}},
	} {
		r := check.Result{
			Measured: &check.Measured{Value: c.value, Low: c.value, High: c.value, Unit: c.unit},
			Limit:    &check.Limit{Kind: "max", Value: c.limit, Unit: c.unit}, Margin: &c.margin,
		}
		speak.say(&r)
		got := [3]float64{r.Measured.Value, r.Limit.Value, *r.Margin}
		for i := range got {
			if math.Abs(got[i]-c.want[i]) > 1e-4 {
				t.Errorf("%s: %v, want %v", c.unit, got, c.want)
				break
			}
		}
		if r.Measured.Unit != c.wantUnit {
			t.Errorf("%s is said in %q, want %q", c.unit, r.Measured.Unit, c.wantUnit)
		}
	}
}

func TestTongueRefuses(t *testing.T) {
	for quantity, c := range map[string]struct{ unit, want string }{
		"pressure": {"°C", "°C is no unit of pressure; write one such as bar"},
		"colour":   {"red", `no quantity "colour"; there are force, length,`},
		"torque":   {"Nm2", "units: torque:"},
		"length":   {"km", "km is no unit of length"},
	} {
		if _, err := newTongue(map[string]string{quantity: c.unit}); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s in %s: %v, want %q", quantity, c.unit, err, c.want)
		}
	}
}
