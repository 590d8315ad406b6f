package main

import (
	"fmt"
	"os"

	"github.com/spf13/cobra"

	"github.com/paintmark/paintmark/internal/car"
)

func bringCommand() *cobra.Command {
	return &cobra.Command{
		Use:   "bring FOLDER [DIR]",
		Short: "join the records another laptop wrote",
		Long: `Copies the records and kept setup sheets of another copy of this car's folder that
are not here, and lists them. Documents and logs are left alone. Nothing is brought when a record
has the same name there and another content.`,
		Example: "paintmark bring /media/stick/tern-3",
		Args:    atMostOneFolder("bring", "the other folder"),
		RunE: func(c *cobra.Command, args []string) error {
			dir := folder(args[1:])
			for _, d := range []string{args[0], dir} {
				if info, err := os.Stat(d); err != nil || !info.IsDir() {
					return fmt.Errorf("%s is no folder; name a car's folder", d)
				}
			}
			if err := lock(c, dir); err != nil {
				return err
			}
			_, before := car.Open(dir)
			brought, err := car.Bring(dir, os.DirFS(args[0]))
			for _, file := range brought {
				fmt.Fprintf(c.OutOrStdout(), "Brought %s\n", file)
			}
			if err != nil {
				return err
			}
			if len(brought) == 0 {
				fmt.Fprintln(c.OutOrStdout(), "Every record there is here already.")
				return nil
			}
			if _, after := car.Open(dir); len(car.New(after, before)) > 0 {
				return fmt.Errorf("the records are here, and do not fit together: %w", car.New(after, before).Err())
			}
			return nil
		},
	}
}
