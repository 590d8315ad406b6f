package main

import (
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/life"
	"github.com/paintmark/paintmark/internal/source"
)

// part finds a part of the register.
func (b *bench) part(serial string) (*life.Part, error) {
	if p := b.sheet.Part(serial); p != nil {
		return p, nil
	}
	return nil, unknownSerial(b.sheet, serial)
}

func (b *bench) position(name string) (*car.Position, error) {
	var known []string
	for i := range b.folder.Positions {
		if b.folder.Positions[i].Name == name {
			return &b.folder.Positions[i], nil
		}
		known = append(known, b.folder.Positions[i].Name)
	}
	remedy := "positions.yaml has " + strings.Join(known, ", ")
	if near := source.Nearest(name, known); near != "" {
		remedy = "did you mean " + near
	}
	return nil, fmt.Errorf("no position %q; %s", name, remedy)
}

// record drafts one record of what happened to a part.
func (b *bench) record(kind, what string, fields ...pair) {
	b.draft("fitted", what, kind, fields...)
}

// changed echoes what a change of a place opens, voids and owes.
func (b *bench) changed(p *car.Position) {
	for _, l := range []struct {
		what  string
		words []car.Text
	}{{"Opens, to be initialled again: ", p.Opens}, {"Void until measured again: ", p.Voids}, {"Owes: ", p.Owes}} {
		if len(l.words) == 0 {
			continue
		}
		var words []string
		for _, w := range l.words {
			words = append(words, w.Text)
		}
		b.say("%s%s.", l.what, strings.Join(words, ", "))
	}
}

// arrived echoes what a part brings: what is inside it, and its life.
func (b *bench) arrived(serial string) {
	p := b.sheet.Part(serial)
	if p == nil {
		return
	}
	var brings []string
	for _, other := range b.sheet.Parts {
		if other.Inside == serial {
			brings = append(brings, other.Serial)
		}
	}
	if len(brings) > 0 {
		b.say("Brings %s.", strings.Join(brings, ", "))
	}
	for _, s := range append([]string{serial}, brings...) {
		part := b.sheet.Part(s)
		for _, l := range part.Limits {
			estimated := ""
			if l.Used.Estimated {
				estimated = ", estimated"
			}
			limit := life.Exact(l.Life)
			if u := l.Unit(); u != "" {
				limit += " " + u
			}
			b.say("%s %s: %s of %s%s.", s, l.Meter.Words(), l.Meter.Number(l.Used), limit, estimated)
		}
	}
}

// place is where a part sits now: its position, else the assembly it is inside.
func place(p *life.Part) string {
	if p.Inside != "" {
		return p.Inside
	}
	return p.Position
}

func lifeFit() *cobra.Command {
	var flags recordFlags
	var in string
	c := &cobra.Command{
		Use:   "fit SERIAL [DIR]",
		Short: "a part goes on the car",
		Long: `Writes that a part was fitted into a position, and says what that opens, voids
and owes.`,
		Example: "paintmark life fit GB-02 --in gearbox --by PO --job PO-38",
		Args:    atMostOneFolder("life fit", "a serial"),
		RunE: func(c *cobra.Command, args []string) error {
			b, err := openBench(c, folder(args[1:]), flags)
			if err != nil {
				return err
			}
			if _, err := b.part(args[0]); err != nil {
				return err
			}
			position, err := b.position(in)
			if err != nil {
				return err
			}
			b.fit(args[0], in)
			if err := b.write(); err != nil {
				return err
			}
			b.arrived(args[0])
			b.changed(position)
			return nil
		},
	}
	c.Flags().StringVar(&in, "in", "", "the `POSITION` of positions.yaml")
	flags.add(c, true)
	return c
}

func (b *bench) fit(serial, position string) {
	b.record("fitted", serial+" in", pair{"serial", yamlText(serial)}, pair{"position", yamlText(position)}, pair{"job", yamlText(b.flags.job)})
}

func (b *bench) remove(serial, from string) {
	b.record("removed", serial+" out", pair{"serial", yamlText(serial)}, pair{"from", yamlText(from)}, pair{"job", yamlText(b.flags.job)})
}

func lifeRemove() *cobra.Command {
	var flags recordFlags
	c := &cobra.Command{
		Use:   "remove SERIAL [DIR]",
		Short: "a part comes off the car, or out of its assembly",
		Long: `Writes that a part came out of where it sits, and says what that opens, voids
and owes.`,
		Example: "paintmark life remove GB-01 --by PO --why \"banged into third\"",
		Args:    atMostOneFolder("life remove", "a serial"),
		RunE: func(c *cobra.Command, args []string) error {
			b, err := openBench(c, folder(args[1:]), flags)
			if err != nil {
				return err
			}
			part, err := b.part(args[0])
			if err != nil {
				return err
			}
			from := place(part)
			if from == "" {
				return fmt.Errorf("%s is in nothing; see paintmark life %s", part.Serial, part.Serial)
			}
			b.remove(part.Serial, from)
			if err := b.write(); err != nil {
				return err
			}
			b.say("%s is out of %s.", part.Serial, from)
			if position, err := b.position(from); err == nil {
				b.changed(position)
				b.say("%s is empty: the car does not run.", from)
			}
			return nil
		},
	}
	flags.add(c, true)
	return c
}

func lifeSwap() *cobra.Command {
	var flags recordFlags
	var in string
	c := &cobra.Command{
		Use:   "swap OLD NEW [DIR]",
		Short: "one part out of a position, another in",
		Long: `Writes that one part came out of a position and another went in, and says what
that opens, voids and owes.`,
		Example: "paintmark life swap GB-01 GB-02 --in gearbox --by PO --job PO-38",
		Args:    atMostOneFolder("life swap", "the serial that comes off", "the one that goes on"),
		RunE: func(c *cobra.Command, args []string) error {
			b, err := openBench(c, folder(args[2:]), flags)
			if err != nil {
				return err
			}
			for _, serial := range args[:2] {
				if _, err := b.part(serial); err != nil {
					return err
				}
			}
			position, err := b.position(in)
			if err != nil {
				return err
			}
			b.remove(args[0], in)
			b.fit(args[1], in)
			if err := b.write(); err != nil {
				return err
			}
			b.arrived(args[1])
			b.changed(position)
			return nil
		},
	}
	c.Flags().StringVar(&in, "in", "", "the `POSITION` of positions.yaml")
	flags.add(c, true)
	return c
}

func lifeAssemble() *cobra.Command {
	var flags recordFlags
	var into string
	c := &cobra.Command{
		Use:   "assemble SERIAL [DIR]",
		Short: "a part goes inside another",
		Long: `Writes that a part went inside an assembly; from then on it shares its runs and
keeps its own life.`,
		Example: "paintmark life assemble GS-04 --into GB-02 --by PO",
		Args:    atMostOneFolder("life assemble", "a serial"),
		RunE: func(c *cobra.Command, args []string) error {
			b, err := openBench(c, folder(args[1:]), flags)
			if err != nil {
				return err
			}
			for _, serial := range []string{args[0], into} {
				if _, err := b.part(serial); err != nil {
					return err
				}
			}
			b.record("assembled", args[0]+" into "+into, pair{"serial", yamlText(args[0])}, pair{"into", yamlText(into)}, pair{"job", yamlText(flags.job)})
			if err := b.write(); err != nil {
				return err
			}
			b.arrived(args[0])
			return nil
		},
	}
	c.Flags().StringVar(&into, "into", "", "the `SERIAL` of the assembly")
	flags.add(c, true)
	return c
}

func lifeInspect() *cobra.Command {
	var flags recordFlags
	var method, result string
	c := &cobra.Command{
		Use:   "inspect SERIAL WHAT [DIR]",
		Short: "a part was looked at",
		Long: `Writes that an inspection of parts.yaml was done. Its interval starts again; the
part's life does not.`,
		Example: "paintmark life inspect GS-04 \"crack test\" --result fit --method \"magnetic particle\" --by PO",
		Args:    atMostOneFolder("life inspect", "a serial", "an inspection"),
		RunE: func(c *cobra.Command, args []string) error {
			b, err := openBench(c, folder(args[2:]), flags)
			if err != nil {
				return err
			}
			if _, err := b.part(args[0]); err != nil {
				return err
			}
			if result != "fit" && result != "not fit" {
				return errors.New("say what came of it: --result fit, or --result \"not fit\"")
			}
			b.record("inspected", args[0]+" "+args[1], pair{"serial", yamlText(args[0])}, pair{"what", yamlText(args[1])}, pair{"method", yamlText(method)},
				pair{"result", yamlText(result)}, pair{"job", yamlText(flags.job)})
			if err := b.write(); err != nil {
				return err
			}
			if result == "fit" {
				b.say("%s of %s starts its interval again; its life goes on.", args[1], args[0])
			} else {
				b.say("%s is not fit: take it off and retire it.", args[0])
			}
			return nil
		},
	}
	c.Flags().StringVar(&result, "result", "", "what came of it: fit or \"not fit\"")
	c.Flags().StringVar(&method, "method", "", "`METHOD`: magnetic particle, dye, by hand")
	flags.add(c, true)
	return c
}

func lifeOverhaul() *cobra.Command {
	var flags recordFlags
	c := &cobra.Command{
		Use:   "overhaul SERIAL [DIR]",
		Short: "a part was rebuilt",
		Long: `Writes that a part was rebuilt. What counts since overhaul starts again; its
life back to birth does not.`,
		Example: "paintmark life overhaul E-07 --by SQ --job SQ-40",
		Args:    atMostOneFolder("life overhaul", "a serial"),
		RunE: func(c *cobra.Command, args []string) error {
			return aboutPart(c, args, flags, func(b *bench, p *life.Part) {
				b.record("overhauled", p.Serial+" rebuilt", pair{"serial", yamlText(p.Serial)}, pair{"job", yamlText(flags.job)})
			}, "%s counts from here since overhaul; its life back to birth goes on.")
		},
	}
	flags.add(c, true)
	return c
}

// aboutPart writes one record about one part.
func aboutPart(c *cobra.Command, args []string, flags recordFlags, draft func(*bench, *life.Part), said string) error {
	b, err := openBench(c, folder(args[1:]), flags)
	if err != nil {
		return err
	}
	part, err := b.part(args[0])
	if err != nil {
		return err
	}
	draft(b, part)
	if err := b.write(); err != nil {
		return err
	}
	b.say(said, part.Serial)
	return nil
}

func lifeRetire() *cobra.Command {
	var flags recordFlags
	var failed, whole bool
	c := &cobra.Command{
		Use:   "retire SERIAL [DIR]",
		Short: "a part is not to be fitted again",
		Long: `Writes that a part is not to be fitted again, and why. It is refused if it comes
back. Say too whether it had failed: the lives of parts that failed and of parts
that were taken off whole give the chance that the next of its kind fails.`,
		Example: "paintmark life retire GB-01 --failed --by PO --why \"cracked at the output bearing\"",
		Args:    atMostOneFolder("life retire", "a serial"),
		RunE: func(c *cobra.Command, args []string) error {
			if flags.why == "" {
				return errors.New("say why: --why WORDS")
			}
			if failed && whole {
				return errors.New("it had failed or it was whole; say one of --failed and --whole")
			}
			return aboutPart(c, args, flags, func(b *bench, p *life.Part) {
				said := ""
				if failed || whole {
					said = strconv.FormatBool(failed)
				}
				b.record("retired", p.Serial+" retired", pair{"serial", yamlText(p.Serial)}, pair{"failed", said}, pair{"job", yamlText(flags.job)})
			}, "%s is retired. Mark it so that nobody takes it for a good one.")
		},
	}
	c.Flags().BoolVar(&failed, "failed", false, "it had failed")
	c.Flags().BoolVar(&whole, "whole", false, "it was taken off whole")
	flags.add(c, true)
	return c
}

func lifeCorrect() *cobra.Command {
	var flags recordFlags
	c := &cobra.Command{
		Use:   "correct RECORD [DIR]",
		Short: "a record was wrong and no longer counts",
		Long: `Writes that a record was wrong: it stays in its folder and no longer counts.
Write the right one after it, with the time at which it was so.`,
		Example: "paintmark life correct 20260516T131200Z-PO-gb-02-in-1a2b3c.yaml --by PO --why \"it was GB-03\"",
		Args:    atMostOneFolder("life correct", "a record's file name"),
		RunE: func(c *cobra.Command, args []string) error {
			if flags.why == "" {
				return errors.New("say what was wrong: --why WORDS")
			}
			b, err := openBench(c, folder(args[1:]), flags)
			if err != nil {
				return err
			}
			name := filepath.Base(args[0])
			old := slices.IndexFunc(b.folder.Records, func(r *car.Record) bool { return strings.HasSuffix(r.File, "/"+name) })
			if old < 0 {
				return fmt.Errorf("there is no record %s; paintmark life SERIAL lists those of a part", name)
			}
			wrong := b.folder.Records[old]
			b.record("corrected", "correction", pair{"record", yamlText(name)})
			if err := b.write(); err != nil {
				return err
			}
			b.say("%s no longer counts: %s by %s, %s.", wrong.File, wrong.Kind, wrong.By, wrong.At.In(placeZone(b.folder)).Format("2 Jan 2006 15:04"))
			return nil
		},
	}
	flags.add(c, false)
	return c
}
