package readiness

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"slices"
	"strings"

	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/expr"
	"github.com/paintmark/paintmark/internal/kernel"
	"github.com/paintmark/paintmark/internal/pack"
	"github.com/paintmark/paintmark/internal/pluginhost"
	"github.com/paintmark/paintmark/internal/runlog"
	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
	"github.com/paintmark/paintmark/internal/units"
	pluginv1 "github.com/paintmark/paintmark/schemas/plugin/v1"
)

// Plugins are what may look beside the rules.
type Plugins struct {
	Host    *pluginhost.Host      // who closes it ends the plugins
	Bundled *pluginv1.Description // of those that are part of this program
	Store   *pluginhost.Store     // of programs from outside; nil: none are on this machine
	Version string                // of this program
}

// pluginCheck is one check of a plugin in use.
type pluginCheck struct {
	card    check.Card
	wire    *pluginv1.Check
	plugin  string
	program *pluginhost.Program
	applies *expr.Expr // nil: to every car
	unit    units.Unit // of what it measures; no symbol for a bare number
	limits  map[string]pluginLimit
	dead    map[int][]runlog.Dead // by log: spans it says nobody may believe
}

type pluginLimit struct {
	si     float64
	source check.Source
	where  source.Pos
}

// openPlugins readies the checks of every plugin that limits.yaml has in use. A plugin that
// cannot be had is a fault: what it would have looked at is not looked at.
func (c *Car) openPlugins(ctx context.Context) {
	if d := c.folder.Document("limits"); d != nil {
		if v := d.Fields["plugins"]; v != nil && v.Unknown {
			c.fault(source.Faults{{Pos: v.Pos, What: "plugins is unknown: nobody can tell what is not looked at", Remedy: "name those in use, or write plugins: []"}}, nil)
		}
	}
	seen := map[string]bool{}
	var own *pluginhost.Program
	for _, name := range c.folder.Plugins {
		fail := func(what, remedy string) {
			c.fault(source.Faults{{Pos: name.Pos, What: what, Remedy: remedy}}, nil)
		}
		if seen[name.Text] {
			fail(name.Text+" is named twice", "take one out")
			continue
		}
		seen[name.Text] = true
		if c.options.Plugins == nil {
			fail("no plugin "+name.Text, "plugins cannot be asked here; look by hand at what it stands for")
			continue
		}
		if p := named(c.options.Plugins.Bundled, name.Text); p != nil {
			if own == nil {
				var err error
				if own, err = c.options.Plugins.Host.Own(); err != nil {
					fail("the plugin "+name.Text+" cannot be started: "+err.Error(), "")
					continue
				}
			}
			c.takePlugin(p, own, name.Pos)
			continue
		}
		p, program, err := c.outside(ctx, name.Text)
		if err != nil {
			fail("plugin "+name.Text+": "+err.Error(), c.bundledRemedy(name.Text))
			continue
		}
		c.takePlugin(p, program, name.Pos)
	}
}

func named(d *pluginv1.Description, name string) *pluginv1.Plugin {
	for _, p := range d.GetPlugins() {
		if p.GetName() == name {
			return p
		}
	}
	return nil
}

func (c *Car) bundledRemedy(name string) string {
	var all []string
	for _, p := range c.options.Plugins.Bundled.GetPlugins() {
		all = append(all, p.GetName())
	}
	if n := source.Nearest(name, all); n != "" {
		return "did you mean " + n
	}
	return "bundled are " + strings.Join(all, ", ") + "; one from outside: paintmark plugin admit FILE"
}

// outside is a plugin from outside, as admitted.yaml knows it.
func (c *Car) outside(ctx context.Context, name string) (*pluginv1.Plugin, *pluginhost.Program, error) {
	var sum, version string
	if d := c.folder.Document("admitted"); d != nil {
		for _, p := range d.Get("plugins").Items {
			if known(p.Get("name")) == name {
				version, sum = known(p.Get("version")), known(p.Get("sha256").Get(pluginhost.Platform()))
			}
		}
	}
	switch {
	case version == "":
		return nil, nil, errors.New("it is not bundled and not admitted")
	case sum == "":
		return nil, nil, fmt.Errorf("%s is not admitted for %s", version, pluginhost.Platform())
	case c.options.Plugins.Store == nil:
		return nil, nil, fmt.Errorf("%s is not on this machine", version)
	}
	path, there := c.options.Plugins.Store.Program(sum)
	if !there {
		return nil, nil, fmt.Errorf("the program of %s is not on this machine", version)
	}
	program := c.options.Plugins.Host.Outside(name, path, sum)
	d := c.options.Plugins.Store.Description(sum)
	if d == nil {
		var err error
		if d, err = program.Describe(ctx, c.options.Plugins.Version); err != nil {
			return nil, nil, err
		}
		_ = c.options.Plugins.Store.Keep(sum, d) // it is only asked again otherwise
	}
	p := named(d, name)
	if p == nil || len(d.GetPlugins()) != 1 || p.GetVersion() != version {
		return nil, nil, fmt.Errorf("it does not describe %s %s alone", name, version)
	}
	return p, program, nil
}

// takePlugin makes a plugin's checks ready. A check that does not fit this car's documents and
// channels is a fault of its own.
func (c *Car) takePlugin(p *pluginv1.Plugin, program *pluginhost.Program, where source.Pos) {
	types, err := c.folder.Types()
	if err != nil {
		return // a fault already
	}
	env, faults := expr.NewEnv(expr.Scope{Roots: types})
	c.fault(faults, nil)
	for _, w := range p.GetChecks() {
		k := &pluginCheck{card: pluginhost.Card(w), wire: w, plugin: p.GetName(), program: program, limits: map[string]pluginLimit{}}
		k.card.Where = where
		if err := c.fit(k, env, types); err != nil {
			c.faults = append(c.faults, check.ToolFault{Fault: source.Fault{Pos: where, What: w.GetId() + ": " + err.Error(), Remedy: "look at it by hand, and tell who made the plugin"}, Systems: []string{k.card.System}})
			continue
		}
		c.plugins = append(c.plugins, k)
	}
}

// fit holds what a check asks for to what there is.
func (c *Car) fit(k *pluginCheck, env *expr.Env, types map[string]*schema.Type) error {
	for _, p := range c.packs {
		for _, r := range p.Rules {
			if r.ID == k.card.ID {
				return fmt.Errorf("the pack %s has a rule of that name", p.Name)
			}
		}
	}
	if u := k.card.Unit; u != "" && u != "1" {
		var err error
		if k.unit, err = units.Lookup(u); err != nil {
			return err
		}
	}
	if text := k.wire.GetApplies(); text != "" && env != nil {
		prog, faults := env.Compile(&source.Node{Kind: source.Scalar, Pos: k.card.Where, Text: text}, expr.Truth)
		if len(faults) > 0 {
			return fmt.Errorf("applies: %s", faults[0].What)
		}
		k.applies = prog
	}
	for _, path := range k.wire.GetNeeds().GetDocuments() {
		if c.document(path) == nil {
			return fmt.Errorf("it reads %s, which no document has", path)
		}
	}
	for _, n := range k.wire.GetNeeds().GetChannels() {
		if err := c.fitChannel(n); err != nil {
			return err
		}
	}
	for _, l := range k.wire.GetNeeds().GetLimits() {
		shown, err := unitOfLimit(l)
		if err != nil {
			return fmt.Errorf("the limit %s: %w", l.GetName(), err)
		}
		own := pluginLimit{si: l.GetValue(), source: pluginhost.Source(l.GetSource()), where: k.card.Where}
		if shown.Symbol != "" {
			own.si = shown.SI(l.GetValue())
		}
		for _, o := range c.folder.Overrides {
			if o.Pack.Text == k.plugin && o.Limit.Text == l.GetName() {
				if err := own.replace(l, shown, o.Node, k.card.NoGo() || k.card.Source.Kind == "regulation"); err != nil {
					return fmt.Errorf("%s: %w", o.Limit.Pos, err)
				}
				own.where = o.Limit.Pos
			}
		}
		k.limits[l.GetName()] = own
	}
	return nil
}

// unitOfLimit is the unit a limit is declared in; none for a bare number. K is a difference.
func unitOfLimit(l *pluginv1.Limit) (units.Unit, error) {
	if l.GetUnit() == "" || l.GetUnit() == "1" {
		return units.Unit{}, nil
	}
	u, err := units.Lookup(l.GetUnit())
	if u.Symbol == "K" {
		u = u.AsDifference()
	}
	return u, err
}

// replace puts the team's value in the place of the plugin's. In a no-go item or a regulation
// it may only be tightened.
func (l *pluginLimit) replace(of *pluginv1.Limit, shown units.Unit, node *source.Node, strict bool) error {
	value := node.Get("value")
	if value == nil {
		return nil // the schema of limits.yaml has said so
	}
	q, err := units.Parse(value.Text)
	if err != nil {
		return err
	}
	if q.Type.Dim != shown.Type.Dim {
		return fmt.Errorf("%s is in %s, the limit %s in %s", value.Text, q.Type, of.GetName(), shown.Type)
	}
	looser := of.GetTighten() == "up" && q.SI < l.si || of.GetTighten() == "down" && q.SI > l.si
	switch {
	case strict && of.GetTighten() == "":
		return fmt.Errorf("the limit %s may not be changed", of.GetName())
	case strict && looser:
		return fmt.Errorf("%s is looser than the plugin's limit %s, which may only be tightened, %s", value.Text, of.GetName(), of.GetTighten())
	}
	l.si = q.SI
	if s := node.Get("source"); s != nil {
		l.source = check.Source{}
		for field, to := range map[string]*string{"kind": &l.source.Kind, "text": &l.source.Text, "confirmed": &l.source.Confirmed} {
			if n := s.Get(field); n != nil {
				*to = n.Text
			}
		}
	}
	return nil
}

// fitChannel refuses a channel that is of another quantity than the check takes it for.
func (c *Car) fitChannel(n *pluginv1.ChannelNeed) error {
	ch := c.folder.Channel(n.GetName())
	if ch == nil {
		return nil // not declared: it is not in the log
	}
	is := exprChannel(ch)
	switch n.GetQuantity() {
	case "yes-no":
		if is.Shape == expr.YesNo {
			return nil
		}
	case "count":
		if is.Shape == expr.Count {
			return nil
		}
	default:
		name := n.GetQuantity()
		switch n.GetReads() {
		case "gauge", "absolute":
			name = n.GetReads() + " " + name
		case "difference":
			name += " difference"
		}
		want, ok := schema.NamedQuantity(name)
		if n.GetQuantity() == "number" {
			want, ok = units.Number, true
		}
		if !ok {
			return fmt.Errorf("there is no quantity %q", name)
		}
		if is.Shape == expr.Number && units.Compare(is.Unit, want) == nil {
			return nil
		}
	}
	return fmt.Errorf("it takes the channel %s for %s, which it is not", n.GetName(), strings.TrimSpace(n.GetReads()+" "+n.GetQuantity()))
}

// document is the value at a path, nil where no document has it.
func (c *Car) document(path string) *schema.Value {
	root, rest, _ := strings.Cut(path, ".")
	v := c.evidence.Roots[root]
	if root == "channels" {
		if v = c.folder.Document("channels"); v != nil {
			v = v.Get("channels")
		}
	}
	if v == nil {
		return nil
	}
	return v.Get(rest)
}

// pluginCheck is a check of a plugin in use, nil where there is none of that name.
func (c *Car) pluginCheck(id string) *pluginCheck {
	i := slices.IndexFunc(c.plugins, func(k *pluginCheck) bool { return k.card.ID == id })
	if i < 0 {
		return nil
	}
	return c.plugins[i]
}

// health has every check of the sensors run, whatever is asked for, and takes what they call
// dead away from all that is asked of the logs after them.
func (c *Car) health(ctx context.Context) {
	var checks []check.Check
	for _, k := range c.plugins {
		if k.wire.GetHealth() {
			checks = append(checks, check.Check{Card: k.card, Run: func(ctx context.Context) []check.Result { return c.inspect(ctx, k) }})
		}
	}
	c.found = runChecks(ctx, checks, deadline)
	for i := range c.logs {
		var dead []runlog.Dead
		for _, k := range c.plugins {
			dead = append(dead, k.dead[i]...)
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
	return slices.DeleteFunc(slices.Clone(c.found), func(r check.Result) bool { return !c.asked(r.Card) })
}

// pluginChecks are the checks of plugins that the options ask for, without those that look at
// the sensors, which are through by then.
func (c *Car) pluginChecks() []check.Check {
	var out []check.Check
	for _, k := range c.plugins {
		if c.asked(&k.card) && !k.wire.GetHealth() {
			out = append(out, check.Check{Card: k.card, Run: func(ctx context.Context) []check.Result { return c.inspect(ctx, k) }})
		}
	}
	return out
}

// warm starts every program of which a check applies, side by side.
func (c *Car) warm(ctx context.Context) {
	for _, k := range c.plugins {
		if c.asked(&k.card) && c.applying(ctx, k) == nil && c.lacks(k) == "" {
			k.program.Warm()
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
	from := k.wire.GetNeeds().GetFrom()
	if len(from) == 0 {
		from = []string{"run"}
	}
	var out []int
	for i, l := range c.logs {
		if l != nil && l.data != nil && c.runners[i] != nil && slices.Contains(from, c.evidence.Logs[i].Kind) {
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

// inspect has a check run on every log that may answer and keeps the worst of what they say.
func (c *Car) inspect(ctx context.Context, k *pluginCheck) []check.Result {
	if r := c.applying(ctx, k); r != nil {
		return []check.Result{*r}
	}
	if why := c.lacks(k); why != "" {
		return []check.Result{{Card: &k.card, Outcome: check.NoData, Message: why, Note: why, Where: k.card.Where}}
	}
	logs := c.answering(k)
	if needs := k.wire.GetNeeds(); len(logs) == 0 || len(needs.GetChannels()) == 0 && !needs.GetAllChannels() {
		logs = []int{-1}
	}
	var out []check.Result
	for _, i := range logs {
		in, err := c.request(k, i)
		var found []*pluginv1.Result
		if err == nil {
			found, err = k.program.Inspect(ctx, k.wire, in)
		}
		if err != nil {
			return []check.Result{c.pluginBroke(k, err)}
		}
		for _, f := range found {
			for _, s := range f.GetDead() {
				if k.dead == nil {
					k.dead = map[int][]runlog.Dead{}
				}
				k.dead[i] = append(k.dead[i], runlog.Dead{Channel: s.GetChannel(), From: s.GetFrom(), To: s.GetTo(), Why: s.GetWhy()})
			}
			r := c.result(k, f, i)
			at := slices.IndexFunc(out, func(o check.Result) bool { return o.Position == r.Position })
			switch {
			case at < 0:
				out = append(out, r)
			case worse(r.Outcome, out[at].Outcome):
				out[at] = r
			}
		}
	}
	return out
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

func worse(a, b check.Outcome) bool {
	order := []check.Outcome{check.NotApplicable, check.Pass, check.Warn, check.NoData, check.Fail}
	return slices.Index(order, a) > slices.Index(order, b)
}

// request is what a check is handed: what it asked for and nothing else.
func (c *Car) request(k *pluginCheck, log int) (*pluginv1.InspectRequest, error) {
	needs := k.wire.GetNeeds()
	in := &pluginv1.InspectRequest{Check: k.card.ID, Today: c.asOf.In(zone(c.evidence.Roots["plan"])).Format("2006-01-02"), Run: int32(c.evidence.Run)}
	for _, path := range needs.GetDocuments() {
		v := c.document(path)
		text, err := schema.JSON(v)
		if err != nil {
			return nil, fmt.Errorf("%s cannot be handed over: %w", path, err)
		}
		in.Documents = append(in.Documents, &pluginv1.Document{Path: path, Json: text})
		in.NotFitted = append(in.NotFitted, notFitted(v, path)...)
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
	files, err := c.columnsOf(log)
	if err == nil {
		in.Log, err = files.hand(c.evidence.Logs[log].Kind, c.evidence.Logs[log].From.Run, slices.Compact(names))
	}
	if err != nil {
		return nil, fmt.Errorf("the log cannot be handed over: %w", err)
	}
	return in, nil
}

// columnsOf are the files of one log, in the host's private folder.
func (c *Car) columnsOf(log int) (*columnFiles, error) {
	c.handing.Lock()
	defer c.handing.Unlock()
	if f := c.columns[log]; f != nil {
		return f, nil
	}
	folder, err := c.options.Plugins.Host.Folder()
	if err == nil {
		folder, err = os.MkdirTemp(folder, "log-")
	}
	if err != nil {
		return nil, err
	}
	if c.columns == nil {
		c.columns = map[int]*columnFiles{}
	}
	c.columns[log] = &columnFiles{folder: folder, log: c.logs[log].data}
	return c.columns[log], nil
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

// result is a plugin's result as all results are: with its figures in the check's unit, its
// limit's source, and where the values it rests on are written.
func (c *Car) result(k *pluginCheck, f *pluginv1.Result, log int) check.Result {
	r := check.Result{Card: &k.card, Position: f.GetPosition(), Outcome: pluginhost.Outcome(f.GetOutcome()), Note: f.GetMessage(), Where: k.card.Where}
	of := func(si float64) float64 {
		if k.unit.Symbol == "" {
			return si
		}
		return k.unit.Of(si)
	}
	if at := f.GetAt(); at != nil {
		r.At = &check.At{Time: at.GetTime(), Within: at.GetWithin()}
	}
	if m := f.GetMeasured(); m != nil {
		r.Measured = &check.Measured{Value: of(middle(m.GetLow(), m.GetHigh())), Low: of(m.GetLow()), High: of(m.GetHigh()), Unit: k.unit.Symbol}
	}
	if b := f.GetLimit(); b != nil {
		l := check.Limit{Unit: k.unit.Symbol, Outcome: pluginhost.Outcome(b.GetMeans()), Source: k.card.Source, Where: k.card.Where}
		switch {
		case math.IsInf(b.GetLow(), -1):
			l.Kind, l.Value = "max", of(b.GetHigh())
		case math.IsInf(b.GetHigh(), 1):
			l.Kind, l.Value = "min", of(b.GetLow())
		default:
			l.Kind, l.Value, l.Upper = "a to b", of(b.GetLow()), of(b.GetHigh())
		}
		if named, ok := k.limits[b.GetName()]; ok {
			l.Source, l.Where = named.source, named.where
		} else if b.GetSource() != nil {
			l.Source = pluginhost.Source(b.GetSource())
		}
		r.Limit = &l
		if m := f.GetMeasured(); m != nil && r.Outcome != check.NoData {
			at := middle(m.GetLow(), m.GetHigh())
			margin := min(at-b.GetLow(), b.GetHigh()-at)
			if k.unit.Symbol != "" {
				margin = k.unit.AsDifference().Of(margin)
			}
			r.Margin = &margin
		}
	}
	for _, s := range f.GetUnseen() {
		r.Unseen = append(r.Unseen, check.Unseen{Channel: s.GetChannel(), From: s.GetFrom(), To: s.GetTo(), Why: s.GetWhy()})
	}
	if r.Measured != nil {
		r.Message = pack.Words(*r.Measured, r.Limit, r.At)
	}
	for _, words := range []string{f.GetMessage(), eitherWay(f)} {
		if words != "" {
			r.Message = strings.TrimPrefix(r.Message+"; "+words, "; ")
		}
	}
	r.Note = strings.Trim(f.GetMessage()+"; "+eitherWay(f), "; ")
	for _, path := range f.GetInputs() {
		if v := c.document(path); v != nil && !v.Unknown {
			r.Inputs = append(r.Inputs, check.Input{Path: path, Value: v.Text, Where: v.Pos})
		}
	}
	switch {
	case log >= 0:
		r.From = c.evidence.Logs[log].From
	case len(r.Inputs) > 0:
		r.From = check.From{Kind: "document"}
		if record := c.document(r.Inputs[0].Path).Record; record != "" {
			r.From = check.From{Kind: "record", Record: record}
		}
		if r.Inputs[0].Where.Line > 0 {
			r.Where = r.Inputs[0].Where
		}
	}
	return r
}

// eitherWay says that something was missing and that it does not matter.
func eitherWay(f *pluginv1.Result) string {
	o := pluginhost.Outcome(f.GetOutcome())
	if len(f.GetDespite()) == 0 || o != check.Pass && o != check.Warn && o != check.Fail {
		return ""
	}
	var names []string
	for _, s := range f.GetUnseen() {
		if !slices.Contains(names, s.GetChannel()) {
			names = append(names, s.GetChannel())
		}
	}
	if len(names) == 0 {
		return ""
	}
	slices.Sort(names)
	return "holds either way, " + strings.Join(names, ", ") + " unseen"
}

// middle is the middle of two bounds, or the one that is finite.
func middle(low, high float64) float64 {
	switch {
	case low == high, math.IsInf(high, 1):
		return low
	case math.IsInf(low, -1):
		return high
	}
	return low + (high-low)/2
}
