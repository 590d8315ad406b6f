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
	call  pluginv1.Checks_InspectEachClient // nil until something is asked
	life  context.Context                   // of the call
	end   context.CancelFunc
	asked int32
}

// converse has one check run in a conversation that is free, or in a new one.
func (r *running) converse(ctx context.Context, in *pluginv1.InspectRequest) ([]*pluginv1.Result, error) {
	talk := r.unused()
	inTime := context.AfterFunc(ctx, talk.end)
	answer, err := talk.ask(r, in)
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

// unused is a conversation in which nothing is asked, a new one where there is none.
func (r *running) unused() *conversation {
	r.mu.Lock()
	defer r.mu.Unlock()
	if last := len(r.free) - 1; last >= 0 {
		talk := r.free[last]
		r.free = r.free[:last]
		return talk
	}
	talk := &conversation{}
	talk.life, talk.end = context.WithCancel(context.Background()) // it outlives what is asked first
	return talk
}

// ask asks one thing and waits for its answer. The request is given a number.
func (c *conversation) ask(r *running, in *pluginv1.InspectRequest) (*pluginv1.Answer, error) {
	if c.call == nil {
		var err error
		if c.call, err = r.checks.InspectEach(c.life, r.host.bounded()); err != nil { // which may wait
			return nil, err
		}
	}
	c.asked++
	in.Number = c.asked
	if err := c.call.Send(in); err != nil && !errors.Is(err, io.EOF) { // why it is over Recv says
		return nil, err
	}
	answer, err := c.call.Recv()
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
