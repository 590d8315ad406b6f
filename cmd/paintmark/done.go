package main

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"github.com/paintmark/paintmark/internal/schema"
)

func doneCommand() *cobra.Command {
	var flags recordFlags
	c := &cobra.Command{
		Use:   "done LINE... [DIR]",
		Short: "tick changed lines of the setup sheet as done on the car",
		Long: `Writes that changed lines of the setup sheet were done on the car, by the one who did
them, and says what is still to be done. A line may be named by its group or axle:
dampers, dampers.front.bump. Holes and clicks are then also found as the sheet has them.`,
		Example: "paintmark done bars.rear dampers.front.bump --by PO",
		RunE: func(c *cobra.Command, args []string) error {
			names, dir := carFolderLast(args)
			if len(names) == 0 {
				return errors.New("done wants the lines that were done; see paintmark done --help")
			}
			b, err := openBench(c, dir, flags)
			if err != nil {
				return err
			}
			return b.tick(names)
		},
	}
	flags.add(c, false)
	return c
}

// tick writes changed lines of the sheet as done.
func (b *bench) tick(names []string) error {
	sheet := b.folder.Roots(b.when)["setup"]
	revision := textOf(sheet.Get("revision"))
	if revision == "" {
		return errors.New("there is no setup sheet with a revision; write setup.yaml first")
	}
	todo, known := b.folder.ToDo(b.when)
	if !known {
		return fmt.Errorf("setup %s does not say which lines were changed; write changed: into setup.yaml", revision)
	}
	var open []string
	for _, l := range todo {
		open = append(open, l.Text)
	}
	var lines []string
	for _, name := range names {
		found := linesUnder(name, open)
		if len(found) == 0 {
			return b.notToDo(name, revision, open)
		}
		lines = append(lines, found...)
	}
	slices.Sort(lines)
	lines = slices.Compact(lines)
	found := set(b.folder.Roots(b.when), lines)
	if found != "" {
		b.draftBody("measured", "set "+revision, "measured: {set_down: "+found+"}\n")
	}
	b.draft("done", revision, "done", pair{"setup", yamlText(revision)}, pair{"lines", flowList(lines)})
	if err := b.write(); err != nil {
		return err
	}
	b.sayWrapped(fmt.Sprintf("Done on the car for setup %s by %s: %s.", revision, b.flags.by, strings.Join(lines, ", ")))
	open = slices.DeleteFunc(open, func(l string) bool { return slices.Contains(lines, l) })
	if len(open) == 0 {
		b.say("The car is at setup %s.", revision)
	} else {
		b.sayWrapped(fmt.Sprintf("Still to do: %s.", strings.Join(open, ", ")))
	}
	return nil
}

// set writes what is now found on the car where lines are done that are set and not measured,
// the hole of a bar, the clicks of a damper: whoever set them has them before his eyes.
func set(roots map[string]*schema.Value, lines []string) string {
	n := &notepad{measured: roots["measured"], leaves: map[string]string{}}
	for _, l := range lines {
		sheet := roots["setup"].Get(l)
		found, err := lookUp(n.measured, "set_down."+l)
		if err != nil || sheet == nil || sheet.Unknown || found.Type.Kind != sheet.Type.Kind || found.Type.Kind != schema.Text && found.Type.Kind != schema.Integer {
			continue
		}
		n.add("set_down."+l, "", "", yamlValue(found.Type, sheet.Text))
	}
	if len(n.values) == 0 {
		return ""
	}
	return n.write("set_down")
}

// linesUnder are the lines that a name says: itself, those of its group, or of its axle.
func linesUnder(name string, lines []string) []string {
	var out []string
	for _, l := range lines {
		for _, n := range []string{name, axle(name, "FL", "RL"), axle(name, "FR", "RR")} {
			if l == n || strings.HasPrefix(l, n+".") {
				out = append(out, l)
				break
			}
		}
	}
	return out
}

// notToDo says why a line cannot be ticked.
func (b *bench) notToDo(name, revision string, open []string) error {
	for _, r := range b.folder.Of("done") {
		if textOf(r.Body.Get("setup")) != revision {
			continue
		}
		for _, l := range r.Body.Get("lines").Items {
			if len(linesUnder(name, []string{l.Text})) > 0 {
				return fmt.Errorf("%s was ticked by %s at %s; there is nothing more to do on it", l.Text, r.By, r.At.In(placeZone(b.folder)).Format("15:04"))
			}
		}
	}
	return fmt.Errorf("%s was not changed by setup %s; %s", name, revision, nearestOf(name, "to do:", open))
}
