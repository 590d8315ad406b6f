package readiness

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/expr"
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
	said    *said                 // where it was asked before its turn
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
	types, err := c.folder.Types()
	if err != nil || len(c.folder.Plugins) == 0 {
		return // a fault already, or nobody is asked
	}
	env, faults := expr.NewEnv(expr.Scope{Roots: types})
	c.fault(faults, nil)
	seen := map[string]bool{}
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
		if p := describedAs(c.options.Plugins.Bundled, name.Text); p != nil {
			own, err := c.options.Plugins.Host.Own()
			if err != nil {
				fail("the plugin "+name.Text+" cannot be started: "+err.Error(), "")
				continue
			}
			c.takePlugin(p, own, name.Pos, env)
			continue
		}
		p, program, err := c.outside(ctx, name.Text)
		if err != nil {
			fail("plugin "+name.Text+": "+err.Error(), c.bundledRemedy(name.Text))
			continue
		}
		c.takePlugin(p, program, name.Pos, env)
	}
}

// describedAs is a plugin of a description, nil where it has none of that name.
func describedAs(d *pluginv1.Description, name string) *pluginv1.Plugin {
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

// bundledCheck finds a check of a bundled plugin, whether it is in use or not, and the plugin's name.
func (c *Car) bundledCheck(id string) (plugin string, k *pluginv1.Check) {
	if c.options.Plugins == nil {
		return "", nil
	}
	for _, p := range c.options.Plugins.Bundled.GetPlugins() {
		for _, k := range p.GetChecks() {
			if k.GetId() == id {
				return p.GetName(), k
			}
		}
	}
	return "", nil
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
	p := describedAs(d, name)
	if p == nil || len(d.GetPlugins()) != 1 || p.GetVersion() != version {
		return nil, nil, fmt.Errorf("it does not describe %s %s alone", name, version)
	}
	return p, program, nil
}

// takePlugin makes a plugin's checks ready. A check that does not fit this car's documents and
// channels is a fault of its own.
func (c *Car) takePlugin(p *pluginv1.Plugin, program *pluginhost.Program, where source.Pos, env *expr.Env) {
	var limits []string
	applies := conditions(env, where)
	for _, w := range p.GetChecks() {
		limits = append(limits, limitNames(w)...)
		k := &pluginCheck{card: pluginhost.Card(w), wire: w, plugin: p.GetName(), program: program, limits: map[string]pluginLimit{}}
		k.card.Where = where
		if err := c.fit(k, applies); err != nil {
			c.faults = append(c.faults, check.ToolFault{Fault: source.Fault{Pos: where, What: w.GetId() + ": " + err.Error(), Remedy: "look at it by hand, and tell who made the plugin"}, Systems: []string{k.card.System}})
			continue
		}
		c.plugins = append(c.plugins, k)
	}
	for _, o := range c.folder.Overrides {
		if o.Pack.Text == p.GetName() && !slices.Contains(limits, o.Limit.Text) && !c.packHas(o) {
			c.fault(source.Faults{{Pos: o.Limit.Pos, What: fmt.Sprintf("%q is not a limit of %s", o.Limit.Text, p.GetName()), Remedy: nearestOf(o.Limit.Text, limits)}}, nil)
		}
	}
}

func limitNames(k *pluginv1.Check) []string {
	var out []string
	for _, l := range k.GetNeeds().GetLimits() {
		out = append(out, l.GetName())
	}
	return out
}

// packHas says that a team's limit is one of a pack in use. Where a plugin has the pack's name, the
// pack comes first.
func (c *Car) packHas(o car.Override) bool { return c.parsed.HasLimit(o.Pack.Text, o.Limit.Text) }

// nearestOf names what was probably meant, else all there are.
func nearestOf(name string, all []string) string {
	if n := source.Nearest(name, all); n != "" {
		return "did you mean " + n
	}
	return "there are " + strings.Join(all, ", ")
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
	if root == "baseline" {
		v = c.folder.BaselineInSI(v)
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
