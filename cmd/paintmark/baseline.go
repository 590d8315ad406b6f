package main

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/readiness"
	"github.com/paintmark/paintmark/internal/schema"
)

func baselineCommand() *cobra.Command {
	var flags recordFlags
	var serial string
	c := &cobra.Command{
		Use:   "baseline [NAME[=VALUE]...] [DIR]",
		Short: "keep the newest run's values, for the next to be held against",
		Long: `Writes values of the newest run as the baseline of the part they are of: the part in the
place whose change makes the baseline void, by positions.yaml. Names choose some of
the values; NAME=VALUE gives one by hand. The noise of a channel is noise.CHANNEL, that of
all of them noise; apart is how far channels read above their pair. Take it from a run that was good: what drifts is found against it.`,
		Example: `paintmark baseline wing_close pump_duty --by SQ
paintmark baseline shift_time=51ms --by SQ`,
		RunE: func(c *cobra.Command, args []string) error {
			words, dir := carFolderLast(args)
			b, err := openBench(c, dir, flags)
			if err != nil {
				return err
			}
			return b.takeBaseline(joined(typed(words)), serial)
		},
	}
	c.Flags().StringVar(&serial, "serial", "", "`SERIAL` they are of, where positions.yaml does not say")
	flags.add(c, false)
	return c
}

func (b *bench) takeBaseline(words []string, serial string) error {
	run := b.folder.NewestRun(b.when)
	if err := b.goodRun(run); err != nil {
		return err
	}
	old := b.folder.Roots(b.when)["baseline"]
	values, err := b.baselineValues(old.Type, words)
	if err != nil {
		return err
	}
	bySerial := map[string]*taken{}
	var serials, lines []string
	unplaced := map[string][]string{} // channels, by what is not known of which part they are
	for _, v := range values {
		all, channel := byChannel(v.Key)
		if v.Why != "" {
			lines = append(lines, fmt.Sprintf("  %-14s not taken: %s", v.Key, v.Why))
			continue
		}
		of, err := b.serialOf(v.Key, serial)
		switch {
		case err != nil && len(words) > 0:
			return err
		case err != nil && channel != "": // one line for the lot
			unplaced[all] = append(unplaced[all], channel)
			continue
		case err != nil:
			lines = append(lines, fmt.Sprintf("  %-14s not taken: %s", v.Key, err))
			continue
		}
		if bySerial[of] == nil {
			serials, bySerial[of] = append(serials, of), &taken{}
		}
		bySerial[of].add(v)
		line := fmt.Sprintf("  %-14s %s, of %s", v.Key, v.Text, of)
		if was := textOf(old.Get(v.Key)); was != "" {
			line += ", was " + was
		}
		lines = append(lines, line)
	}
	for _, all := range car.ByChannel {
		if channels := unplaced[all]; len(channels) > 0 {
			lines = append(lines, fmt.Sprintf("  %s of %s not taken: %s", all, strings.Join(channels, ", "), noPart(all)))
		}
	}
	if len(serials) == 0 {
		return fmt.Errorf("nothing was written: run %d gives no baseline; %s", run, strings.Join(strings.Fields(strings.Join(lines, ";")), " "))
	}
	slices.Sort(serials)
	for _, of := range serials {
		b.draft("baselines", "baseline "+of, "baseline", append([]pair{{"serial", yamlText(of)}, {"from_run", strconv.Itoa(run)}}, bySerial[of].pairs()...)...)
	}
	if err := b.write(); err != nil {
		return err
	}
	for _, l := range lines {
		b.sayWrapped(l)
	}
	return nil
}

// byChannel takes the name of a value of one channel apart, noise.oil_pressure; channel is "" where it is none.
func byChannel(key string) (of, channel string) {
	of, channel, _ = strings.Cut(key, ".")
	if !slices.Contains(car.ByChannel, of) {
		return key, ""
	}
	return of, channel
}

// taken are the values of one part, with those by channel apart: each kind is one map.
type taken struct {
	values  []pair
	channel map[string][]pair
}

func (t *taken) add(v readiness.BaselineValue) {
	of, channel := byChannel(v.Key)
	if channel == "" {
		t.values = append(t.values, pair{v.Key, v.Text})
		return
	}
	if t.channel == nil {
		t.channel = map[string][]pair{}
	}
	t.channel[of] = append(t.channel[of], pair{channel, v.Text})
}

func (t *taken) pairs() []pair {
	out := t.values
	for _, of := range car.ByChannel {
		if channels := t.channel[of]; len(channels) > 0 {
			out = append(out, pair{of, flowMap(channels...)})
		}
	}
	return out
}

// goodRun refuses a run that nothing can be held against.
func (b *bench) goodRun(run int) error {
	for _, r := range b.folder.Runs() {
		if textOf(r.Body.Get("no")) == strconv.Itoa(run) && r.Body.Fields["aborted"] != nil {
			return fmt.Errorf("run %d was stopped before its end; take the baseline from a run that was whole", run)
		}
	}
	if run == 0 {
		return fmt.Errorf("there is no run yet; take one in first: paintmark in")
	}
	return nil
}

// baselineValues are those named, or all that the run gives.
func (b *bench) baselineValues(t *schema.Type, words []string) ([]readiness.BaselineValue, error) {
	var names []string
	var byHand []readiness.BaselineValue
	for _, w := range words {
		name, value, given := strings.Cut(w, "=")
		if of, channel := byChannel(name); channel != "" {
			if err := b.checkOfChannel(of, channel, value, given); err != nil {
				return nil, err
			}
			if given {
				byHand = append(byHand, readiness.BaselineValue{Key: name, Text: yamlValue(t.Fields[of].Elem, value)})
			} else {
				names = append(names, name)
			}
			continue
		}
		if t.Fields[name] == nil || name == "serial" || name == "from_run" {
			return nil, fmt.Errorf("no baseline %q; %s", name, nearestOf(name, "there are", t.Order))
		}
		if given && slices.Contains(car.ByChannel, name) {
			return nil, fmt.Errorf("%s is of each channel; give it as %s.CHANNEL=VALUE", name, name)
		}
		if given {
			byHand = append(byHand, readiness.BaselineValue{Key: name, Text: yamlValue(t.Fields[name], value)})
		} else {
			names = append(names, name)
		}
	}
	if len(words) > 0 && len(names) == 0 {
		return byHand, nil
	}
	opened, err := openCar(b.c, b.dir, readiness.Options{})
	if err != nil {
		return nil, err
	}
	values, faults := opened.Baseline(b.c.Context())
	if err := faults.Err(); err != nil {
		return nil, err
	}
	if len(names) > 0 {
		for _, n := range names {
			if !slices.ContainsFunc(values, func(v readiness.BaselineValue) bool { return chooses(n, v.Key) }) {
				return nil, fmt.Errorf("%s is not taken from a log; give it by hand: %s=VALUE", n, n)
			}
		}
		values = slices.DeleteFunc(values, func(v readiness.BaselineValue) bool {
			return !slices.ContainsFunc(names, func(n string) bool { return chooses(n, v.Key) })
		})
	}
	return append(values, byHand...), nil
}

// chooses says that a name somebody gave means this value.
func chooses(name, key string) bool {
	of, _ := byChannel(key)
	return name == key || name == of
}

// checkOfChannel refuses a name of no channel, and a value that its channel cannot have.
func (b *bench) checkOfChannel(of, channel, value string, given bool) error {
	if b.folder.Channel(channel) == nil {
		var known []string
		for _, c := range b.folder.Channels {
			known = append(known, c.Name)
		}
		return fmt.Errorf("no channel %q; %s", channel, nearestOf(channel, "there are", known))
	}
	if !given || value == "unknown" {
		return nil
	}
	if _, err := b.folder.OfChannel(of, channel, value); err != nil {
		return fmt.Errorf("%s.%s: %w", of, channel, err)
	}
	return nil
}

func noPart(key string) error {
	return fmt.Errorf("positions.yaml does not say which part %s is of; say it: --serial SERIAL", key)
}

// serialOf is the part a baseline value is of. What is of a channel is of the place that names it with its channel; else
// of the sensor, where that is a part on the car; else of the place that names all channels, as the logger's does.
func (b *bench) serialOf(key, said string) (string, error) {
	fitted := b.folder.Fitted(b.when)
	paths := []string{key}
	of, channel := byChannel(key)
	if channel != "" {
		paths = append(paths, of)
	}
	for i, path := range paths {
		if c := b.folder.Channel(channel); i > 0 && c != nil && fitted.Where(c.Serial) != "" {
			return c.Serial, nil
		}
		for _, p := range b.folder.Positions {
			if !slices.ContainsFunc(p.Voids, func(t car.Text) bool { return t.Text == "baseline."+path }) {
				continue
			}
			if on := fitted.Serial(p.Name); on != "" {
				return on, nil
			}
			return "", fmt.Errorf("%s is empty, so %s is of no part; fit it first", p.Name, key)
		}
	}
	says := func(body *schema.Value) bool {
		all := body.Fields[of]
		return all != nil && (channel == "" || all.Fields[channel] != nil)
	}
	for _, r := range slices.Backward(b.folder.Of("baseline")) { // as the one before
		if of := textOf(r.Body.Get("serial")); said == "" && says(r.Body) && fitted.Where(of) != "" {
			return of, nil
		}
	}
	if said != "" {
		part, err := b.part(said)
		if err != nil {
			return "", err
		}
		return part.Serial, nil
	}
	return "", noPart(key)
}
