package main

import (
	"errors"
	"fmt"
	"os"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/readiness"
)

// acceptFlags are the bounds that a deviation is accepted within.
type acceptFlags struct {
	position, until, serial, watch  string
	with, beyond                    []string
	runs                            int
	how, value, before, least, most string // substitute
	safe, readBack                  string
	official, form, remark          string
}

func acceptCommand() *cobra.Command {
	var flags recordFlags
	var accept acceptFlags
	c := &cobra.Command{
		Use:   "accept RULE... [DIR]",
		Short: "run with an item as it is, within bounds, with names to it",
		Long: `Writes that an open item is accepted as it is: not beyond a value, for some runs, by
everybody whose hat the rule asks for. It ends by itself: when the value gets worse,
the runs are over, the part comes off or its system is worked on. Several rules may be
accepted at once; safe state and substitute are then of those that cannot see. A sensor
that a protection rests on needs both. At most five deviations, one in a system.`,
		Example: `paintmark accept gearbox.oil-temp --not-beyond 128°C --runs 2 --by HW --with PO --watch "gearbox over 128: lift"
paintmark accept sensors.oil-temp engine.oil-peak --runs 2 --by HW --with SQ --safe-state "boost B2" --read-back "M6-98 B2" --substitute "probe in the tank neck" --before "each run" --at-least 80°C`,
		RunE: func(c *cobra.Command, args []string) error {
			rules, dir := carFolderLast(args)
			if len(rules) == 0 {
				return errors.New("say which rule: paintmark accept RULE; paintmark check names them with --format json, paintmark why explains one")
			}
			b, err := openBench(c, dir, flags)
			if err != nil {
				return err
			}
			return b.accept(rules, accept)
		},
	}
	f := c.Flags()
	f.StringSliceVar(&accept.with, "with", nil, "`INITIALS` of the others who accept")
	f.StringArrayVar(&accept.beyond, "not-beyond", nil, "the value may not get worse than this `VALUE`; RULE=VALUE for one of several rules")
	f.IntVar(&accept.runs, "runs", 0, "for how many `RUNS` from here")
	f.StringVar(&accept.until, "until", "", "last `DAY`, 2026-05-17")
	f.StringVar(&accept.position, "position", "", "`POSITION` of the item, where its rule has several")
	f.StringVar(&accept.serial, "serial", "", "ends when this `PART` comes off; the one of the system's place if it has one")
	f.StringVar(&accept.watch, "watch", "", "what the driver watches, in `WORDS`")
	f.StringVar(&accept.how, "substitute", "", "`HOW` a lost value is read instead")
	f.StringVar(&accept.value, "value", "", "`ITEM` the substitute is noted as")
	f.StringVar(&accept.before, "before", "", "`WHEN` it is read: each run or each session")
	f.StringVar(&accept.least, "at-least", "", "least `VALUE` of the substitute")
	f.StringVar(&accept.most, "at-most", "", "greatest `VALUE` of the substitute")
	f.StringVar(&accept.safe, "safe-state", "", "the state that makes the loss safe, in `WORDS`")
	f.StringVar(&accept.readBack, "read-back", "", "that state as read back, in `WORDS`")
	f.StringVar(&accept.official, "official", "", "`NAME` of the official whose document it is")
	f.StringVar(&accept.form, "form", "", "`NUMBER` of the official's form")
	f.StringVar(&accept.remark, "remark", "", "the official's `REMARK`")
	flags.add(c, false)
	return c
}

func (b *bench) accept(rules []string, accept acceptFlags) error {
	var with []string
	for _, w := range accept.with {
		who, err := b.person(strings.TrimSpace(w))
		if err != nil {
			return err
		}
		with = append(with, who)
	}
	accept.with = with
	opened, err := openCar(b.c, b.dir, readiness.Options{Ahead: true})
	if err != nil {
		return err
	}
	look := opened.Look(b.c.Context())
	if err := stopped(b.c); err != nil {
		return fmt.Errorf("nothing was written: %w", err)
	}
	var items []*check.Item
	for _, rule := range rules {
		it, err := opened.Item(look, rule, accept.position)
		if err != nil {
			return err
		}
		if it.Acceptor().Nobody() {
			return fmt.Errorf("nobody may accept %s of %s; put it right: %s", it.Outcome, rule, it.Card.Do)
		}
		if why := opened.Room(look, it, items); why != "" {
			return fmt.Errorf("nothing was written: %s", why)
		}
		items = append(items, it)
		b.draftDeviation(it, accept, opened.Protects(it), look.Run)
	}
	for i, d := range b.drafts {
		then, _, err := car.Foresee(os.DirFS(b.dir), b.faults, b.folder.Set(), d)
		if err != nil {
			return fmt.Errorf("nothing was written: %w", err)
		}
		for _, r := range then.Of("deviation") {
			if b.folder.Record(r.File) == nil {
				if short := opened.Short(r, items[i]); short != "" {
					return fmt.Errorf("nothing was written: this does not cover %s: %s", rules[i], short)
				}
			}
		}
	}
	if err := b.write(); err != nil {
		return err
	}
	for _, it := range items {
		b.sayWrapped(fmt.Sprintf("Accepted as it is: %s, %s", it.Card.ID, it.Message))
		if blind := opened.Protects(it); len(blind) > 0 {
			b.sayWrapped("  Blind: " + strings.Join(blind, ", ") + ".")
		}
	}
	by := append([]string{b.flags.by}, with...)
	ends := "until it is put right"
	if runs := b.runsOf(items, accept); runs > 0 {
		ends = fmt.Sprintf("for %d runs after run %d", runs, look.Run)
	}
	b.sayWrapped(fmt.Sprintf("By %s, %s; sooner if it gets worse, the part comes off or its system is worked on.", strings.Join(by, " and "), ends))
	if accept.how != "" {
		b.sayWrapped(fmt.Sprintf("Before %s: %s%s.", first(accept.before, "each run"), accept.how, bounds(accept)))
	}
	return nil
}

// bound is the value that an item of a rule may not go beyond, "" where none was said of it.
func (a acceptFlags) bound(rule string) string {
	all := ""
	for _, b := range a.beyond {
		if of, value, ok := strings.Cut(b, "="); !ok {
			all = b
		} else if of == rule {
			return value
		}
	}
	return all
}

func bounds(a acceptFlags) string {
	out := ""
	if a.least != "" {
		out += ", at least " + spaced(a.least)
	}
	if a.most != "" {
		out += ", at most " + spaced(a.most)
	}
	return out
}

// runsOf is for how many runs a deviation holds: no longer than the rule gives.
func (b *bench) runsOf(items []*check.Item, accept acceptFlags) int {
	runs := accept.runs
	for _, it := range items {
		if most := it.Acceptor().Runs; most > 0 && (runs == 0 || most < runs) {
			runs = most
		}
	}
	return runs
}

func (b *bench) draftDeviation(it *check.Item, accept acceptFlags, blind []string, run int) {
	serial := accept.serial
	if serial == "" {
		fitted := b.folder.Fitted(b.when)
		n := 0
		for _, p := range b.folder.Positions {
			if p.System == it.Card.System {
				serial, n = fitted.Serial(p.Name), n+1
			}
		}
		if n != 1 {
			serial = ""
		}
	}
	runs := ""
	if n := b.runsOf([]*check.Item{it}, accept); n > 0 {
		runs = strconv.Itoa(n)
	}
	var substitute, safe, official string
	if it.From.Kind != "log" {
		accept.watch = "" // nothing the driver could see
	}
	if len(it.Unseen) == 0 {
		accept.how, accept.safe = "", "" // nothing was lost
	}
	if accept.how != "" {
		substitute = flowMap(pair{"value", yamlText(accept.value)}, pair{"how", yamlText(accept.how)}, pair{"before", first(accept.before, "each run")}, pair{"at_least", spaced(accept.least)}, pair{"at_most", spaced(accept.most)})
	}
	if accept.safe != "" {
		safe = flowMap(pair{"what", yamlText(accept.safe)}, pair{"read_back", yamlText(accept.readBack)}, pair{"by", b.flags.by})
	}
	if accept.official != "" || accept.form != "" {
		official = flowMap(pair{"name", yamlText(accept.official)}, pair{"form", yamlText(accept.form)}, pair{"remark", yamlText(accept.remark)})
	}
	b.draft("deviations", it.Card.ID+" "+it.Position, "deviation",
		pair{"rule", it.Card.ID}, pair{"position", yamlText(it.Position)}, pair{"outcome", string(it.Outcome)}, pair{"seen", yamlText(it.Message)},
		pair{"not_beyond", spaced(accept.bound(it.Card.ID))}, pair{"runs", runs}, pair{"after_run", strconv.Itoa(run)}, pair{"until", accept.until},
		pair{"serial", yamlText(serial)}, pair{"with", flowList(accept.with)}, pair{"watch", yamlText(accept.watch)},
		pair{"substitute", substitute}, pair{"safe_state", safe}, pair{"blind", flowList(blind)}, pair{"official", official})
}
