package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/pluginhost"
	"github.com/paintmark/paintmark/internal/readiness"
	"github.com/paintmark/paintmark/plugins"
	"github.com/paintmark/paintmark/plugins/sdk"
	pluginv1 "github.com/paintmark/paintmark/schemas/plugin/v1"
)

// hostKey is where a command finds the host of its plugins.
type hostKey struct{}

// letPluginsGo ends the plugins of a command that asks them no more, while it goes on.
func letPluginsGo(ctx context.Context) {
	if host, ok := ctx.Value(hostKey{}).(*pluginhost.Host); ok {
		go host.Close()
	}
}

// pluginsOf are the plugins a command may ask.
func pluginsOf(ctx context.Context) *readiness.Plugins {
	host, ok := ctx.Value(hostKey{}).(*pluginhost.Host)
	if !ok {
		return nil
	}
	p := &readiness.Plugins{Host: host, Bundled: sdk.Describe(plugins.Bundled()...), Version: version}
	if store, err := pluginhost.NewStore(); err == nil {
		p.Store = store
	}
	return p
}

func pluginCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "plugin",
		Short: "see what looks beside the rules; admit a program of your own",
		Long: `Some checks need more than an expression: plugins compute them, in a process of their
own. Those that are bundled need only be named under plugins in limits.yaml. A program
from outside has to be admitted first, by its content.`,
		Example: "paintmark plugin list",
		Args:    cobra.NoArgs,
		RunE:    func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	c.AddCommand(pluginListCommand(), pluginAdmitCommand())
	return c
}

func pluginListCommand() *cobra.Command {
	return &cobra.Command{
		Use:   "list [DIR]",
		Short: "list the plugins, and which of them the car has in use",
		Long: `Lists the bundled plugins and those the car in DIR, or in the folder you are in, has
admitted, with their checks. Nothing is started.`,
		Example: "paintmark plugin list testdata/cars/tern-3",
		Args:    atMostOneFolder("plugin list"),
		RunE: func(c *cobra.Command, args []string) error {
			folder, _ := car.Open(folder(args))
			p := pluginsOf(c.Context())
			var titles, words []string
			row := func(plugin *pluginv1.Plugin, from string) {
				use := "not in use"
				if slices.ContainsFunc(folder.Plugins, func(t car.Text) bool { return t.Text == plugin.GetName() }) {
					use = "in use"
				}
				titles, words = append(titles, plugin.GetName()+" "+plugin.GetVersion()), append(words, from+", "+use)
				for _, k := range plugin.GetChecks() {
					titles, words = append(titles, "  "+k.GetId()), append(words, k.GetItem())
				}
			}
			for _, b := range p.Bundled.GetPlugins() {
				row(b, "bundled")
			}
			for _, a := range admitted(folder) {
				plugin := &pluginv1.Plugin{Name: a.name, Version: a.version}
				from := "not on this machine"
				if p.Store != nil && a.sum != "" {
					if _, there := p.Store.Program(a.sum); there {
						from = "admitted"
						if d := p.Store.Description(a.sum); len(d.GetPlugins()) == 1 {
							plugin = d.GetPlugins()[0]
						}
					}
				}
				row(plugin, from)
			}
			start := 0
			for _, t := range titles {
				start = max(start, len(t)+2)
			}
			for i, t := range titles {
				for _, line := range beside(t, start, words[i]) {
					fmt.Fprintln(c.OutOrStdout(), strings.TrimRight(line, " "))
				}
			}
			return nil
		},
	}
}

// admittedPlugin is a line of admitted.yaml as this machine sees it.
type admittedPlugin struct{ name, version, sum string }

func admitted(folder *car.Folder) []admittedPlugin {
	var out []admittedPlugin
	if d := folder.Document("admitted"); d != nil {
		for _, v := range d.Get("plugins").Items {
			a := admittedPlugin{name: v.Get("name").Text, version: v.Get("version").Text}
			if s := v.Get("sha256").Get(pluginhost.Platform()); s != nil && !s.Unknown {
				a.sum = s.Text
			}
			out = append(out, a)
		}
	}
	return out
}

func pluginAdmitCommand() *cobra.Command {
	var dir string
	c := &cobra.Command{
		Use:   "admit FILE",
		Short: "look at a program and write down that it may run",
		Long: `Starts the program FILE once, says what it checks and what it asks to see, keeps a copy
on this machine and writes its name, version and SHA-256 into admitted.yaml. From then
on only a program with these very bytes is run under that name. It runs as you: admit
what you trust.`,
		Example: "paintmark plugin admit build/damper-spread --car testdata/cars/tern-3",
		Args:    cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			p := pluginsOf(c.Context())
			if p.Store == nil {
				return errors.New("there is no folder to keep programs in; set HOME or XDG_CACHE_HOME")
			}
			sum, err := p.Store.Add(args[0])
			if err != nil {
				return fmt.Errorf("%s: %s", args[0], why(err))
			}
			path, _ := p.Store.Program(sum)
			d, err := p.Host.Outside(filepath.Base(args[0]), path, sum).Describe(c.Context(), version)
			if err != nil {
				return fmt.Errorf("%s: %w", args[0], err)
			}
			if len(d.GetPlugins()) != 1 {
				return fmt.Errorf("%s describes %d plugins; a program of your own has one", args[0], len(d.GetPlugins()))
			}
			plugin := d.GetPlugins()[0]
			for _, b := range p.Bundled.GetPlugins() {
				if b.GetName() == plugin.GetName() {
					return fmt.Errorf("%s calls itself %s, as a bundled plugin is called; give it another name", args[0], plugin.GetName())
				}
			}
			if err := p.Store.Keep(sum, d); err != nil {
				return fmt.Errorf("its description cannot be kept: %s", why(err))
			}
			if err := writeAdmitted(dir, plugin, sum); err != nil {
				return err
			}
			tellAdmitted(c, plugin)
			return nil
		},
	}
	c.Flags().StringVar(&dir, "car", ".", "`DIR` of the car that is to have it")
	return c
}

func tellAdmitted(c *cobra.Command, p *pluginv1.Plugin) {
	out := c.OutOrStdout()
	fmt.Fprintf(out, "%s %s admitted for %s\n", p.GetName(), p.GetVersion(), pluginhost.Platform())
	for _, k := range p.GetChecks() {
		fmt.Fprintf(out, "  %s: %s\n", k.GetId(), k.GetItem())
		sees := slices.Clone(k.GetNeeds().GetDocuments())
		for _, n := range k.GetNeeds().GetChannels() {
			sees = append(sees, n.GetName())
		}
		if k.GetNeeds().GetAllChannels() {
			sees = append(sees, "every channel")
		}
		if len(sees) > 0 {
			fmt.Fprintf(out, "    sees %s\n", strings.Join(sees, ", "))
		}
	}
	fmt.Fprintf(out, "written to admitted.yaml; to have it look, name %s under plugins in limits.yaml\n", p.GetName())
}

// writeAdmitted writes admitted.yaml again with one plugin more, or with its new version; a
// version that is there already gets this platform's digest beside the others.
func writeAdmitted(dir string, p *pluginv1.Plugin, sum string) error {
	folder, faults := car.Open(dir)
	for _, f := range faults {
		if f.Pos.File == "admitted.yaml" {
			return fmt.Errorf("%w; put it right first", f)
		}
	}
	if folder.Document("car") == nil {
		return fmt.Errorf("%s is no car folder; name it with --car", dir)
	}
	var b strings.Builder
	b.WriteString("# Programs from outside that may run for this car. Written by: paintmark plugin admit FILE\nplugins:\n")
	line := func(name, version string, sums []string) {
		fmt.Fprintf(&b, "  - name: %s\n    version: %q\n    sha256: {%s}\n", name, version, strings.Join(sums, ", "))
	}
	own := []string{pluginhost.Platform() + ": " + sum}
	if d := folder.Document("admitted"); d != nil {
		for _, v := range d.Get("plugins").Items {
			var sums []string
			digests := v.Get("sha256")
			for _, platform := range digests.Keys {
				if platform != pluginhost.Platform() || v.Get("name").Text != p.GetName() {
					sums = append(sums, platform+": "+digests.Get(platform).Text)
				}
			}
			switch {
			case v.Get("name").Text != p.GetName():
				line(v.Get("name").Text, v.Get("version").Text, sums)
			case v.Get("version").Text == p.GetVersion():
				own = append(own, sums...)
			}
		}
	}
	slices.Sort(own)
	line(p.GetName(), p.GetVersion(), own)
	name := filepath.Join(dir, "admitted.yaml")
	if err := os.WriteFile(name+".new", []byte(b.String()), 0o666); err != nil {
		return fmt.Errorf("admitted.yaml cannot be written: %s", why(err))
	}
	return os.Rename(name+".new", name)
}
