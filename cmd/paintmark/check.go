package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/readiness"
	"github.com/paintmark/paintmark/internal/report"
	"github.com/paintmark/paintmark/internal/source"
)

func checkCommand() *cobra.Command {
	var options readiness.Options
	var moment, asOf, format string
	var all bool
	c := &cobra.Command{
		Use:   "check [DIR]",
		Short: "look over the car and say what stops it",
		Long: `Looks over the car in DIR, or in the folder you are in, by its newest run, and says
NO-GO, NEEDS NAMES or READY, with what to do about it. Looking at less than the whole
car gives no verdict.

Exit codes: 0 READY, 1 NO-GO, 2 a fault of the tool or its inputs, 3 NEEDS NAMES,
4 a part look in which nothing is open.`,
		Example: `paintmark check testdata/cars/tern-3
paintmark check --part wing --part hydraulics
paintmark check --log warm-up=logs/warm.csv
paintmark check --format json > report.json`,
		Args: atMostOneFolder("check"),
		RunE: func(c *cobra.Command, args []string) error {
			dir := folder(args)
			if err := askWhat(&options, moment, asOf); err != nil {
				return err
			}
			if err := askLog(&options); err != nil {
				return err
			}
			if format != "text" && format != "json" {
				return fmt.Errorf("no format %q; there are text and json", format)
			}
			options.Ahead, options.Answered = true, func() { letPluginsGo(c.Context()) }
			car, err := openCar(c, dir, options)
			if err != nil {
				return err
			}
			look := car.Look(c.Context())
			if err := stopped(c); err != nil {
				return err
			}
			tellClock(c, look)
			if format == "json" {
				err = report.JSON(c.OutOrStdout(), look, version)
			} else {
				err = report.Text(c.OutOrStdout(), look, report.Options{All: all, Colour: report.ColourWanted()})
			}
			if err != nil {
				return err
			}
			return verdictCode(look)
		},
	}
	f := c.Flags()
	f.StringArrayVar(&options.Part, "part", nil, "look only at this `SYSTEM` or rule; may be given again")
	f.StringVar(&moment, "moment", "", "look only at the items of one `MOMENT`: commit, paddock or run")
	f.StringVar(&options.Log, "log", "", "let this `LOG` answer instead of the newest run's; KIND=LOG where it is not of a run: cold, stands, warm-up, return")
	f.StringVar(&asOf, "as-of", "", "count ages to this `TIME` (2026-05-16T09:49+01:00) instead of the newest record's")
	f.BoolVar(&all, "all", false, "list every item, also those that pass with room")
	f.StringVar(&format, "format", "text", "`FORMAT` of the report: text or json")
	noCacheFlag(c)
	return c
}

// askWhat takes in what the flags say in words.
func askWhat(options *readiness.Options, moment, asOf string) error {
	moments := []string{string(check.Commit), string(check.Paddock), string(check.Run)}
	if moment != "" && !slices.Contains(moments, moment) {
		return fmt.Errorf("no moment %q; there are %s", moment, strings.Join(moments, ", "))
	}
	options.Moment = check.Moment(moment)
	if asOf == "" {
		return nil
	}
	for _, layout := range []string{"2006-01-02T15:04Z07:00", time.RFC3339} {
		if t, err := time.Parse(layout, asOf); err == nil {
			options.AsOf = t
			return nil
		}
	}
	return fmt.Errorf("%q is no time with its zone; write it as 2026-05-16T09:49+01:00", asOf)
}

// askLog takes the kind off a log given as KIND=FILE.
func askLog(options *readiness.Options) error {
	if options.Log == "" {
		return nil
	}
	logs, err := broughtLogs([]string{options.Log})
	if err != nil {
		return err
	}
	options.Log, options.LogKind = logs[0].Path, logs[0].Kind
	return nil
}

// openCar opens a car folder by its settings.
func openCar(c *cobra.Command, dir string, options readiness.Options) (*readiness.Car, error) {
	if info, err := os.Stat(dir); err != nil {
		return nil, fmt.Errorf("%s: %s; name the folder that holds car.yaml", dir, why(err))
	} else if !info.IsDir() {
		return nil, fmt.Errorf("%s is a file; name the folder that holds car.yaml", dir)
	}
	s, err := readSettings(dir)
	if err != nil {
		options.Faults.Add(source.Pos{File: settingsFile}, err.Error(), "")
	}
	options.Logs, options.Units = s.Logs, s.Units
	progress, done := progressOn(c.ErrOrStderr())
	defer done()
	options.Progress, options.Plugins, options.Cache = progress, pluginsOf(c.Context()), s.cacheFor(c)
	car := readiness.Open(c.Context(), dir, options)
	tellCache(c, options.Cache)
	return car, stopped(c)
}

// stopped is the error of a look that Ctrl-C cut short: half a look says nothing of the car.
func stopped(c *cobra.Command) error {
	if c.Context().Err() == nil {
		return nil
	}
	return errors.New("stopped before the car was looked over; paintmark check looks it over")
}

// why is an error in words, without the path it names again.
func why(err error) string {
	if p := new(fs.PathError); errors.As(err, &p) {
		return p.Err.Error()
	}
	return err.Error()
}

// folder is the folder named on the command line, or the one the person is in.
func folder(args []string) string {
	if len(args) == 0 {
		return "."
	}
	return filepath.Clean(args[0])
}

// atMostOneFolder wants no more than a folder, after the words a command needs.
func atMostOneFolder(command string, needs ...string) cobra.PositionalArgs {
	return func(_ *cobra.Command, args []string) error {
		if len(args) < len(needs) || len(args) > len(needs)+1 {
			return fmt.Errorf("%s wants %sat most one folder; see paintmark %s --help", command, strings.Join(append(needs, ""), " and "), command)
		}
		return nil
	}
}

// tellClock compares this computer's clock with the report's time, on stderr only: a report
// depends on no clock.
func tellClock(c *cobra.Command, look *check.Look) {
	now := time.Now()
	if look.AsOf.After(now.Add(5 * time.Minute)) {
		fmt.Fprintf(c.ErrOrStderr(), "paintmark: the newest record is of %s, later than this computer's clock; is the clock right?\n", look.AsOf.Format("2 Jan 2006 15:04 -07:00"))
	}
}

// verdictCode is the exit code of a look.
func verdictCode(look *check.Look) error {
	switch {
	case len(look.Faults) > 0:
		return exitCode(exitFault)
	case look.Verdict == check.NoGo:
		return exitCode(exitNoGo)
	case look.Verdict == check.NeedsNames:
		return exitCode(exitNeedsNames)
	case look.Part != "":
		return exitCode(exitPart)
	}
	return nil
}
