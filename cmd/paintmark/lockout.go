package main

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"github.com/paintmark/paintmark/internal/readiness"
)

func lockoutCommand() *cobra.Command {
	var flags recordFlags
	var state, second, bottle, line, placard string
	var pinned bool
	c := &cobra.Command{
		Use:   "lockout SYSTEM [DIR]",
		Short: "a system is made safe and left out of use",
		Long: `Writes that a system was made safe and is left out of use, by two people. Its items are
then shown as locked out. It is for what a car can run without (wing, logger); it ends only by a job on the system that is closed with
--ends-lockout.`,
		Example: `paintmark lockout wing --by SQ --second PO --state "high downforce" --pinned --bottle shut --line vented --placard "on the bottle valve"`,
		RunE: func(c *cobra.Command, args []string) error {
			words, dir := carFolderLast(args)
			if len(words) != 1 {
				return errors.New("say which system: paintmark lockout SYSTEM")
			}
			b, err := openBench(c, dir, flags)
			if err != nil {
				return err
			}
			system := words[0]
			if !slices.Contains(b.systems(), system) {
				return fmt.Errorf("no system %q; %s", system, nearestOf(system, "there are", b.systems()))
			}
			if !slices.Contains(readiness.Lockable, system) {
				return fmt.Errorf("no car runs without its %s; what can be locked out is %s", system, strings.Join(readiness.Lockable, ", "))
			}
			if r := b.folder.LockedOut(b.when)[system]; r != nil {
				return fmt.Errorf("the %s is locked out already (%s)", system, r.File)
			}
			switch {
			case state == "":
				return errors.New("say the state it is left in: --state WORDS")
			case second == "":
				return errors.New("a lock-out wants two people: add --second INITIALS of who looked at it")
			}
			if second, err = b.person(second); err != nil {
				return err
			}
			if second == b.flags.by {
				return fmt.Errorf("both initials are %s: another person looks at it", second)
			}
			is := ""
			if pinned {
				is = "true"
			}
			b.draft("lockouts", system, "lockout", pair{"system", system}, pair{"state", yamlText(state)}, pair{"pinned", is},
				pair{"bottle", bottle}, pair{"line", line}, pair{"placard", yamlText(placard)}, pair{"second", second})
			if err := b.write(); err != nil {
				return err
			}
			b.say("The %s is locked out: %s, by %s and %s.", system, state, b.flags.by, second)
			if placard == "" {
				b.say("No placard is written down (--placard): whoever comes next must see it.")
			}
			return nil
		},
	}
	f := c.Flags()
	f.StringVar(&state, "state", "", "the state it is left in, in `WORDS`")
	f.StringVar(&second, "second", "", "`INITIALS` of the other person, who looked at it")
	f.BoolVar(&pinned, "pinned", false, "it is pinned")
	f.StringVar(&bottle, "bottle", "", "the bottle is `shut` or open")
	f.StringVar(&line, "line", "", "the line is `vented` or live")
	f.StringVar(&placard, "placard", "", "`WHERE` the placard is")
	flags.add(c, false)
	return c
}
