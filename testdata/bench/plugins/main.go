// Plugins measures what plugins cost: starting and using all bundled ones beside starting and ending
// one bare go-plugin process, and handing a check ten kept columns of 1.8 million samples beside the
// same call without them. In turns, medians. Run it in the folder above: go run ./plugins
package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/hashicorp/go-hclog"
	"github.com/hashicorp/go-plugin"

	"github.com/paintmark/paintmark/internal/pluginhost"
	"github.com/paintmark/paintmark/internal/runlog"
	"github.com/paintmark/paintmark/plugins/sdk"
	pluginv1 "github.com/paintmark/paintmark/schemas/plugin/v1"
	"github.com/paintmark/paintmark/testdata/bench/pairs"
)

const (
	turns    = 41
	rows     = 1_800_000
	channels = 10
)

func main() {
	if sdk.Asked() {
		sdk.Main(handed())
	}
	if err := run(context.Background()); err != nil {
		fmt.Fprintln(os.Stderr, "plugins:", err)
		os.Exit(1)
	}
}

func run(ctx context.Context) error {
	dir, err := os.MkdirTemp("", "bench")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	if err := starting(dir); err != nil {
		return err
	}
	return handing(ctx, dir)
}

// starting compares what the bundled plugins add to a whole check of the demo car with one bare process.
func starting(dir string) error {
	paintmark, bare := pairs.Program(filepath.Join(dir, "paintmark")), pairs.Program(filepath.Join(dir, "bare"))
	if err := errors.Join(pairs.Build("../..", paintmark, "./cmd/paintmark"), pairs.Build(".", bare, "./plugins/bare")); err != nil {
		return err
	}
	with, without := filepath.Join(dir, "with"), filepath.Join(dir, "without")
	for _, car := range []string{with, without} {
		if out, err := exec.Command(paintmark, "demo", car, "--healthy").CombinedOutput(); err != nil {
			return fmt.Errorf("%w: %s", err, out)
		}
	}
	limits := filepath.Join(without, "limits.yaml")
	text, err := os.ReadFile(limits)
	if err != nil {
		return err
	}
	line := "plugins: ["
	at := strings.Index(string(text), line)
	if at < 0 {
		return errors.New("the demo car has no plugins in use")
	}
	end := at + strings.IndexByte(string(text[at:]), '\n')
	names := strings.TrimSuffix(string(text[at+len(line):end]), "]")
	if err := os.WriteFile(limits, slices.Concat(text[:at], []byte("plugins: []"), text[end:]), 0o600); err != nil {
		return err
	}
	check := func(car string) func() error {
		return func() error {
			c := exec.Command(paintmark, "check", car)
			c.Env = append(os.Environ(), "XDG_CACHE_HOME="+filepath.Join(dir, "cache"))
			return c.Run()
		}
	}
	took, err := inTurns(check(with), check(without), func() error { return startBare(bare) })
	if err != nil {
		return err
	}
	add := make([]float64, len(took[0])) // in each turn, for a machine is not as fast in all of them
	for i := range add {
		add[i] = took[0][i] - took[1][i]
	}
	fmt.Printf("one bare go-plugin process, started and ended: %.1f ms\n", median(took[2]))
	fmt.Printf("a check of the demo car: %.1f ms; with %s: %.1f ms\n", median(took[1]), names, median(took[0]))
	fmt.Printf("  starting and using them: %.1f ms, %.2f of the bare process (at most 3)\n", median(add), median(add)/median(took[2]))
	return nil
}

func startBare(program string) error {
	client := plugin.NewClient(&plugin.ClientConfig{
		HandshakeConfig:  plugin.HandshakeConfig{ProtocolVersion: 1, MagicCookieKey: "BARE", MagicCookieValue: "bare"},
		Plugins:          plugin.PluginSet{},
		Cmd:              exec.Command(program),
		AllowedProtocols: []plugin.Protocol{plugin.ProtocolGRPC},
		Logger:           hclog.NewNullLogger(),
	})
	defer client.Kill()
	protocol, err := client.Client()
	if err != nil {
		return err
	}
	return protocol.Ping()
}

// handed is a plugin that does nothing with ten channels, looks at them, or does not have them.
func handed() *sdk.Plugin {
	check := func(id string, needs sdk.Needs, run func(ev *sdk.Evidence) float64) *sdk.Check {
		return &sdk.Check{
			ID: "handed." + id, Item: "an item", System: "engine", Moments: []sdk.Moment{sdk.Run}, Do: "Look.", Source: sdk.Source{Kind: "practice"}, Needs: needs,
			Run: func(_ context.Context, ev *sdk.Evidence) ([]sdk.Result, error) {
				return sdk.One(sdk.Result{Outcome: sdk.Pass, Message: strconv.FormatFloat(run(ev), 'g', -1, 64)})
			},
		}
	}
	ten := sdk.Needs{}
	for i := range channels {
		ten.Channels = append(ten.Channels, sdk.ChannelNeed{Name: name(i), Quantity: "number"})
	}
	sum := func(ev *sdk.Evidence, each int) (sum float64) {
		for i := range channels {
			values := ev.Channel(name(i)).Values
			for k := 0; k < len(values); k += each {
				sum += values[k]
			}
		}
		return sum
	}
	return &sdk.Plugin{Name: "handed", Version: "1.0.0", Checks: []*sdk.Check{
		check("without", sdk.Needs{}, func(*sdk.Evidence) float64 { return 0 }),
		check("ten", ten, func(*sdk.Evidence) float64 { return 0 }),
		check("opened", ten, func(ev *sdk.Evidence) float64 { return sum(ev, rows) }),
		check("summed", ten, func(ev *sdk.Evidence) float64 { return sum(ev, 1) }),
	}}
}

func name(i int) string { return fmt.Sprintf("c%d", i) }

// handing compares calls of a plugin with and without ten kept columns.
func handing(ctx context.Context, dir string) error {
	cache, log, err := keptLog(ctx, dir)
	if err != nil {
		return err
	}
	// request is what the host builds for each call, the places of the columns included.
	request := func(id string) (*pluginv1.InspectRequest, error) {
		in := &pluginv1.InspectRequest{Check: "handed." + id}
		if id == "without" {
			return in, nil
		}
		in.Log = &pluginv1.Log{Kind: "run", End: rows / 1000.}
		var ok bool
		if in.Log.Times, ok = cache.Times(log.SHA256); !ok {
			return nil, errors.New("the times are not kept")
		}
		for i := range channels {
			f, ok := cache.File(log.SHA256, &runlog.Channel{Name: name(i), InLog: name(i), Unit: "1"})
			if !ok {
				return nil, errors.New("a column is not kept")
			}
			in.Log.Columns = append(in.Log.Columns, &pluginv1.Column{Name: name(i), Path: f.Path, Scale: f.Scale, Offset: f.Offset, Period: 1e-3, Hold: 3e-3})
		}
		return in, nil
	}
	ask := func(p *pluginhost.Program, id string) error {
		in, err := request(id)
		if err != nil {
			return err
		}
		_, err = p.Inspect(ctx, &pluginv1.Check{Id: "handed." + id}, in)
		return err
	}
	whole := func(id string) func() error { // as one look does: start, ask, end
		return func() error {
			host := pluginhost.New(pluginhost.DefaultLimits)
			defer host.Close()
			p, err := host.Own()
			if err != nil {
				return err
			}
			return ask(p, id)
		}
	}
	host := pluginhost.New(pluginhost.DefaultLimits)
	defer host.Close()
	p, err := host.Own()
	if err != nil {
		return err
	}
	warm := func(id string) func() error { return func() error { return ask(p, id) } }
	took, err := inTurns(whole("without"), whole("ten"), whole("opened"), whole("summed"), warm("without"), warm("ten"), warm("opened"), warm("summed"))
	if err != nil {
		return err
	}
	fmt.Printf("ten kept columns of %d samples handed to a check\n", rows)
	for i, what := range []string{"started, asked and ended", "asked again"} {
		var t [4]float64
		for k := range t {
			t[k] = median(took[4*i+k])
		}
		fmt.Printf("  %s: %.2f ms without them, %.2f ms with them (%.3f of it; at most 1.1 of the whole call), %.2f ms opened, %.2f ms summed\n", what, t[0], t[1], t[1]/t[0], t[2], t[3])
	}
	return nil
}

// keptLog is a log of ten channels that is in a cache.
func keptLog(ctx context.Context, dir string) (*runlog.Cache, runlog.Stored, error) {
	path := filepath.Join(dir, "log.csv")
	file, err := os.Create(path)
	if err != nil {
		return nil, runlog.Stored{}, err
	}
	w := bufio.NewWriterSize(file, 1<<20)
	w.WriteString("time")
	for i := range channels {
		w.WriteString("," + name(i))
	}
	w.WriteString("\ns" + strings.Repeat(",1", channels) + "\n")
	line := make([]byte, 0, 256)
	for row := range rows {
		line = strconv.AppendFloat(line[:0], float64(row)/1000, 'f', 3, 64)
		for i := range channels {
			line = append(line, ',')
			line = strconv.AppendInt(line, int64((row*7+i*13)%1000), 10)
		}
		w.Write(append(line, '\n'))
	}
	if err := errors.Join(w.Flush(), file.Close()); err != nil {
		return nil, runlog.Stored{}, err
	}
	cache := runlog.NewCache(filepath.Join(dir, "columns"), 0)
	log, err := cache.Digest(path, false)
	if err != nil {
		return nil, log, err
	}
	if _, faults := cache.Read(ctx, log, runlog.Options{}); len(faults) > 0 {
		return nil, log, faults.Err()
	}
	return cache, log, cache.Trouble()
}

// inTurns does things one after the other, again and again, and gives how long each took in each turn, ms.
func inTurns(things ...func() error) ([][]float64, error) {
	all := make([][]float64, len(things))
	for turn := range turns + 1 {
		for i, do := range things {
			start := time.Now()
			if err := do(); err != nil {
				return nil, err
			}
			if turn > 0 { // the first one warms up
				all[i] = append(all[i], time.Since(start).Seconds()*1000)
			}
		}
	}
	return all, nil
}

func median(times []float64) float64 {
	times = slices.Sorted(slices.Values(times))
	return times[len(times)/2]
}
