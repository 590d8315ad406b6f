package readiness

import (
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/demo"
	"github.com/paintmark/paintmark/internal/kernel"
	"github.com/paintmark/paintmark/internal/pack"
	"github.com/paintmark/paintmark/internal/runlog"
	pluginv1 "github.com/paintmark/paintmark/schemas/plugin/v1"
)

// A healthy car is ready, and no longer once a sensor that protects it stands still or is cut
// off half way: the protection is blind. Some item then names the channel as unseen.
func TestDeadProtectionIsNeverReady(t *testing.T) {
	if testing.Short() {
		t.Skip("looks at the car fifty times")
	}
	dir := filepath.Join(t.TempDir(), "healthy")
	if err := demo.Write(dir, true); err != nil {
		t.Fatal(err)
	}
	s := openLogged(t, dir, 57)
	if s.before.Verdict != check.Ready {
		t.Fatalf("the healthy car is %s", s.before.Verdict)
	}
	channels := logChannels(s.car.folder)
	for i := range channels {
		ch := &channels[i]
		if len(s.car.folder.Channel(ch.Name).Protects) == 0 {
			continue
		}
		for _, how := range stuck {
			look := s.look(t, s.spoil(ch, how))
			if look.Verdict == check.Ready {
				t.Errorf("%s %s: ready", ch.InLog, how.name)
			}
			names := func(it check.Item) bool {
				return it.Open && slices.ContainsFunc(it.Unseen, func(u check.Unseen) bool { return u.Channel == ch.Name && u.Why != "" })
			}
			if !slices.ContainsFunc(look.Items, names) {
				t.Errorf("%s %s: no open item names it", ch.InLog, how.name)
			}
		}
	}
}

// What is said of a dead span names what stood, where, and what moved.
func TestDeadSpanIsNamed(t *testing.T) {
	s := openLogged(t, tern3, 57)
	channels := logChannels(s.car.folder)
	i := slices.IndexFunc(channels, func(c runlog.Channel) bool { return c.Name == "wing_angle" })
	look := s.look(t, s.spoil(&channels[i], stuck[0]))
	if want := "wing_angle: stood still at 38 deg while wing_command moved; not believed from 0.00 to 95.68 s"; !slices.Contains(look.Remarks, want) {
		t.Errorf("remarks %q, want %q among them", look.Remarks, want)
	}
	for _, it := range look.Items {
		if it.Card.ID != "wing.close-time" {
			continue
		}
		want := "stood still at 38 deg while wing_command moved"
		if it.Outcome != check.NoData || !it.Open || !slices.ContainsFunc(it.Unseen, func(u check.Unseen) bool {
			return u.Channel == "wing_angle" && u.From == 0 && u.To > 95 && u.Why == want
		}) || !strings.Contains(it.Message, "wing_angle") {
			t.Errorf("%s, %s, unseen %+v", it.Outcome, it.Message, it.Unseen)
		}
	}
}

// A pair that differs too far for either sensor to be believed fails the rule that judges the pair, with the log
// and by the run sheet alone. To all others both are unseen.
func TestPairTooFarApartFails(t *testing.T) {
	if testing.Short() {
		t.Skip("looks as others do, at another log")
	}
	run := demo.HealthyRun57()
	run.Faults = []demo.Fault{{Kind: demo.ThrottleSplit, At: 20, For: 0.25, Size: 12}}
	dir := t.TempDir()
	if err := demo.WriteAfter(dir, run); err != nil {
		t.Fatal(err)
	}
	withOutcomes(t, dir)
	for _, logs := range []string{"logs", "nowhere"} {
		look := Open(t.Context(), dir, Options{Logs: logs, Plugins: served}).Look(t.Context())
		if it := itemOf(t, look, "throttle.pair"); it.Outcome != check.Fail || !it.Stops() || look.Verdict != check.NoGo {
			t.Errorf("%s: %s, %s; the car is %s", logs, it.Outcome, it.Message, look.Verdict)
		}
	}
	// Of the logs beside each other only the one for pairs has them.
	c := Open(t.Context(), dir, Options{Logs: "logs"})
	gaps := map[string]int{}
	for i, l := range c.logs {
		gaps[c.evidence.Logs[i].Kind] = len(l.data.Columns["throttle"].Gaps)
	}
	if len(gaps) != 2 || gaps["run"] != 1 || gaps[pack.Pairs] != 0 {
		t.Errorf("spans of the throttle taken away: %v", gaps)
	}
}

// What a check of sensors calls dead is gone for all who look after it: from the run's log, from the one beside it for
// pairs, and from the columns that plugins were handed before.
func TestCalledDeadIsGoneForAll(t *testing.T) {
	run := demo.HealthyRun57()
	run.Faults = []demo.Fault{{Kind: demo.ThrottleSplit, At: 20, For: 0.25, Size: 12}}
	dir := t.TempDir()
	if err := demo.WriteAfter(dir, run); err != nil {
		t.Fatal(err)
	}
	c := Open(t.Context(), dir, Options{Logs: "logs", Plugins: served})
	if len(c.logs) != 2 || c.evidence.Logs[1].Kind != pack.Pairs {
		t.Fatalf("%d logs", len(c.logs))
	}
	before := c.columnsOf(0)
	c.pluginCheck("sensorhealth.electrical").said = &said{logs: []int{0}, found: [][]*pluginv1.Result{{{
		Outcome: pluginv1.Outcome_OUTCOME_FAIL, Message: "said", Dead: []*pluginv1.Span{{Channel: "throttle", From: 40, To: 50, Why: "said so"}},
	}}}}
	c.health(t.Context())
	for i, l := range c.logs {
		if !slices.ContainsFunc(l.data.Columns["throttle"].Gaps, func(g kernel.Gap) bool { return g.From <= 40 && g.To >= 50 }) {
			t.Errorf("log %d has %v of the throttle", i, l.data.Columns["throttle"].Gaps)
		}
	}
	if c.columnsOf(0) == before {
		t.Error("plugins are handed the columns as they were")
	}
}
