// Paintmark says whether a competition car may go out: it reads the car's documents,
// records and run logs, evaluates every rule that applies, and reports item by item.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"runtime"
	"runtime/debug"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"github.com/paintmark/paintmark/internal/pluginhost"
	"github.com/paintmark/paintmark/plugins"
	"github.com/paintmark/paintmark/plugins/sdk"
)

// version of the program, named in every JSON report.
const version = "0.1.0"

// The exit codes. A fault comes before everything else.
const (
	exitReady      = 0
	exitNoGo       = 1
	exitFault      = 2
	exitNeedsNames = 3
	exitPart       = 4 // a part look in which nothing is open
)

// collectLate keeps the collector from running while there is little to collect. Once it has run, it runs as ever.
func collectLate() {
	usual := debug.SetGCPercent(pluginhost.CollectLate)
	if usual == pluginhost.CollectLate { // the host's word, not the user's
		usual = 100
	}
	runtime.AddCleanup(new(*int), func(int) { debug.SetGCPercent(usual) }, 0)
}

func main() {
	collectLate()
	if sdk.Asked() { // started by another one of us, for its plugins
		sdk.Main(plugins.Bundled()...)
	}
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	context.AfterFunc(ctx, stop) // whoever stops it twice does not want to wait
	code := run(ctx, os.Args[1:], os.Stdout, os.Stderr)
	stop()
	os.Exit(code)
}

// exitCode is how a command ends a run that is no error of its own.
type exitCode int

func (c exitCode) Error() string { return fmt.Sprintf("exit code %d", int(c)) }

// run is the whole program but for the process around it.
func run(ctx context.Context, args []string, stdout, stderr io.Writer) int {
	host := pluginhost.New(pluginhost.DefaultLimits)
	defer host.Close()
	return runWith(ctx, host, args, stdout, stderr)
}

// runWith runs a command with a host for its plugins.
func runWith(ctx context.Context, host *pluginhost.Host, args []string, stdout, stderr io.Writer) int {
	root := newRoot()
	root.SetArgs(below(args))
	root.SetOut(stdout)
	root.SetErr(stderr)
	ctx, end := context.WithCancel(ctx)
	defer end() // lets go of the folder
	err := root.ExecuteContext(context.WithValue(ctx, hostKey{}, host))
	var code exitCode
	switch {
	case err == nil:
		return exitReady
	case errors.As(err, &code):
		return int(code)
	}
	fmt.Fprintln(stderr, "paintmark:", strings.ReplaceAll(err.Error(), "\n", "\npaintmark: "))
	return exitFault
}

// minus stands before a negative value on its way past the reader of flags, to which
// -3.4deg is a string of flags. typed puts the sign back.
const minus = "\u2212"

// below marks the values below zero among the words of a command line.
func below(args []string) []string {
	out := slices.Clone(args)
	for i, a := range out {
		if len(a) > 1 && a[0] == '-' && (a[1] >= '0' && a[1] <= '9' || a[1] == '.') {
			out[i] = minus + a[1:]
		}
	}
	return out
}

// typed gives words as they were typed.
func typed(words []string) []string {
	out := slices.Clone(words)
	for i, w := range out {
		if rest, ok := strings.CutPrefix(w, minus); ok {
			out[i] = "-" + rest
		}
	}
	return out
}

func newRoot() *cobra.Command {
	root := &cobra.Command{
		Use:   "paintmark",
		Short: "say whether the car may go out, item by item",
		Long: `Paintmark reads a car's folder and its last run's log, goes through every rule
that applies, and says NO-GO, NEEDS NAMES or READY, with the reasons.
Advice only: the responsible engineer and the scrutineer decide.`,
		SilenceErrors:     true,
		SilenceUsage:      true,
		CompletionOptions: cobra.CompletionOptions{HiddenDefaultCmd: true},
		Args:              knownCommand,
		RunE:              func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	cobra.EnableCommandSorting = false // the order of use
	root.SetHelpFunc(help)
	root.SetHelpCommand(&cobra.Command{Hidden: true})
	root.SetFlagErrorFunc(func(c *cobra.Command, err error) error {
		return fmt.Errorf("%w; see %s --help", err, c.CommandPath())
	})
	root.AddCommand(checkCommand(), inCommand(), noteCommand(), setupCommand(), doneCommand(), weatherCommand(), baselineCommand(), faultCommand(), jobCommand(), signCommand(), acceptCommand(), lockoutCommand(), bringCommand(), lifeCommand(), whyCommand(), channelsCommand(), newCommand(), demoCommand(), packCommand(), pluginCommand(), versionCommand())
	return root
}

// knownCommand refuses a first word that is no command, with the nearest one.
func knownCommand(c *cobra.Command, args []string) error {
	if len(args) == 0 {
		return nil
	}
	if near := c.SuggestionsFor(args[0]); len(near) > 0 {
		return fmt.Errorf("no command %q; did you mean %s", args[0], near[0])
	}
	return fmt.Errorf("no command %q; see %s --help", args[0], c.CommandPath())
}

func versionCommand() *cobra.Command {
	return &cobra.Command{
		Use:     "version",
		Short:   "print the version",
		Long:    "Prints the version, as it stands in every JSON report.",
		Example: "paintmark version",
		Args:    cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			_, err := fmt.Fprintln(c.OutOrStdout(), "paintmark", version)
			return err
		},
	}
}
