package main

import (
	"cmp"

	"github.com/spf13/cobra"

	"github.com/paintmark/paintmark/internal/readiness"
	"github.com/paintmark/paintmark/internal/report"
)

func whyCommand() *cobra.Command {
	var options readiness.Options
	var asOf, position string
	c := &cobra.Command{
		Use:   "why RULE [DIR]",
		Short: "take one item apart",
		Long: `Shows one rule as it came out for the car in DIR: its text and source, the value of
every part of it and where that is written, when in the log the answer stands and what
the channels read there, and the log drawn with the limit, the worst sample and what
was not seen.`,
		Example: `paintmark why hydraulics.shift-pressure testdata/cars/tern-3
paintmark why wheels.nuts --position RR`,
		Args: atMostOneFolder("why", "a rule"),
		RunE: func(c *cobra.Command, args []string) error {
			if err := askWhat(&options, "", asOf); err != nil {
				return err
			}
			car, err := openCar(c, folder(args[1:]), options)
			if err != nil {
				return err
			}
			why, err := car.Why(c.Context(), args[0], position, report.PlotColumns)
			if err := cmp.Or(stopped(c), err); err != nil {
				return err
			}
			return report.Why(c.OutOrStdout(), why, report.Options{Colour: report.ColourWanted()})
		},
	}
	f := c.Flags()
	f.StringVar(&position, "position", "", "the element to show: a `CORNER` or a serial; without it, the one that keeps the car from most")
	f.StringVar(&options.Log, "log", "", "let this `LOG` answer instead of the newest run's")
	f.StringVar(&asOf, "as-of", "", "count ages to this `TIME` instead of the newest record's")
	noCacheFlag(c)
	return c
}
