package readiness

import (
	"reflect"
	"testing"

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
