package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"github.com/paintmark/paintmark/internal/readiness"
)

func packCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "pack",
		Short: "work on rule packs",
		Long:  "Rule packs: bundled ones, and a team's own in packs/.",
		Args:  knownCommand,
		RunE:  func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	c.AddCommand(packTryCommand())
	return c
}

func packTryCommand() *cobra.Command {
	var all bool
	c := &cobra.Command{
		Use:   "try [FILE or DIR]",
		Short: "try a pack's rules on their own examples",
		Long: `Tries every rule of a pack on the examples written beside it, and says which came out
otherwise. Give a pack file, a folder of packs or a car folder; nothing tries the packs
that come with the program.

Exit codes: 0 all as written, 1 some are not, 2 a pack with faults.`,
		Example: "paintmark pack try packs/ashgill-house.yaml\npaintmark pack try",
		Args:    atMostOneFolder("pack try"),
		RunE: func(c *cobra.Command, args []string) error {
			target := ""
			if len(args) > 0 {
				target = args[0]
			}
			results, faults := readiness.TryPacks(c.Context(), target)
			w := c.OutOrStdout()
			rules, wrong := map[string]bool{}, 0
			for _, r := range results {
				rules[r.Rule] = true
				switch {
				case !r.OK():
					wrong++
					fmt.Fprintf(w, "%s: %s, example %d\n", r.Where, r.Rule, r.Number)
					if r.Wrong != "" {
						fmt.Fprintln(w, "  "+r.Wrong)
					}
					for _, f := range r.Faults {
						fmt.Fprintln(w, "  "+f.Error())
					}
				case all:
					fmt.Fprintf(w, "%s, example %d: %s: %s\n", r.Rule, r.Number, r.Got, r.Message)
				}
			}
			fmt.Fprintf(w, "%d rules, %d examples, %s\n", len(rules), len(results), asWritten(wrong))
			if len(faults) > 0 {
				return faults
			}
			if wrong > 0 {
				return exitCode(exitNoGo)
			}
			return nil
		},
	}
	c.Flags().BoolVar(&all, "all", false, "list every example with what the rule said")
	return c
}

func asWritten(wrong int) string {
	switch wrong {
	case 0:
		return "all as written"
	case 1:
		return "1 came out otherwise"
	}
	return strings.TrimSpace(fmt.Sprintf("%d came out otherwise", wrong))
}
