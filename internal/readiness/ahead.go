package readiness

import (
	"context"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/source"
)

// What of a look is done before its turn, where one follows: reading documents, compiling packs and working out lives leave
// a processor idle, in which logs can be read and their sensors looked at.

// startPlugins starts the program that serves the bundled plugins where one of those in use looks at every car: it begins
// while documents are read.
func (o *Options) startPlugins(dir string) {
	if o.Plugins == nil || o.Moment != "" || len(o.Part) > 0 {
		return // whether one is asked at all is told by its checks
	}
	for _, name := range car.PluginsNamed(os.DirFS(dir)) {
		for _, k := range describedAs(o.Plugins.Bundled, name).GetChecks() {
			if needs := k.GetNeeds(); k.GetApplies() == "" && len(needs.GetChannels()) == 0 && !needs.GetAllChannels() {
				if own, err := o.Plugins.Host.Own(); err == nil {
					own.Warm()
				}
				return
			}
		}
	}
}

// readLogs begins to read the newest run's logs, one after the other. What is wrong with them is told in their turn.
func (c *Car) readLogs(ctx context.Context) {
	c.logsAhead = map[string]func() (*openedLog, source.Faults){}
	if c.options.Log != "" {
		return // whether it is the newest run's is told by what is in it
	}
	var all []func() (*openedLog, source.Faults)
	for _, w := range newestLogs(c.folder, c.folder.NewestRun(c.asOf)) {
		path := c.logPath(w)
		read := sync.OnceValues(func() (*openedLog, source.Faults) { return c.readLog(ctx, path, w) })
		c.logsAhead[path], all = read, append(all, read)
	}
	go func() {
		for _, read := range all {
			_, _ = read()
		}
	}()
}

func (c *Car) logPath(w wantedLog) string {
	folder := filepath.FromSlash(c.options.Logs)
	if !filepath.IsAbs(folder) {
		folder = filepath.Join(c.dir, folder)
	}
	return filepath.Join(folder, filepath.FromSlash(w.file))
}

// askOfSensors asks the checks of sensors that need no rule and no life. They are answered in their turn.
func (c *Car) askOfSensors(ctx context.Context) {
	next := make(chan *pluginCheck)
	var workers sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		workers.Go(func() {
			for k := range next {
				c.askEarly(ctx, k)
			}
		})
	}
	for _, k := range c.plugins {
		lives := slices.ContainsFunc(k.wire.GetNeeds().GetDocuments(), func(d string) bool { return d == "life" || strings.HasPrefix(d, "life.") })
		if k.wire.GetHealth() && k.applies == nil && !lives {
			next <- k
		}
	}
	close(next)
	workers.Wait()
}

// askEarly keeps what a check said. Where asking breaks it is asked again in its turn, which says so.
func (c *Car) askEarly(ctx context.Context, k *pluginCheck) {
	defer func() { _ = recover() }()
	ctx, cancel := context.WithTimeout(ctx, deadline)
	defer cancel()
	said := c.question(ctx, k)
	k.said = &said
}
