package readiness

import (
	"slices"
	"strings"
	"testing"

	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/runlog"
)

// A wing command that is drowned in noise or comes late would hide that the wing was late once. It is nobody's to
// believe: what fails with it sound does not pass with it sick.
func TestSickWingCommandIsNotBelieved(t *testing.T) {
	if testing.Short() {
		t.Skip("looks as others do, at another log")
	}
	s := openLogged(t, tern3, 57)
	channels := logChannels(s.car.folder)
	command := &channels[slices.IndexFunc(channels, func(c runlog.Channel) bool { return c.Name == "wing_command" })]
	by := map[string]string{
		"noise":         "sensorhealth.switches wing_command",
		"late by 0.2 s": "sensorhealth.order-first wing_angle after wing_command",
	}
	for _, how := range subtle {
		items := map[string]check.Item{}
		for _, it := range s.look(t, s.spoil(command, how)).Items {
			items[called(it)] = it
		}
		if it := items[by[how.name]]; it.Outcome != check.Fail {
			t.Errorf("%s: %s is %s: %s", how.name, by[how.name], it.Outcome, it.Message)
		}
		for _, name := range []string{"failsafe.wing-losses command off", "wing.close-time"} {
			if it := items[name]; it.Outcome != check.NoData || !strings.Contains(it.Message, "wing_command") {
				t.Errorf("%s: %s is %s: %s", how.name, name, it.Outcome, it.Message)
			}
		}
	}
}
