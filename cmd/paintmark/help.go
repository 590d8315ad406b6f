package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// help prints a command the way the reports are printed: plain words, 80 columns.
func help(c *cobra.Command, _ []string) {
	w := c.OutOrStdout()
	fmt.Fprintln(w, strings.TrimSpace(c.Long))
	if c.HasAvailableSubCommands() {
		fmt.Fprintln(w, "\nCOMMANDS")
		for _, sub := range c.Commands() {
			if sub.IsAvailableCommand() {
				helpLine(w, strings.TrimPrefix(sub.CommandPath(), "paintmark "), sub.Short)
			}
		}
		fmt.Fprintf(w, "\nMore about one of them: %s COMMAND --help\n", c.CommandPath())
	}
	if c.Runnable() && c.Name() != "paintmark" {
		fmt.Fprintln(w, "\nTYPE")
		fmt.Fprintln(w, "  "+strings.TrimSuffix(c.UseLine(), " [flags]"))
	}
	flags := c.LocalFlags()
	flags.SortFlags = false
	shown := false
	flags.VisitAll(func(f *pflag.Flag) {
		if f.Hidden || f.Name == "help" {
			return
		}
		if !shown {
			fmt.Fprintln(w, "\nAND IF YOU LIKE")
			shown = true
		}
		name, words := pflag.UnquoteUsage(f)
		helpLine(w, strings.TrimSpace("--"+f.Name+" "+name), words)
	})
	if c.Example != "" {
		fmt.Fprintln(w, "\nFOR EXAMPLE")
		for line := range strings.Lines(c.Example) {
			fmt.Fprintln(w, "  "+strings.TrimSpace(line))
		}
	}
}

// helpLine prints a name and what it is for; long words go on below.
func helpLine(w io.Writer, name, words string) {
	const at = 24
	line := "  " + name + strings.Repeat(" ", max(2, at-2-len(name)))
	for word := range strings.FieldsSeq(words) {
		if len(line)+len(word) > 80 {
			fmt.Fprintln(w, strings.TrimRight(line, " "))
			line = strings.Repeat(" ", at)
		}
		line += word + " "
	}
	fmt.Fprintln(w, strings.TrimRight(line, " "))
}
