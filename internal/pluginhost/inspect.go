package pluginhost

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"

	pluginv1 "github.com/paintmark/paintmark/schemas/plugin/v1"
)

// Inspect has one check run, and holds its results to the contract. An error is a fault of
// the check; nothing it sent then counts.
func (p *Program) Inspect(ctx context.Context, check *pluginv1.Check, in *pluginv1.InspectRequest) ([]*pluginv1.Result, error) {
	r, err := p.start()
	if err != nil {
		return nil, err
	}
	ctx, cancel := context.WithTimeout(ctx, p.host.limits.Call)
	defer cancel()
	results, err := r.inspect(ctx, in)
	if err != nil {
		return nil, err
	}
	positions := map[string]bool{}
	for _, result := range results {
		if err := sound(check, in, result); err != nil {
			return nil, err
		}
		if positions[result.GetPosition()] {
			return nil, fmt.Errorf("it sent two results for %q", plain(result.GetPosition()))
		}
		positions[result.GetPosition()] = true
	}
	if len(results) == 0 {
		return nil, errors.New("it sent no result")
	}
	return results, nil
}

// inspect has one check run in a conversation, or in a call of its own where the plugin holds none.
func (r *running) inspect(ctx context.Context, in *pluginv1.InspectRequest) ([]*pluginv1.Result, error) {
	if !r.curt.Load() {
		results, err := r.converse(ctx, in)
		if status.Code(err) != codes.Unimplemented {
			return results, r.said(err)
		}
		r.curt.Store(true)
	}
	results, err := r.call(ctx, in)
	return results, r.said(err)
}

// call has one check run in a call of its own.
func (r *running) call(ctx context.Context, in *pluginv1.InspectRequest) (results []*pluginv1.Result, err error) {
	stream, err := r.checks.Inspect(ctx, in, r.host.bounded())
	if err != nil {
		return nil, err
	}
	for size := 0; ; {
		f, err := stream.Recv()
		if errors.Is(err, io.EOF) {
			return results, nil
		}
		if err != nil {
			return nil, err
		}
		if size += proto.Size(f); size > r.host.limits.Reply {
			return nil, status.Error(codes.ResourceExhausted, "")
		}
		if fault := f.GetFault(); fault != nil {
			return nil, broken(fault)
		}
		if f.GetResult() == nil {
			return nil, contradiction("it sent neither a result nor a fault")
		}
		results = append(results, f.GetResult())
	}
}

// sound refuses a result that is not of this check, or that contradicts itself.
func sound(check *pluginv1.Check, in *pluginv1.InspectRequest, r *pluginv1.Result) error {
	if id := r.GetCheck(); id != check.GetId() {
		return fmt.Errorf("it sent a result for %q", plain(id))
	}
	r.Position, r.Message = plain(r.GetPosition()), plain(r.GetMessage())
	if _, known := outcomes[r.GetOutcome()]; !known {
		return fmt.Errorf("it sent the outcome %d, which is none", r.GetOutcome())
	}
	if r.GetMessage() == "" && r.GetMeasured() == nil {
		return errors.New("it sent a result that says nothing")
	}
	if m := r.GetMeasured(); m != nil && (math.IsNaN(m.GetLow()) || math.IsNaN(m.GetHigh()) || m.GetLow() > m.GetHigh() || math.IsInf(m.GetLow(), 1) || math.IsInf(m.GetHigh(), -1)) {
		return errors.New("it measured no number")
	}
	if b := r.GetLimit(); b != nil {
		if math.IsNaN(b.GetLow()) || math.IsNaN(b.GetHigh()) || b.GetLow() > b.GetHigh() || math.IsInf(b.GetLow(), -1) && math.IsInf(b.GetHigh(), 1) {
			return errors.New("it sent a limit that is no number")
		}
		if n := b.GetName(); n != "" && !slices.ContainsFunc(in.GetLimits(), func(l *pluginv1.LimitInForce) bool { return l.GetName() == n }) {
			return fmt.Errorf("it names the limit %q, which it did not declare", plain(n))
		}
		if m := r.GetMeasured(); m != nil && r.GetOutcome() == pluginv1.Outcome_OUTCOME_PASS && (under(m.GetLow(), b.GetLow()) || under(b.GetHigh(), m.GetHigh())) {
			return errors.New("it passes what is not inside its limit")
		}
	}
	if at := r.GetAt(); at != nil && (!finite(at.GetTime()) || !finite(at.GetWithin()) || at.GetWithin() < 0) {
		return errors.New("it sent a time that is no number")
	}
	if len(r.GetDead()) > 0 && !check.GetHealth() {
		return errors.New("it calls spans dead and is no check of health")
	}
	for _, s := range slices.Concat(r.GetUnseen(), r.GetDead()) {
		s.Why = plain(s.GetWhy())
		if math.IsNaN(s.GetFrom()) || math.IsNaN(s.GetTo()) || s.GetFrom() > s.GetTo() {
			return errors.New("it sent a span that is none")
		}
		if !slices.ContainsFunc(in.GetLog().GetColumns(), func(c *pluginv1.Column) bool { return c.GetName() == s.GetChannel() }) {
			return fmt.Errorf("it sent a span of the channel %q, which it was not given", plain(s.GetChannel()))
		}
	}
	return nil
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

// under says that a is less than b by more than 1 part in 10^9.
func under(a, b float64) bool {
	if !finite(a) || !finite(b) {
		return a < b
	}
	return b-a > 1e-9*max(math.Abs(a), math.Abs(b))
}
