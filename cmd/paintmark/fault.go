package main

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"github.com/paintmark/paintmark/internal/car"
)

func faultCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "fault [DIR]",
		Short: "what the driver said or somebody saw, until it is cleared",
		Long: `Lists the faults that are not cleared, with the words they came in and the job that has
them in hand. A fault is cleared by words, or when its job is closed.`,
		Example: "paintmark fault",
		Args:    atMostOneFolder("fault"),
		RunE: func(c *cobra.Command, args []string) error {
			b, err := readBench(c, folder(args), recordFlags{})
			if err != nil {
				return err
			}
			open := 0
			for _, f := range b.folder.Faults(b.folder.AsOf) {
				if f.Cleared == nil {
					open++
					b.sayWrapped(faultLine(f))
				}
			}
			if open == 0 {
				b.say("No open fault.")
			}
			return nil
		},
	}
	c.AddCommand(faultReport(), faultClear())
	return c
}

// faultLine is an open fault in one line.
func faultLine(f *car.Fault) string {
	body := f.Opened.Body
	line := f.No + "  " + textOf(body.Get("what"))
	var about []string
	if by := textOf(body.Get("said_by")); by != "" {
		about = append(about, "said by "+by)
	}
	if run := textOf(body.Get("run")); run != "" {
		about = append(about, "run "+run)
	}
	if f.Job != "" {
		about = append(about, "in hand, job "+f.Job)
	} else {
		about = append(about, "nobody has it in hand")
	}
	return line + " (" + strings.Join(about, ", ") + ")"
}

func faultReport() *cobra.Command {
	var flags recordFlags
	var said, system string
	var run int
	c := &cobra.Command{
		Use:   "report WORDS [DIR]",
		Short: "write down a fault",
		Long: `Writes what somebody said or saw, in their words, as a fault to be cleared. Nobody runs
until a job has it in hand or words clear it.`,
		Example: `paintmark fault report "banged into third" --said-by TB --run 58 --system gearbox --by HW`,
		RunE: func(c *cobra.Command, args []string) error {
			words, dir := carFolderLast(args)
			what := strings.TrimSpace(strings.Join(words, " "))
			if what == "" {
				return errors.New("say what it is: paintmark fault report WORDS")
			}
			b, err := openBench(c, dir, flags)
			if err != nil {
				return err
			}
			if said == "" {
				said = b.flags.by
			} else if said, err = b.person(said); err != nil {
				return err
			}
			no := b.nextNumber()
			about := ""
			if run > 0 {
				about = strconv.Itoa(run)
			}
			b.draft("faults", "fault "+no, "fault", pair{"no", no}, pair{"what", yamlText(what)}, pair{"said_by", yamlText(said)}, pair{"run", about}, pair{"system", system})
			if err := b.write(); err != nil {
				return err
			}
			b.say("Fault %s is open.", no)
			return nil
		},
	}
	f := c.Flags()
	f.StringVar(&said, "said-by", "", "`INITIALS` of who said or saw it, where it is not the one who writes")
	f.IntVar(&run, "run", 0, "`RUN` it is from")
	f.StringVar(&system, "system", "", "`SYSTEM` of the car: gearbox, wing, ...")
	flags.add(c, false)
	return c
}

func faultClear() *cobra.Command {
	var flags recordFlags
	c := &cobra.Command{
		Use:   "clear NUMBER WORDS [DIR]",
		Short: "say why a fault is cleared",
		Long: `Writes why a fault is cleared, in words that whoever drives can read. A fault that needs
work is cleared by closing its job.`,
		Example: `paintmark fault clear HW-36 "second-gear hairpin, tyres cold: as the film shows" --by HW`,
		RunE: func(c *cobra.Command, args []string) error {
			words, dir := carFolderLast(args)
			if len(words) < 2 {
				return errors.New("say which fault and why it is cleared: paintmark fault clear NUMBER WORDS")
			}
			b, err := openBench(c, dir, flags)
			if err != nil {
				return err
			}
			fault, err := b.openFault(words[0])
			if err != nil {
				return err
			}
			b.draft("faults", "fault "+fault.No+" cleared", "fault", pair{"no", fault.No}, pair{"cleared", yamlText(strings.Join(words[1:], " "))})
			if err := b.write(); err != nil {
				return err
			}
			b.sayWrapped(fmt.Sprintf("Fault %s is cleared: %s.", fault.No, textOf(fault.Opened.Body.Get("what"))))
			return nil
		},
	}
	flags.add(c, false)
	return c
}

// openFault finds a fault that is not cleared.
func (b *bench) openFault(no string) (*car.Fault, error) {
	list := b.folder.Faults(b.folder.AsOf)
	var open []string
	for _, f := range list {
		if f.Cleared == nil {
			open = append(open, f.No)
		}
	}
	i := slices.IndexFunc(list, func(f *car.Fault) bool { return strings.EqualFold(f.No, no) })
	switch {
	case i < 0 && len(open) == 0:
		return nil, fmt.Errorf("no fault %s; none is open", no)
	case i < 0:
		return nil, fmt.Errorf("no fault %s; %s", no, nearestOf(no, "open are", open))
	case list[i].Cleared != nil:
		return nil, fmt.Errorf("fault %s was cleared already (%s); report it again if it came back", list[i].No, list[i].Cleared.File)
	}
	return list[i], nil
}
