package pluginhost

import (
	"math"
	"testing"

	"google.golang.org/protobuf/proto"

	pluginv1 "github.com/paintmark/paintmark/schemas/plugin/v1"
)

// What contradicts itself, the check or what the check was given is refused, and what does not is taken.
func TestSound(t *testing.T) {
	in := &pluginv1.InspectRequest{
		Limits: []*pluginv1.LimitInForce{{Name: "warn", Value: 2}},
		Log:    &pluginv1.Log{Columns: []*pluginv1.Column{{Name: "rpm"}}},
	}
	inf, nan := math.Inf(1), math.NaN()
	measured := func(low, high float64) func(r *pluginv1.Result) {
		return func(r *pluginv1.Result) { r.Measured = &pluginv1.Measured{Low: low, High: high} }
	}
	limit := func(outcome pluginv1.Outcome, measured, low, high float64, name string) func(r *pluginv1.Result) {
		return func(r *pluginv1.Result) {
			r.Outcome, r.Measured = outcome, &pluginv1.Measured{Low: measured, High: measured}
			r.Limit = &pluginv1.Bound{Low: low, High: high, Name: name}
		}
	}
	at := func(time, within float64) func(r *pluginv1.Result) {
		return func(r *pluginv1.Result) { r.At = &pluginv1.At{Time: time, Within: within} }
	}
	unseen := func(channel string, from, to float64) func(r *pluginv1.Result) {
		return func(r *pluginv1.Result) {
			r.Unseen = []*pluginv1.Span{{Channel: "rpm", From: 0, To: 1}, {Channel: channel, From: from, To: to}}
		}
	}
	dead := func(channel string) func(r *pluginv1.Result) {
		return func(r *pluginv1.Result) { r.Dead = []*pluginv1.Span{{Channel: channel, From: 0, To: 1}} }
	}
	const pass, fail = pluginv1.Outcome_OUTCOME_PASS, pluginv1.Outcome_OUTCOME_FAIL
	const foreign, noSpan = `it sent a span of the channel "speed", which it was not given`, "it sent a span that is none"
	for name, c := range map[string]struct {
		change func(r *pluginv1.Result)
		says   string
		sensor bool // it is a check of sensors
	}{
		"as it should be":             {func(*pluginv1.Result) {}, "", false},
		"of another check":            {func(r *pluginv1.Result) { r.Check = "brakes.pads" }, `it sent a result for "brakes.pads"`, false},
		"no outcome":                  {func(r *pluginv1.Result) { r.Outcome = 0 }, "it sent the outcome 0, which is none", false},
		"a new outcome":               {func(r *pluginv1.Result) { r.Outcome = 17 }, "it sent the outcome 17, which is none", false},
		"nothing":                     {func(r *pluginv1.Result) { r.Message = " \n" }, "it sent a result that says nothing", false},
		"NaN":                         {measured(nan, 1), "it measured no number", false},
		"up to NaN":                   {measured(1, nan), "it measured no number", false},
		"turned about":                {measured(2, 1), "it measured no number", false},
		"infinite":                    {measured(inf, inf), "it measured no number", false},
		"less than all":               {measured(-inf, -inf), "it measured no number", false},
		"one or more":                 {measured(1, inf), "", false},
		"a limit that is none":        {limit(pass, 1, -inf, inf, "warn"), "it sent a limit that is no number", false},
		"a limit of NaN":              {limit(pass, 1, -inf, nan, "warn"), "it sent a limit that is no number", false},
		"a limit turned about":        {limit(pass, 1, 2, 0, "warn"), "it sent a limit that is no number", false},
		"a limit of no name":          {limit(pass, 1, -inf, 2, ""), "", false},
		"a limit not declared":        {limit(pass, 1, -inf, 2, "fail"), `it names the limit "fail", which it did not declare`, false},
		"passes on the limit":         {limit(pass, 2*(1+1e-10), -inf, 2, "warn"), "", false},
		"passes above the limit":      {limit(pass, 2.1, -inf, 2, "warn"), "it passes what is not inside its limit", false},
		"passes below the limit":      {limit(pass, 1.9, 2, inf, "warn"), "it passes what is not inside its limit", false},
		"fails above the limit":       {limit(fail, 2.1, -inf, 2, "warn"), "", false},
		"at some time":                {at(3, 0.1), "", false},
		"at no time":                  {at(nan, 0), "it sent a time that is no number", false},
		"at all times":                {at(3, inf), "it sent a time that is no number", false},
		"within less than nothing":    {at(3, -0.1), "it sent a time that is no number", false},
		"unseen":                      {unseen("rpm", 2, 2), "", false},
		"unseen backwards":            {unseen("rpm", 3, 2), noSpan, false},
		"unseen from NaN":             {unseen("rpm", nan, 2), noSpan, false},
		"unseen, and not its channel": {unseen("speed", 2, 3), foreign, false},
		"dead":                        {dead("rpm"), "", true},
		"dead, and not its channel":   {dead("speed"), foreign, true},
		"dead, and not asked":         {dead("rpm"), "it calls spans dead and is no check of health", false},
	} {
		r := &pluginv1.Result{Check: "yard.good", Outcome: pass, Message: "fine"}
		c.change(r)
		says := ""
		if err := sound(&pluginv1.Check{Id: "yard.good", Health: c.sensor}, in, r); err != nil {
			says = err.Error()
		}
		if says != c.says {
			t.Errorf("%s: %q, want %q", name, says, c.says)
		}
	}
}

// What it says for people is taken on one line.
func TestSoundOnOneLine(t *testing.T) {
	r := &pluginv1.Result{
		Check: "yard.good", Outcome: pluginv1.Outcome_OUTCOME_NO_DATA, Position: "front\nleft", Message: "no\x1b[31m data",
		Unseen: []*pluginv1.Span{{Channel: "rpm", To: 1, Why: "cut\r\noff"}},
	}
	want := proto.CloneOf(r)
	want.Position, want.Message, want.Unseen[0].Why = "front left", "no [31m data", "cut off"
	in := &pluginv1.InspectRequest{Log: &pluginv1.Log{Columns: []*pluginv1.Column{{Name: "rpm"}}}}
	if err := sound(&pluginv1.Check{Id: "yard.good"}, in, r); err != nil || !proto.Equal(r, want) {
		t.Errorf("%v, %v", r, err)
	}
}
