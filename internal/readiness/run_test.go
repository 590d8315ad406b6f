package readiness

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/source"
)

func passing(id string) check.Check {
	c := check.Check{Card: check.Card{ID: id, Where: source.Pos{File: "packs/x.yaml", Line: 3, Column: 5}}}
	c.Run = func(context.Context) []check.Result {
		return []check.Result{{Card: &check.Card{ID: id}, Outcome: check.Pass}}
	}
	return c
}

// TestABrokenCheckHurtsNoOther breaks one check in each way and looks at the rest.
func TestABrokenCheckHurtsNoOther(t *testing.T) {
	release := make(chan struct{})
	defer close(release)
	for _, c := range []struct {
		name string
		run  func(context.Context) []check.Result
		want string
	}{
		{"panics", func(context.Context) []check.Result { panic("index out of range") }, "packs/x.yaml:3:5: b: the check broke: index out of range; report it"},
		{"hangs", func(context.Context) []check.Result { <-release; return nil }, "b: no answer after"},
		{"waits for its deadline", func(ctx context.Context) []check.Result { <-ctx.Done(); time.Sleep(time.Millisecond); return nil }, "b: "},
		{"says nothing", func(context.Context) []check.Result { return nil }, "b: the check gave no result"},
	} {
		t.Run(c.name, func(t *testing.T) {
			bad := passing("b")
			bad.Run = c.run
			results := runChecks(t.Context(), []check.Check{passing("a"), bad, passing("c")}, 50*time.Millisecond)
			if len(results) != 3 {
				t.Fatalf("%d results, want 3", len(results))
			}
			for i, id := range []string{"a", "b", "c"} {
				if results[i].Card.ID != id {
					t.Errorf("result %d is of %s, want %s", i, results[i].Card.ID, id)
				}
			}
			if results[0].Outcome != check.Pass || results[2].Outcome != check.Pass {
				t.Error("another check was hurt")
			}
			b := results[1]
			if b.Outcome != check.NoData || b.Fault == nil || !strings.Contains(b.Fault.Error(), c.want) {
				t.Errorf("the broken one: %s, fault %v", b.Outcome, b.Fault)
			}
		})
	}
}

func TestStoppedIsNeverPass(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	waiting := passing("a")
	waiting.Run = func(ctx context.Context) []check.Result { <-ctx.Done(); select {} }
	if r := runChecks(ctx, []check.Check{waiting}, time.Minute); r[0].Outcome != check.NoData || r[0].Fault == nil {
		t.Errorf("%+v", r)
	}
}

func TestOrderDoesNotDependOnSpeed(t *testing.T) {
	var checks []check.Check
	for i := range 100 {
		c := passing(fmt.Sprintf("c%03d", i))
		run := c.Run
		c.Run = func(ctx context.Context) []check.Result {
			time.Sleep(time.Duration(i%7) * 100 * time.Microsecond)
			return run(ctx)
		}
		checks = append(checks, c)
	}
	for i, r := range runChecks(t.Context(), checks, time.Minute) {
		if want := fmt.Sprintf("c%03d", i); r.Card.ID != want {
			t.Fatalf("place %d has %s, want %s", i, r.Card.ID, want)
		}
	}
}
