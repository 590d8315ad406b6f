package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"github.com/paintmark/paintmark/internal/demo"
)

func demoCommand() *cobra.Command {
	var healthy bool
	c := &cobra.Command{
		Use:   "demo DIR",
		Short: "write a demo car with its logs",
		Long: `Writes a whole car folder, the Tern 3 of the invented Ashgill yard, with the logs of
three runs into DIR, which must be new or empty. The logs come from a written-down
vehicle model; the faults of the newest run are planted and listed beside them.`,
		Example: "paintmark demo /tmp/tern-3",
		Args:    oneFolder("demo"),
		RunE: func(c *cobra.Command, args []string) error {
			if err := demo.Write(args[0], healthy); err != nil {
				return err
			}
			what := "with its planted faults"
			if healthy {
				what = "with nothing wrong"
			}
			_, err := fmt.Fprintf(c.OutOrStdout(), "Wrote the demo car, %s, to %s.\nLook at it: paintmark check %s\n", what, args[0], args[0])
			return err
		},
	}
	c.Flags().BoolVar(&healthy, "healthy", false, "without the planted faults")
	return c
}

// oneFolder wants exactly one folder.
func oneFolder(command string) cobra.PositionalArgs {
	return func(_ *cobra.Command, args []string) error {
		if len(args) != 1 {
			return fmt.Errorf("%s wants one folder; see paintmark %s --help", command, command)
		}
		return nil
	}
}
