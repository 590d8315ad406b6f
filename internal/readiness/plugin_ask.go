package readiness

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"slices"
	"sync"

	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/expr"
	"github.com/paintmark/paintmark/internal/kernel"
	"github.com/paintmark/paintmark/internal/pack"
	"github.com/paintmark/paintmark/internal/pluginhost"
	"github.com/paintmark/paintmark/internal/runlog"
	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
	pluginv1 "github.com/paintmark/paintmark/schemas/plugin/v1"
)

// health has every check of the sensors run, whatever is asked for, and takes what they call
// dead away from all that is asked of the logs after them.
func (c *Car) health(ctx context.Context) {
	var checks []check.Check
	for _, k := range c.plugins {
		if k.wire.GetHealth() {
			checks = append(checks, c.pluginCheckOf(k))
		}
	}
	c.found = runChecks(ctx, checks, deadline)
	for i := range c.logs {
		of := i
		if c.evidence.Logs[i].Kind == pack.Pairs {
			of = i - 1 // the log it stands beside
		}
		var dead []runlog.Dead
		for _, k := range c.plugins {
			dead = append(dead, k.dead[of]...)
		}
		if len(dead) == 0 {
			continue
		}
		l := c.logs[i]
		l.data, l.dead = runlog.TakeAway(l.data, dead), append(l.dead, dead...)
		c.runners[i] = kernel.NewRunner(c.graph, l.data, kernel.Options{})
		c.evidence.Logs[i].Answers = expr.OnLog(c.runners[i])
		delete(c.columns, i)
	}
}

// healthResults are those of the checks of sensors that the options ask for.
func (c *Car) healthResults() []check.Result {
	return slices.DeleteFunc(slices.Clone(c.found), func(r check.Result) bool { return !c.wanted(c.pluginCheck(r.Card.ID)) })
}

// wanted says that the options ask for a check of a plugin, as they do for a rule.
func (c *Car) wanted(k *pluginCheck) bool {
	kind := c.options.LogKind
	return c.asked(&k.card) && (kind == "" || kind == "run" || k.overLog() && slices.Contains(k.from(), kind))
}

// overLog says that a check looks at a log.
func (k *pluginCheck) overLog() bool {
	return k.wire.GetNeeds().GetAllChannels() || len(k.wire.GetNeeds().GetChannels()) > 0
}

// from are the kinds of log that may answer a check.
func (k *pluginCheck) from() []string {
	if from := k.wire.GetNeeds().GetFrom(); len(from) > 0 {
		return from
	}
	return []string{"run"}
}

// pluginChecks are the checks of plugins that the options ask for, without those that look at
// the sensors, which are through by then.
func (c *Car) pluginChecks() []check.Check {
	return slices.Concat(c.checksOver(false), c.checksOver(true))
}

// checksOver are those of pluginChecks that look at a log, or the others. Those that look at all channels come first: they
// take longest, and nobody should wait for one of them alone in the end.
func (c *Car) checksOver(log bool) []check.Check {
	var out []check.Check
	for _, all := range []bool{true, false} {
		for _, k := range c.plugins {
			if c.wanted(k) && !k.wire.GetHealth() && k.overLog() == log && k.wire.GetNeeds().GetAllChannels() == all {
				out = append(out, c.pluginCheckOf(k))
			}
		}
	}
	return out
}

// pluginCheckOf is a check of a plugin as all checks are.
func (c *Car) pluginCheckOf(k *pluginCheck) check.Check {
	return check.Check{Card: k.card, Run: func(ctx context.Context) []check.Result { return c.inspect(ctx, k) }}
}

// ask runs checks beside what else there is to do.
func (c *Car) ask(ctx context.Context, checks []check.Check) <-chan []check.Result {
	out := make(chan []check.Result, 1)
	go func() { out <- runChecks(ctx, checks, deadline) }()
	return out
}

// warm starts every program of which a check applies, side by side.
func (c *Car) warm(ctx context.Context) {
	warm := map[*pluginhost.Program]bool{}
	for _, k := range c.plugins {
		if !warm[k.program] && c.wanted(k) && c.applying(ctx, k) == nil && c.lacks(k) == "" {
			k.program.Warm()
			warm[k.program] = true
		}
	}
}

// applying is the answer where a check does not apply, or nobody can tell; nil where it does.
func (c *Car) applying(ctx context.Context, k *pluginCheck) *check.Result {
	if k.applies == nil {
		return nil
	}
	ans := k.applies.Eval(ctx, expr.Inputs{Roots: c.evidence.Roots})
	r := &check.Result{Card: &k.card, Where: k.card.Where}
	switch {
	case ans.Fault != nil:
		r.Outcome, r.Message, r.Fault = check.NoData, "cannot tell whether this applies", ans.Fault
	case ans.NotFitted:
		r.Outcome, r.Message = check.NotApplicable, "not fitted"
	case ans.Truth == expr.False:
		r.Outcome, r.Message = check.NotApplicable, "does not apply to this car"
	case ans.Truth == expr.Unknown:
		r.Outcome, r.Message = check.NoData, "cannot tell whether this applies"
		if len(ans.Gaps) > 0 {
			r.Message += ": " + ans.Gaps[0].Path + " not known"
		}
	default:
		return nil
	}
	return r
}

// answering are the logs at hand that may answer a check.
func (c *Car) answering(k *pluginCheck) []int {
	var out []int
	for i, l := range c.logs {
		if l != nil && l.data != nil && c.runners[i] != nil && slices.Contains(k.from(), c.evidence.Logs[i].Kind) {
			out = append(out, i)
		}
	}
	return out
}

// lacks says what of the log keeps a check from being asked at all, "" for nothing.
func (c *Car) lacks(k *pluginCheck) string {
	needs := k.wire.GetNeeds()
	must := needs.GetAllChannels()
	for _, n := range needs.GetChannels() {
		must = must || !n.GetOptional()
	}
	if !must {
		return ""
	}
	logs := c.answering(k)
	if len(logs) == 0 {
		return "no log at hand; bring the run's log"
	}
	for _, i := range logs {
		for _, n := range needs.GetChannels() {
			if !n.GetOptional() && c.logs[i].data.Columns[n.GetName()] == nil {
				return n.GetName() + " is not in the log"
			}
		}
	}
	return ""
}

// said is what a check of a plugin said of each log that may answer, or of the documents, with no log.
type said struct {
	instead []check.Result // where it was not asked, or broke
	logs    []int          // -1: of none
	found   [][]*pluginv1.Result
}

// question has a check run on every log that may answer.
func (c *Car) question(ctx context.Context, k *pluginCheck) (out said) {
	if r := c.applying(ctx, k); r != nil {
		return said{instead: []check.Result{*r}}
	}
	if why := c.lacks(k); why != "" {
		return said{instead: []check.Result{{Card: &k.card, Outcome: check.NoData, Message: why, Note: why, Where: k.card.Where}}}
	}
	out.logs = []int{-1}
	if k.overLog() {
		if answering := c.answering(k); len(answering) > 0 {
			out.logs = answering
		}
	}
	for _, i := range out.logs {
		in, err := c.request(k, i)
		var found []*pluginv1.Result
		if err == nil {
			found, err = k.program.Inspect(ctx, k.wire, in)
		}
		if err != nil && in.GetLog() != nil && c.columnsOf(i).lost(in.GetLog()) {
			if in, err = c.request(k, i); err == nil {
				found, err = k.program.Inspect(ctx, k.wire, in)
			}
		}
		if err != nil {
			return said{instead: []check.Result{c.pluginBroke(k, err)}}
		}
		out.found = append(out.found, found)
	}
	return out
}

// inspect has a check run on every log that may answer and keeps the worst of what they say.
func (c *Car) inspect(ctx context.Context, k *pluginCheck) []check.Result {
	said := k.said
	if k.said = nil; said == nil { // another look asks again
		now := c.question(ctx, k)
		said = &now
	}
	if said.instead != nil {
		return said.instead
	}
	var out []check.Result
	for at, i := range said.logs {
		for _, f := range said.found[at] {
			for _, s := range f.GetDead() {
				if k.dead == nil {
					k.dead = map[int][]runlog.Dead{}
				}
				k.dead[i] = append(k.dead[i], runlog.Dead{Channel: s.GetChannel(), From: s.GetFrom(), To: s.GetTo(), Why: s.GetWhy()})
			}
			r := c.result(k, f, i)
			c.proven(ctx, &r, f.GetClearedWith())
			at := slices.IndexFunc(out, func(o check.Result) bool { return o.Position == r.Position })
			switch {
			case at < 0:
				out = append(out, r)
			case r.Outcome.WorseThan(out[at].Outcome):
				out[at] = r
			}
		}
	}
	return out
}

// sameMoment is how far apart a rule and a plugin may find one and the same thing, s: they may take
// another sample of it as the first.
const sameMoment = 0.1

// proven puts the proof on stands that a rule takes after a repair in the place of what a plugin found
// of the same thing in the run's log. Where both found one and the same moment, the plugin's item says so:
// it is one thing to mend.
func (c *Car) proven(ctx context.Context, r *check.Result, rule string) {
	if rule == "" || r.From.Kind != "log" || r.Outcome != check.Fail && r.Outcome != check.Warn {
		return
	}
	k, err := c.rule(rule)
	if err != nil { // its pack is not in use
		return
	}
	for _, by := range k.Judge(ctx, c.evidence) {
		if by.Cleared != "" && by.Fault == nil {
			by.Card, by.Position, by.Where = r.Card, r.Position, r.Where
			*r = by
			return
		}
		if (by.Outcome == check.Fail || by.Outcome == check.Warn) && by.At != nil && r.At != nil && math.Abs(by.At.Time-r.At.Time) < sameMoment {
			note(r, "the same moment as in "+rule+", one thing to mend")
		}
	}
}

// pluginBroke is the one result of a check that gave none. The plugin's own trouble is said
// once, however many of its checks it takes along.
func (c *Car) pluginBroke(k *pluginCheck, err error) check.Result {
	what := k.card.ID + ": " + err.Error()
	if errors.As(err, &pluginhost.NotServing{}) {
		what = "plugin " + k.plugin + ": " + err.Error()
	}
	const said = "the plugin gave no answer"
	return check.Result{
		Card: &k.card, Outcome: check.NoData, Message: said, Note: said, Where: k.card.Where,
		Fault: &source.Fault{Pos: k.card.Where, What: what, Remedy: "look by hand at what it stands for, and tell who made it"},
	}
}

// request is what a check is handed: what it asked for and nothing else.
func (c *Car) request(k *pluginCheck, log int) (*pluginv1.InspectRequest, error) {
	needs := k.wire.GetNeeds()
	in := &pluginv1.InspectRequest{Check: k.card.ID, Today: c.asOf.In(zone(c.evidence.Roots["plan"])).Format("2006-01-02"), Run: int32(c.evidence.Run)}
	for _, path := range needs.GetDocuments() {
		d, err := c.handDocument(path)
		if err != nil {
			return nil, fmt.Errorf("%s cannot be handed over: %w", path, err)
		}
		in.Documents = append(in.Documents, d.document)
		in.NotFitted = append(in.NotFitted, d.notFitted...)
	}
	for _, l := range needs.GetLimits() {
		in.Limits = append(in.Limits, &pluginv1.LimitInForce{Name: l.GetName(), Value: k.limits[l.GetName()].si})
	}
	if log < 0 {
		return in, nil
	}
	var names []string
	for _, n := range needs.GetChannels() {
		names = append(names, n.GetName())
	}
	if needs.GetAllChannels() {
		names = append(names, channelNames(c.logs[log].data)...)
	}
	slices.Sort(names)
	var err error
	in.Log, err = c.columnsOf(log).hand(c.evidence.Logs[log].Kind, c.evidence.Logs[log].From.Run, slices.Compact(names))
	if err != nil {
		return nil, fmt.Errorf("the log cannot be handed over: %w", err)
	}
	return in, nil
}

// handed is a document as every check that asks for it gets it.
type handed struct {
	document  *pluginv1.Document
	notFitted []string
}

func (c *Car) handDocument(path string) (handed, error) {
	c.handing.Lock()
	defer c.handing.Unlock()
	if d, ok := c.handed[path]; ok {
		return d, nil
	}
	v := c.document(path)
	text, err := schema.JSON(v)
	if err != nil {
		return handed{}, err
	}
	if c.handed == nil {
		c.handed = map[string]handed{}
	}
	c.handed[path] = handed{&pluginv1.Document{Path: path, Json: text}, notFitted(v, path)}
	return c.handed[path], nil
}

// columnsOf are the files of one log.
func (c *Car) columnsOf(log int) *columnFiles {
	c.handing.Lock()
	defer c.handing.Unlock()
	if c.columns == nil {
		c.columns = map[int]*columnFiles{}
	}
	if c.columns[log] == nil {
		private := sync.OnceValues(func() (string, error) {
			folder, err := c.options.Plugins.Host.Folder()
			if err != nil {
				return "", err
			}
			return os.MkdirTemp(folder, "log-")
		})
		c.columns[log] = &columnFiles{folder: private, log: c.logs[log], cache: c.options.Cache, channels: logChannels(c.folder)}
	}
	return c.columns[log]
}

// notFitted are the paths at and below a value of what the car has none of.
func notFitted(v *schema.Value, path string) []string {
	if v == nil {
		return nil
	}
	if v.Unknown {
		if v.Type.NotFitted && v.Text == "" {
			return []string{path}
		}
		return nil
	}
	var out []string
	switch v.Type.Kind {
	case schema.Object:
		for _, f := range v.Type.Order {
			if child := v.Fields[f]; child != nil {
				out = append(out, notFitted(child, path+"."+f)...)
			} else if v.Type.Fields[f].NotFitted {
				out = append(out, path+"."+f)
			}
		}
	case schema.Map:
		for _, key := range v.Keys {
			out = append(out, notFitted(v.Fields[key], path+"."+key)...)
		}
	case schema.List:
		for i, item := range v.Items {
			out = append(out, notFitted(item, fmt.Sprintf("%s[%d]", path, i))...)
		}
	}
	return out
}
