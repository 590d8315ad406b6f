package main

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"time"

	"github.com/spf13/cobra"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/life"
	"github.com/paintmark/paintmark/internal/readiness"
	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
)

// lifeOptions say what to tell of the life sheet.
type lifeOptions struct {
	asOf, format      string
	all, plan, trends bool
}

func lifeCommand() *cobra.Command {
	var o lifeOptions
	c := &cobra.Command{
		Use:   "life [SERIAL] [DIR]",
		Short: "tell what each part has used of its life",
		Long: `Tells of each part on the car what it has used of its limits, what is left, what
the planned runs will use and when it falls due. Life belongs to the serial: a
run counts for every part that was on the car in it, itself or inside another.
What is not known stays between bounds and is never taken as zero.
With a SERIAL, the history of that part, back to birth.`,
		Example: `paintmark life testdata/cars/tern-3
paintmark life GB-01 testdata/cars/tern-3
paintmark life --plan testdata/cars/tern-3
paintmark life --format csv > life.csv
paintmark life swap GB-01 GB-02 --in gearbox --by PO --job PO-38`,
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) > 2 {
				return fmt.Errorf("life takes a serial and a folder, not %d words; see paintmark life --help", len(args))
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error {
			serial, dir := serialAndFolder(args)
			return tellLife(c, dir, serial, o)
		},
	}
	f := c.Flags()
	f.BoolVar(&o.all, "all", false, "also the parts that are not on the car; with --trends, the values that go nowhere")
	f.BoolVar(&o.plan, "plan", false, "what each planned session uses, and what falls in it")
	f.BoolVar(&o.trends, "trends", false, "values over the runs, and when they cross their limit at this rate")
	f.StringVar(&o.asOf, "as-of", "", "tell it as of this `TIME` instead of the newest record's")
	f.StringVar(&o.format, "format", "text", "`FORMAT`: text, json or csv")
	c.AddCommand(lifeFit(), lifeRemove(), lifeSwap(), lifeAssemble(), lifeInspect(), lifeOverhaul(), lifeRetire(), lifeSend(), lifeReceive(), lifeCorrect(), lifeRecount())
	return c
}

// serialAndFolder tells a car folder from a serial: a folder holds car.yaml.
func serialAndFolder(args []string) (serial, dir string) {
	switch {
	case len(args) == 0:
		return "", "."
	case len(args) == 2:
		return args[0], filepath.Clean(args[1])
	}
	if info, err := os.Stat(args[0]); err == nil && info.IsDir() {
		return "", filepath.Clean(args[0])
	}
	return args[0], "."
}

// openLife opens a car folder and works out its life sheet. Faults are told on stderr: what
// could not be read is not on the sheet.
func openLife(c *cobra.Command, dir, asOf string) (*car.Folder, *life.Sheet, time.Time, source.Faults, error) {
	if _, err := os.Stat(filepath.Join(dir, "car.yaml")); err != nil {
		return nil, nil, time.Time{}, nil, fmt.Errorf("%s holds no car.yaml: %s; name the folder of a car", dir, why(err))
	}
	var options readiness.Options
	if err := askWhat(&options, "", asOf); err != nil {
		return nil, nil, time.Time{}, nil, err
	}
	folder, faults := car.Open(dir)
	at := options.AsOf
	if at.IsZero() {
		at = folder.AsOf
	}
	sheet, more := life.Of(folder, at)
	return folder, sheet, at, append(faults, more...), nil
}

// openWholeLife is openLife with the trends of the rules' measures, which takes the rules: the
// sheet that `check` reads.
func openWholeLife(c *cobra.Command, dir, asOf string) (*car.Folder, *life.Sheet, time.Time, source.Faults, error) {
	folder, _, at, faults, err := openLife(c, dir, asOf)
	if err != nil {
		return nil, nil, at, nil, err
	}
	s, err := readSettings(dir)
	if err != nil {
		return nil, nil, at, nil, fmt.Errorf("%s: %w", settingsFile, err)
	}
	sheet, more := readiness.Life(c.Context(), dir, folder, readiness.Options{Logs: s.Logs, AsOf: at})
	return folder, sheet, at, append(car.New(faults, more), more...), nil
}

func tellLife(c *cobra.Command, dir, serial string, o lifeOptions) error {
	if o.format != "text" && o.format != "json" && o.format != "csv" {
		return fmt.Errorf("no format %q; there are text, json and csv", o.format)
	}
	open := openLife
	if o.trends || o.format == "json" {
		open = openWholeLife
	}
	folder, sheet, at, faults, err := open(c, dir, o.asOf)
	if err != nil {
		return err
	}
	for _, f := range faults {
		fmt.Fprintln(c.ErrOrStderr(), "paintmark:", f.Error())
	}
	w := c.OutOrStdout()
	switch {
	case serial != "":
		p := sheet.Part(serial)
		if p == nil {
			return unknownSerial(sheet, serial)
		}
		err = writeHistory(w, folder, sheet, p, at)
	case o.format == "json":
		err = lifeJSON(w, sheet)
	case o.format == "csv":
		err = lifeCSV(w, sheet, o.all)
	case o.plan:
		err = writePlan(w, folder, sheet, at)
	case o.trends:
		err = writeTrends(w, sheet, o.all)
	default:
		err = writeSheet(w, folder, sheet, at, o.all)
	}
	if err == nil && len(faults) > 0 {
		return exitCode(exitFault)
	}
	return err
}

func unknownSerial(sheet *life.Sheet, serial string) error {
	var known []string
	for _, p := range sheet.Parts {
		known = append(known, p.Serial)
	}
	remedy := "look at the serial on the part, or add it to parts.yaml"
	if near := source.Nearest(serial, known); near != "" {
		remedy = "did you mean " + near
	}
	return fmt.Errorf("no part %s in parts.yaml; %s", serial, remedy)
}

// lifeJSON writes the document that rules read, as it is.
func lifeJSON(w io.Writer, sheet *life.Sheet) error {
	text, err := schema.JSON(sheet.Value)
	if err != nil {
		return err
	}
	out, err := json.MarshalIndent(map[string]json.RawMessage{"life": text}, "", "  ")
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(w, "%s\n", out)
	return err
}

var csvHead = []string{
	"serial", "kind", "place", "inside", "fitted", "no_go_part", "what", "meter", "unit",
	"used_low", "used_high", "limit", "left_low", "left_high", "planned_low", "planned_high", "runs_left", "falls_in", "ends", "estimated",
}

// lifeCSV writes one row for each limit and each inspection.
func lifeCSV(w io.Writer, sheet *life.Sheet, all bool) error {
	out := csv.NewWriter(w)
	if err := out.Write(csvHead); err != nil {
		return err
	}
	for _, p := range sheet.Parts {
		if !p.Fitted && !all {
			continue
		}
		row := func(what string, l *life.Limit) error {
			left := l.Left()
			return out.Write([]string{
				p.Serial, p.Kind, p.Position, p.Inside, strconv.FormatBool(p.Fitted), strconv.FormatBool(p.NoGo), what, l.Name(), l.Unit(),
				plainNumber(l.Used.Low), plainNumber(l.Used.High), plainNumber(l.Life), plainNumber(left.Low), plainNumber(left.High),
				plainNumber(l.Planned.Low), plainNumber(l.Planned.High), plainNumber(l.RunsLeft.Low), l.Falls, day(l.Ends), strconv.FormatBool(l.Used.Estimated),
			})
		}
		for _, l := range p.Limits {
			what := "life"
			if l.Since == "overhaul" {
				what = "life since overhaul"
			}
			if err := row(what, l); err != nil {
				return err
			}
		}
		for _, ins := range p.Inspections {
			for _, iv := range ins.Every {
				if err := row(ins.What, &iv.Limit); err != nil {
					return err
				}
			}
			if ins.Opened != "" {
				if err := out.Write(append([]string{p.Serial, p.Kind, p.Position, p.Inside, strconv.FormatBool(p.Fitted), strconv.FormatBool(p.NoGo), ins.What, ins.Opened},
					"", "", "", "", "", "", "", "", "", life.Now, "", "false")); err != nil {
					return err
				}
			}
		}
	}
	out.Flush()
	return out.Error()
}

// plainNumber is a number of a CSV cell; empty where nothing bounds it.
func plainNumber(f float64) string { return life.Exact(f) }

func day(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format(time.DateOnly)
}
