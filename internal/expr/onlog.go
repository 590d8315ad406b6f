package expr

import (
	"context"
	"fmt"

	"github.com/paintmark/paintmark/internal/kernel"
)

// OnLog answers from a log. The Runner must have been made on the Graph of the Env
// whose expressions ask.
func OnLog(r *kernel.Runner) Answers { return onLog{r} }

type onLog struct{ *kernel.Runner }

func (l onLog) Answer(ctx context.Context, _ *kernel.Graph, a kernel.Agg) (kernel.Answer, bool, error) {
	ans, err := l.Runner.Answer(ctx, a)
	if err != nil {
		return kernel.Answer{}, false, fmt.Errorf("reading the log: %w", err)
	}
	return ans, true, nil
}
