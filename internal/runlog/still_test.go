package runlog

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestFindStill(t *testing.T) {
	speed := Channel{Name: "v", Unit: "m/s", Range: true, High: 60}
	hill := square(8, 12, 40)
	for _, c := range []struct {
		name    string
		seconds float64
		make    func(m *made)
		want    string
	}{
		{"still while the car moves", 60, func(m *made) {
			m.add(Channel{Name: "a"}, 10, steady(3*rpmSI))
			m.add(speed, 20, hill)
		}, "a 0 to 60 stood still at 3 rpm all run while v moved"},
		{"at zero too", 60, func(m *made) {
			m.add(ranged("a", 0, 100), 10, steady(0))
			m.add(speed, 20, hill)
		}, "a 0 to 60 stood still at 0 rpm all run while v moved"},
		{"the last digit moves", 60, func(m *made) {
			m.add(Channel{Name: "a"}, 10, func(t float64) float64 { return math.Floor(t/59.99) * rpmSI })
			m.add(speed, 20, hill)
		}, ""},
		{"the car only creeps", 60, func(m *made) {
			m.add(Channel{Name: "a"}, 10, steady(3))
			m.add(speed, 20, square(8, 0, 4))
		}, ""},
		{"on stands the engine moves and the car does not", 60, func(m *made) {
			m.add(Channel{Name: "a"}, 10, steady(3))
			m.add(ranged("rpm", 0, 1000), 10, square(8, 100, 900))
			m.add(speed, 20, steady(0))
			m.add(Channel{Name: "g", Unit: "g0", Range: true, Low: -30, High: 30}, 10, square(1, -0.1, 0.1))
		}, ""},
		{"the speed itself", 60, func(m *made) {
			m.add(speed, 20, steady(0))
			m.add(Channel{Name: "g", Unit: "g0", Range: true, Low: -30, High: 30}, 10, square(4, -8, 5))
		}, "v 0 to 60 stood still at 0 m/s all run while g moved"},
		{"no speed is logged", 60, func(m *made) {
			m.add(ranged("a", 0, 100), 10, steady(3*rpmSI))
			m.add(ranged("rpm", 0, 1000), 10, square(8, 100, 900))
		}, "a 0 to 60 stood still at 3 rpm all run while rpm moved"},
		{"what it moves with is said", 60, func(m *made) {
			m.add(ranged("a", 0, 100, "b"), 10, steady(3))
			m.add(ranged("b", 0, 100), 10, func(t float64) float64 { return t })
			m.add(speed, 20, hill)
		}, ""},
		{"what it moves with is not logged", 60, func(m *made) {
			m.add(ranged("a", 0, 100, "b"), 10, steady(3*rpmSI))
			m.channels = append(m.channels, ranged("b", 0, 100))
			m.add(speed, 20, hill)
		}, "a 0 to 60 stood still at 3 rpm all run while v moved"},
		{"it may stand for longer", 60, func(m *made) {
			m.add(Channel{Name: "a", Still: 600}, 10, steady(3))
			m.add(speed, 20, hill)
		}, ""},
		{"a temperature over a short run", 28, func(m *made) {
			m.add(Channel{Name: "a", Unit: "°C"}, 200, steady(360))
			m.add(speed, 20, square(4, 12, 40))
		}, ""},
		{"a temperature over a long one", 40, func(m *made) {
			m.add(Channel{Name: "a", Unit: "°C"}, 200, steady(363.15))
			m.add(speed, 20, hill)
		}, "a 0 to 40 stood still at 90 °C all run while v moved"},
		{"few samples say little", 60, func(m *made) {
			m.add(Channel{Name: "a"}, 2000, steady(3))
			m.add(speed, 20, hill)
		}, ""},
		{"a switch and a gear", 60, func(m *made) {
			m.add(Channel{Name: "a", Shape: YesNo}, 10, steady(1))
			m.add(Channel{Name: "b", Shape: Count}, 10, steady(3))
			m.add(speed, 20, hill)
		}, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			m := newMade(c.seconds)
			c.make(m)
			var out []string
			for _, d := range FindStill(m.log, m.channels) {
				out = append(out, fmt.Sprintf("%s %.6g to %.6g %s", d.Channel, d.From, d.To, d.Why))
			}
			if got := strings.Join(out, "\n"); got != c.want {
				t.Errorf("got %q, want %q", got, c.want)
			}
		})
	}
}

// What FindStill finds holds one value from end to end, names nothing logged that it moves with,
// and does not depend on the order of the channels.
func TestFindStillWhatStands(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := anyLog(t)
		dead := FindStill(m.log, m.channels)
		if again := FindStill(m.log, rapid.Permutation(m.channels).Draw(t, "channels")); !slices.Equal(dead, again) {
			t.Fatalf("found %v, and with the channels in another order %v", dead, again)
		}
		for _, d := range dead {
			s := samples{m.log, m.log.Columns[d.Channel]}
			seen := map[float64]bool{}
			for i, v := range s.Values {
				if !s.bad(i) {
					seen[v] = true
				}
			}
			if len(seen) != 1 {
				t.Errorf("%s has %d values", d.Channel, len(seen))
			}
		}
	})
}
