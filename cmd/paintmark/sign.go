package main

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/readiness"
)

// signFlags are what is said with initials.
type signFlags struct {
	second, retained  bool
	saw, tool, torque string
}

func signCommand() *cobra.Command {
	var flags recordFlags
	var sign signFlags
	c := &cobra.Command{
		Use:   "sign JOINT... [DIR]",
		Short: "put initials to joints, first or second",
		Long: `Writes that somebody closed joints (first), or that another person looked at the whole of
each (--second), and what was seen. A joint is named as in positions.yaml; wheel-nut
alone is all four, wheel-nut FL RR two of them; --job NUMBER without a joint is every
joint that the job opened and this person still owes. Each joint gets a line of its
own. Initials end when the joint is opened again.`,
		Example: `paintmark sign wheel-nut --by TB --tool TW-1 --torque 480N·m --retained --saw "torqued and marked"
paintmark sign wheel-nut --second --by PO --saw "mark and clip"
paintmark sign --job HW-36 --second --by PO --saw "marks in line"`,
		RunE: func(c *cobra.Command, args []string) error {
			words, dir := carFolderLast(args)
			if len(words) == 0 && flags.job == "" {
				return errors.New("say which joints, or --job NUMBER for those of a job; see paintmark sign --help")
			}
			b, err := openBench(c, dir, flags)
			if err != nil {
				return err
			}
			return b.sign(words, sign)
		},
	}
	f := c.Flags()
	f.BoolVar(&sign.second, "second", false, "as the second person, who looked at the whole of it")
	f.StringVar(&sign.saw, "saw", "", "what was seen on each, in `WORDS`: mark in line, clip in")
	f.StringVar(&sign.tool, "tool", "", "`TOOL` it was tightened with, as in tools.yaml")
	f.StringVar(&sign.torque, "torque", "", "`TORQUE` it was tightened to: 480N·m")
	f.BoolVar(&sign.retained, "retained", false, "the clip or pin is in")
	flags.add(c, true)
	return c
}

func (b *bench) sign(words []string, sign signFlags) error {
	opened, err := openCar(b.c, b.dir, readiness.Options{})
	if err != nil {
		return err
	}
	ruled := opened.Joints(b.c.Context())
	joints, err := b.jointsOf(words, ruled, sign.second)
	if err != nil {
		return err
	}
	if sign.second && sign.saw == "" {
		return errors.New("the second looks at each with their own eyes: say what was seen, --saw WORDS")
	}
	if sign.second {
		if err := b.maySecond(joints); err != nil {
			return err
		}
	}
	place, retained := "first", ""
	if sign.second {
		place = "second"
	}
	if sign.retained {
		retained = "true"
	}
	byRule := map[string][]string{}
	var rules []string
	for _, j := range joints {
		rule := first(ruled[j], "joints.opened")
		if byRule[rule] == nil {
			rules = append(rules, rule)
		}
		name, position := j, ""
		if i := strings.LastIndexByte(j, ' '); i > 0 {
			name, position = j[:i], j[i+1:]
		}
		byRule[rule] = append(byRule[rule], flowMap(pair{"joint", yamlText(name)}, pair{"position", yamlText(position)}, pair{"torque", spaced(sign.torque)}, pair{"retained", retained}, pair{"saw", yamlText(sign.saw)}))
	}
	for _, rule := range rules {
		b.draft("signed", rule+" "+place, "signed", pair{"rule", yamlText(rule)}, pair{"place", place}, pair{"tool", yamlText(sign.tool)}, pair{"job", yamlText(b.flags.job)},
			pair{"joints", "[" + strings.Join(byRule[rule], ", ") + "]"})
	}
	if err := b.write(); err != nil {
		return err
	}
	for _, j := range joints {
		one, two := b.initialsOn(j)
		said := fmt.Sprintf("  %-28s first %s", j, first(one.By, "missing"))
		said += ", second " + first(two.By, "missing")
		if one.By != "" && two.By != "" && !two.At.Before(one.At) && two.At.Sub(one.At).Seconds() < 20 {
			said += fmt.Sprintf(" (%.0f s later)", two.At.Sub(one.At).Seconds())
		}
		b.say("%s", said)
	}
	return nil
}

// jointsOf finds the joints that words name, or those a job still owes this place of.
func (b *bench) jointsOf(words []string, ruled map[string]string, second bool) ([]string, error) {
	if len(words) == 0 {
		return b.jobJoints(second)
	}
	var known []string
	for _, p := range b.folder.Positions {
		known = append(known, texts(p.Opens)...)
	}
	for _, j := range b.folder.OpenJoints(b.when) {
		known = append(known, j.Joint)
	}
	for j := range ruled {
		known = append(known, j)
	}
	slices.Sort(known)
	known = slices.Compact(known)
	var out []string
	for i := 0; i < len(words); i++ {
		name := words[i]
		var at []string
		for i+1 < len(words) && slices.Contains(corners, words[i+1]) {
			at = append(at, name+" "+words[i+1])
			i++
		}
		found := at
		if len(at) == 0 {
			for _, k := range known {
				if k == name || strings.HasPrefix(k, name+" ") || ruled[k] == name {
					found = append(found, k)
				}
			}
		}
		if len(found) == 0 || slices.ContainsFunc(found, func(j string) bool { return !slices.Contains(known, j) }) {
			return nil, fmt.Errorf("no joint %q; %s", strings.Join(append([]string{}, first(strings.Join(at, ", "), name)), ""), nearestOf(name, "there are", known))
		}
		out = append(out, found...)
	}
	slices.Sort(out)
	return slices.Compact(out), nil
}

// jobJoints are the joints of the job of the flags that lack the first or the second initials.
func (b *bench) jobJoints(second bool) ([]string, error) {
	job, err := b.openJobOf(b.flags.job)
	if err != nil {
		return nil, err
	}
	b.flags.job = job.No
	var out []string
	for _, j := range b.folder.JobJoints(job, b.when) {
		if !second && j.First == "" || second && (j.Second == "" || j.Second == j.First) {
			out = append(out, j.Joint)
		}
	}
	if len(out) == 0 {
		return nil, fmt.Errorf("job %s has no joint that lacks those initials", job.No)
	}
	return out, nil
}

// maySecond refuses a second look where nobody was first, and one by the same person.
func (b *bench) maySecond(joints []string) error {
	for _, j := range joints {
		switch one, _ := b.initialsOn(j); {
		case one.By == "":
			return fmt.Errorf("nobody has closed %s yet: the first initials are missing; whoever did it signs first", j)
		case one.By == b.flags.by:
			return fmt.Errorf("%s was closed by %s: another person looks at it and signs second", j, one.By)
		}
	}
	return nil
}

// initialsOn are the initials on a joint that still count.
func (b *bench) initialsOn(joint string) (one, two car.Initials) {
	for _, i := range slices.Backward(b.folder.Initials(b.when)) { // oldest first: the newest counts
		switch {
		case i.Void != "" || strings.TrimSpace(i.Joint+" "+i.Position) != joint:
		case i.Place == "first":
			one = i
		case i.Place == "second":
			two = i
		}
	}
	return one, two
}
