package runlog

import (
	"fmt"
	"strings"
	"testing"
)

// A neighbour is proposed where the log bears it out: not for a channel that stood still all
// through, not for an angle, a switch or the speed of the car, and none where no engine ran.
func TestProposedNeighbours(t *testing.T) {
	log := func(rpm int) *Raw {
		var b strings.Builder
		b.WriteString("Time,RPM,V,P_OIL,T_W,WING,ON\ns,rpm,km/h,bar,°C,deg,-\n")
		for i := range 3000 {
			fmt.Fprintf(&b, "%.2f,%d,%d,%.2f,81.5,%d,%d\n", float64(i)/50, rpm*(2+i/100%2), 40+i%60, 3+float64(i%7)/10, i%30, i%2)
		}
		return readText(t, b.String())
	}
	raw := log(2000)
	for line := range strings.Lines(Propose(raw, Survey(raw))) {
		name, _, _ := strings.Cut(strings.TrimPrefix(line, "  - {name: "), ",")
		got := strings.Contains(line, "moves_with: [")
		if should := name == "rpm" || name == "oil_pressure"; strings.Contains(line, "{name:") && got != should {
			t.Error(line)
		}
	}
	if raw := log(100); strings.Contains(Propose(raw, Survey(raw)), "moves_with: [rpm]") {
		t.Error("the engine never ran, and is a neighbour all the same")
	}
}
