package readiness

import (
	"context"
	"fmt"
	"runtime"
	"sync"
	"time"

	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/source"
)

// deadline is how long one check may take before it counts as broken. It is far more than
// any rule needs, so that a slow machine never changes an answer.
const deadline = 30 * time.Second

// runChecks runs every check and gives their results in the order of the checks. Twice as many are run at once as there are
// processors: those of plugins wait for an answer most of the time. A check that panics, hangs or gives nothing is a
// fault of its own and hurts no other.
func runChecks(ctx context.Context, checks []check.Check, limit time.Duration) []check.Result {
	found := make([][]check.Result, len(checks))
	next := make(chan int)
	var workers sync.WaitGroup
	for range min(2*runtime.GOMAXPROCS(0), len(checks)) {
		workers.Go(func() {
			for i := range next {
				found[i] = runOne(ctx, &checks[i], limit)
			}
		})
	}
	for i := range checks {
		next <- i
	}
	close(next)
	workers.Wait()
	var out []check.Result
	for _, r := range found {
		out = append(out, r...)
	}
	return out
}

func runOne(ctx context.Context, c *check.Check, limit time.Duration) []check.Result {
	ctx, cancel := context.WithTimeout(ctx, limit)
	defer cancel()
	done := make(chan []check.Result, 1)
	go func() {
		defer func() {
			if p := recover(); p != nil {
				done <- broken(c, fmt.Sprintf("the check broke: %v", p), "report it with this pack and this car folder")
			}
		}()
		done <- c.Run(ctx)
	}()
	select {
	case results := <-done:
		if len(results) == 0 {
			return broken(c, "the check gave no result", "report it with this pack and this car folder")
		}
		return results
	case <-ctx.Done():
		if ctx.Err() == context.DeadlineExceeded {
			return broken(c, fmt.Sprintf("no answer after %v", limit), "make the rule simpler or its log shorter")
		}
		return broken(c, "stopped before it was answered", "run it again")
	}
}

// broken is the result of a check that did not come to one.
func broken(c *check.Check, what, remedy string) []check.Result {
	return []check.Result{{
		Card: &c.Card, Outcome: check.NoData, Message: what, Where: c.Where,
		Fault: &source.Fault{Pos: c.Where, What: c.ID + ": " + what, Remedy: remedy},
	}}
}
