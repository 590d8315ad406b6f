package sdk

import (
	"encoding/json"
	"fmt"
	"maps"
	"strings"
	"sync"
	"time"

	pluginv1 "github.com/paintmark/paintmark/schemas/plugin/v1"
)

// Describe says on the wire what plugins have to check.
func Describe(plugins ...*Plugin) *pluginv1.Description {
	d := &pluginv1.Description{}
	for _, p := range plugins {
		out := &pluginv1.Plugin{Name: p.Name, Version: p.Version}
		for _, c := range p.Checks {
			out.Checks = append(out.Checks, c.describe())
		}
		d.Plugins = append(d.Plugins, out)
	}
	return d
}

func (c *Check) describe() *pluginv1.Check {
	out := &pluginv1.Check{
		Id: c.ID, Item: c.Item, System: c.System, Applies: c.Applies, Unit: c.Unit, Health: c.Health,
		Do: c.Do, Caution: c.Caution, Source: c.Source.wire(), Lenient: c.Lenient,
		Accept: &pluginv1.Accept{Warn: c.Accept.Warn.wire(), Fail: c.Accept.Fail.wire(), NoData: c.Accept.NoData.wire()},
		Needs:  &pluginv1.Needs{Documents: c.Needs.Documents, AllChannels: c.Needs.AllChannels, From: c.Needs.From},
	}
	for _, m := range c.Moments {
		out.Moments = append(out.Moments, string(m))
	}
	for _, n := range c.Needs.Channels {
		out.Needs.Channels = append(out.Needs.Channels, &pluginv1.ChannelNeed{Name: n.Name, Quantity: n.Quantity, Reads: n.Reads, Optional: n.Optional})
	}
	for _, l := range c.Needs.Limits {
		out.Needs.Limits = append(out.Needs.Limits, &pluginv1.Limit{Name: l.Name, Value: l.Value, Unit: l.Unit, Tighten: l.Tighten, Source: l.Source.wire()})
	}
	return out
}

func (s Source) wire() *pluginv1.Source {
	if s == (Source{}) {
		return nil
	}
	return &pluginv1.Source{Kind: s.Kind, Text: s.Text, Confirmed: s.Confirmed}
}

func (a Acceptor) wire() *pluginv1.Acceptor {
	return &pluginv1.Acceptor{Hats: a.Hats, Official: a.Official, Runs: int32(a.Runs)}
}

var outcomes = map[Outcome]pluginv1.Outcome{
	Pass: pluginv1.Outcome_OUTCOME_PASS, Warn: pluginv1.Outcome_OUTCOME_WARN, Fail: pluginv1.Outcome_OUTCOME_FAIL,
	NoData: pluginv1.Outcome_OUTCOME_NO_DATA, NotApplicable: pluginv1.Outcome_OUTCOME_NOT_APPLICABLE,
}

func (r *Result) wire(check string) *pluginv1.Result {
	out := &pluginv1.Result{
		Check: check, Position: r.Position, Outcome: outcomes[r.Outcome], Message: r.Message,
		Unseen: wireSpans(r.Unseen), Dead: wireSpans(r.Dead), Inputs: r.Inputs, Despite: r.Despite, ClearedWith: r.ClearedWith,
	}
	if r.Measured != nil {
		out.Measured = &pluginv1.Measured{Low: r.Measured.Low, High: r.Measured.High}
	}
	if b := r.Limit; b != nil {
		out.Limit = &pluginv1.Bound{Low: b.Low, High: b.High, Name: b.Name, Source: b.Source.wire(), Means: outcomes[b.Means]}
	}
	if r.At != nil {
		out.At = &pluginv1.At{Time: r.At.Time, Within: r.At.Within}
	}
	return out
}

func wireSpans(spans []Span) []*pluginv1.Span {
	var out []*pluginv1.Span
	for _, s := range spans {
		out = append(out, &pluginv1.Span{Channel: s.Channel, From: s.From, To: s.To, Why: s.Why})
	}
	return out
}

// documents are what was read last at each path: most checks ask for the same few.
var documents sync.Map

type document struct {
	json string
	read func() (any, error)
}

func readDocument(d *pluginv1.Document) (any, error) {
	if last, ok := documents.Load(d.GetPath()); ok && last.(*document).json == string(d.GetJson()) {
		return last.(*document).read()
	}
	now := &document{string(d.GetJson()), sync.OnceValues(func() (v any, err error) {
		err = json.Unmarshal(d.GetJson(), &v)
		return v, err
	})}
	documents.Store(d.GetPath(), now)
	return now.read()
}

// given reads what the host hands a check.
func given(in *pluginv1.InspectRequest) (Given, error) {
	g := Given{Documents: map[string]any{}, NotFitted: in.GetNotFitted(), Run: int(in.GetRun())}
	for _, d := range in.GetDocuments() {
		v, err := readDocument(d)
		if err != nil {
			return g, fmt.Errorf("the document %s is no JSON: %w", d.GetPath(), err)
		}
		mount(g.Documents, d.GetPath(), v)
	}
	for _, l := range in.GetLimits() {
		g.Limits = append(g.Limits, GivenLimit{Name: l.GetName(), Value: l.GetValue()})
	}
	if today := in.GetToday(); today != "" {
		day, err := time.Parse(time.DateOnly, today)
		if err != nil {
			return g, fmt.Errorf("%q is no day", today)
		}
		g.Today = day
	}
	if l := in.GetLog(); l != nil {
		g.Log = &Log{Kind: l.GetKind(), Run: int(l.GetRun()), End: l.GetEnd(), channels: map[string]func() (*Channel, error){}}
		kept := keptLogOf(l.GetTimes())
		for _, c := range l.GetColumns() {
			g.Log.lazy(c.GetName(), func() (*Channel, error) { return kept.column(c) })
		}
	}
	return g, nil
}

// mount puts a value at a path of plain keys into the documents.
func mount(documents map[string]any, path string, v any) {
	keys := strings.Split(path, ".")
	for _, k := range keys[:len(keys)-1] {
		below, _ := documents[k].(map[string]any)
		if below = maps.Clone(below); below == nil { // what is there may be another check's, too
			below = map[string]any{}
		}
		documents[k] = below
		documents = below
	}
	documents[keys[len(keys)-1]] = v
}
