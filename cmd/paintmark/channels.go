package main

import (
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"github.com/paintmark/paintmark/internal/runlog"
)

func channelsCommand() *cobra.Command {
	var yaml bool
	c := &cobra.Command{
		Use:   "channels LOG",
		Short: "list what a log holds and what is wrong with it",
		Long: `Lists the channels of a log: unit, rate, share missing, least and most, the longest
time one value stood still, a value it may read when broken, and what is wrong in the
log, line by line. With --yaml it writes a channels.yaml to start from instead, with a
guess of what each channel moves with: one that stands still against that is dead.
A log is a CSV or Parquet file, or a zip archive with one such table for each rate.`,
		Example: "paintmark channels testdata/cars/tern-3/logs/t3-057.csv.gz\npaintmark channels run-12.csv --yaml > my-car/channels.yaml",
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) != 1 {
				return fmt.Errorf("channels wants one log; see paintmark channels --help")
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error {
			progress, done := progressOn(c.ErrOrStderr())
			raw, faults := runlog.Read(c.Context(), args[0], runlog.Options{Progress: progress})
			done()
			if err := faults.Err(); err != nil {
				return err
			}
			looks := runlog.Survey(raw)
			if yaml {
				_, err := io.WriteString(c.OutOrStdout(), runlog.Propose(raw, looks))
				return err
			}
			return listChannels(c.OutOrStdout(), raw, looks)
		},
	}
	c.Flags().BoolVar(&yaml, "yaml", false, "write a channels.yaml to start from")
	return c
}

func listChannels(w io.Writer, raw *runlog.Raw, looks []runlog.Look) error {
	long := 0.0
	if times := raw.AllTimes(); len(times) > 0 {
		long = times[len(times)-1]
	}
	fmt.Fprintf(w, "%s: %d channels, %d rows over %s s, a row every %s s\n", raw.File, len(looks), raw.Rows, figure(long), figure(raw.Step))
	fmt.Fprintf(w, "Read as %s.\n", raw.Dialect)
	id := raw.Identity("")
	var says []string
	for _, m := range []struct {
		name string
		meta runlog.Meta
	}{{"car", id.Car}, {"logger", id.Serial}, {"run", id.Run}, {"date", id.Date}} {
		if m.meta.Value != "" {
			says = append(says, m.name+" "+m.meta.Value)
		}
	}
	if len(says) > 0 {
		fmt.Fprintf(w, "It says: %s.\n", strings.Join(says, ", "))
	}
	fmt.Fprintln(w)
	var cells strings.Builder
	table := tabwriter.NewWriter(&cells, 0, 0, 2, ' ', 0)
	fmt.Fprintln(table, "CHANNEL\tunit\trate\tmissing\tleast\tmost\tstood still")
	var broken []string
	for _, l := range looks {
		c := l.Column
		rate, missing, still := "", "", ""
		if c.Rate > 0 {
			rate = figure(c.Rate) + " Hz"
		}
		if l.Missing > 0 {
			missing = share(l.Missing)
		}
		if long > 0 && l.FlatTo-l.FlatFrom > 0 {
			still = fmt.Sprintf("%s s from %s", figure(l.FlatTo-l.FlatFrom), figure(l.FlatFrom))
		}
		fmt.Fprintln(table, strings.Join([]string{c.Name, c.Unit, rate, missing, figure(l.Min), figure(l.Max), still}, "\t"))
		if l.FaultValue != nil {
			broken = append(broken, fmt.Sprintf("%s jumps to %s and stays: that may be what it reads when broken", c.Name, figure(*l.FaultValue)))
		}
		if l.Samples == 0 {
			broken = append(broken, c.Name+" holds no number at all")
		}
	}
	if err := table.Flush(); err != nil {
		return err
	}
	for line := range strings.Lines(cells.String()) {
		fmt.Fprintln(w, strings.TrimRight(line, " \n")) // cells at the end of a line may be empty
	}
	for _, f := range raw.Faults {
		words := fmt.Sprintf("line %d: %s", f.Line, f.Text)
		if f.More > 0 {
			words += fmt.Sprintf("; %d more like it", f.More)
		}
		broken = append(broken, words)
	}
	if len(broken) > 0 {
		fmt.Fprintln(w, "\nLOOK AT")
		for _, words := range broken {
			fmt.Fprintln(w, "  "+words)
		}
	}
	_, err := fmt.Fprintln(w, "\nA channels.yaml to start from: the same command with --yaml.")
	return err
}

// figure writes a number as short as it can be said, without an exponent where people would not write one.
func figure(v float64) string {
	switch {
	case math.IsNaN(v):
		return ""
	case math.Abs(v) >= 1e6 || v != 0 && math.Abs(v) < 1e-4:
		return strconv.FormatFloat(v, 'g', 4, 64)
	}
	s := strconv.FormatFloat(v, 'f', max(0, 4-len(strconv.Itoa(int(math.Abs(v))))), 64)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	return s
}

func share(v float64) string {
	if v < 0.001 {
		return "under 0.1 %"
	}
	return figure(math.Round(v*1000)/10) + " %"
}
