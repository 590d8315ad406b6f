package pluginhost

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"

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
	stream, err := r.checks.Inspect(ctx, in, p.host.bounded())
	if err != nil {
		return nil, r.said(err)
	}
	var results []*pluginv1.Result
	size := 0
	for {
		f, err := stream.Recv()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, r.said(err)
		}
		if size += proto.Size(f); size > p.host.limits.Reply {
			return nil, fmt.Errorf("its answer is over %d MiB", p.host.limits.Reply>>20)
		}
		if fault := f.GetFault(); fault != nil {
			return nil, errors.New(plain(fault.GetWhat()))
		}
		result := f.GetResult()
		if result == nil {
			return nil, errors.New("it sent neither a result nor a fault")
		}
		if err := sound(check, in, result); err != nil {
			return nil, err
		}
		if slices.ContainsFunc(results, func(o *pluginv1.Result) bool { return o.GetPosition() == result.GetPosition() }) {
			return nil, fmt.Errorf("it sent two results for %q", plain(result.GetPosition()))
		}
		results = append(results, result)
	}
	if len(results) == 0 {
		return nil, errors.New("it sent no result")
	}
	return results, nil
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
