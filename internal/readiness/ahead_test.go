package readiness

import (
	"reflect"
	"strings"
	"testing"

	"google.golang.org/protobuf/proto"

	"github.com/paintmark/paintmark/internal/check"
)

// What is done before its turn changes nothing of a look.
func TestAheadIsTheSame(t *testing.T) {
	for _, dir := range []string{tern3, "../../testdata/cars/fallow-9"} {
		var before *check.Look
		for _, ahead := range []bool{false, true} {
			c := Open(t.Context(), dir, Options{Logs: "logs", Plugins: served, Ahead: ahead})
			if read := len(c.logsAhead) > 0; read != ahead {
				t.Fatalf("%s: ahead %v, logs were read before their turn: %v", dir, ahead, read)
			}
			look := c.Look(t.Context())
			if len(look.Faults) > 0 {
				t.Fatal(look.Faults)
			}
			if before != nil && !reflect.DeepEqual(look, before) {
				t.Errorf("%s: the looks differ", dir)
			}
			before = look
		}
	}
}

// A check of sensors is asked before its turn where it needs nothing that is not there yet.
func TestAskedBeforeItsTurn(t *testing.T) {
	c := Open(t.Context(), tern3, Options{Logs: "logs", Plugins: served})
	c.askOfSensors(t.Context())
	asked := 0
	for _, k := range c.plugins {
		if k.said != nil {
			asked++
		}
		if k.said != nil && !k.wire.GetHealth() {
			t.Errorf("%s was asked, and is no check of sensors", k.card.ID)
		}
	}
	if asked < 3 {
		t.Errorf("%d checks were asked", asked)
	}
}

// One that reads what parts have done is asked in its turn: that is not worked out before.
func TestLivesAreNotAskedOfBeforeTheirTurn(t *testing.T) {
	c := Open(t.Context(), tern3, Options{Logs: "logs", Plugins: served})
	k := c.pluginCheck("sensorhealth.switches")
	k.wire = proto.CloneOf(k.wire) // all tests share it
	k.wire.Needs.Documents = append(k.wire.Needs.Documents, "life.parts")
	c.askOfSensors(t.Context())
	if k.said != nil || c.pluginCheck("sensorhealth.swapped").said == nil {
		t.Errorf("asked: %v", k.said)
	}
}

// One that breaks when it is asked before its turn breaks nothing, and says so in its turn.
func TestBrokenBeforeItsTurn(t *testing.T) {
	c := Open(t.Context(), tern3, Options{Logs: "logs", Plugins: served})
	k := c.pluginCheck("sensorhealth.switches")
	k.program = nil
	c.askOfSensors(t.Context())
	if k.said != nil {
		t.Errorf("it said %v", k.said)
	}
	found := runChecks(t.Context(), []check.Check{c.pluginCheckOf(k)}, deadline)
	if len(found) != 1 || found[0].Fault == nil || !strings.HasPrefix(found[0].Fault.What, k.card.ID+": the check broke") {
		t.Errorf("in its turn: %+v", found)
	}
}
