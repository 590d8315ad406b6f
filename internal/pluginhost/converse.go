package pluginhost

import (
	"context"
	"errors"
	"io"

	"google.golang.org/grpc/status"

	pluginv1 "github.com/paintmark/paintmark/schemas/plugin/v1"
)

// conversation is one call in which a plugin is asked one thing after another. As many are held as there are things
// asked at once; where an answer does not come, or is none, the conversation is over and nothing else is.
type conversation struct {
	pluginv1.Checks_InspectEachClient
	end   context.CancelFunc
	asked int32
}

// converse has one check run in a conversation that is free, or in a new one.
func (r *running) converse(ctx context.Context, in *pluginv1.InspectRequest) ([]*pluginv1.Result, error) {
	talk, err := r.conversation()
	if err != nil {
		return nil, err
	}
	inTime := context.AfterFunc(ctx, talk.end)
	answer, err := talk.ask(in)
	if !inTime() {
		return nil, status.FromContextError(ctx.Err()).Err()
	}
	if err != nil {
		talk.end()
		return nil, err
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	r.free = append(r.free, talk)
	return answer.GetResults(), nil
}

func (r *running) conversation() (*conversation, error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if last := len(r.free) - 1; last >= 0 {
		talk := r.free[last]
		r.free = r.free[:last]
		return talk, nil
	}
	ctx, end := context.WithCancel(context.Background()) // it outlives what is asked first
	stream, err := r.checks.InspectEach(ctx, r.host.bounded())
	if err != nil {
		end()
		return nil, err
	}
	return &conversation{Checks_InspectEachClient: stream, end: end}, nil
}

// ask asks one thing and waits for its answer. The request is given a number.
func (c *conversation) ask(in *pluginv1.InspectRequest) (*pluginv1.Answer, error) {
	c.asked++
	in.Number = c.asked
	if err := c.Send(in); err != nil && !errors.Is(err, io.EOF) { // why it is over Recv says
		return nil, err
	}
	answer, err := c.Recv()
	switch {
	case errors.Is(err, io.EOF):
		return nil, contradiction("it sent no result")
	case err != nil:
		return nil, err
	case answer.GetNumber() != c.asked:
		return nil, contradiction("it answered what it was not asked")
	case answer.GetFault() != nil:
		return nil, broken(answer.GetFault())
	}
	return answer, nil
}
