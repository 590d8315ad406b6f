package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
)

func setupCommand() *cobra.Command {
	var flags recordFlags
	var revision, like string
	c := &cobra.Command{
		Use:   "setup NAME VALUE... [NAME VALUE...] [DIR]",
		Short: "change the setup sheet, under its next revision",
		Long: `Changes lines of the setup sheet under a new revision, and lists what is then to be
done on the car. Layout and remarks of setup.yaml stay. The old sheet and the new one
are both kept in setups/, under their revisions; what was not yet done on the car
from the old one is still to be done.

A line is named as on the sheet. Where the sheet has a target, the value is the
target. Lines by corner take four values, in the order FL FR RL RR, or one for an
axle: dampers.front.bump. Clicks may be said from where they are: +2, -1.`,
		Example: `paintmark setup bars.rear P3 dampers.front.bump +2 --revision S15 --by HW --why "pushes at the hairpin"
paintmark setup --like S14 --revision S16 --by HW --why "worse"`,
		RunE: func(c *cobra.Command, args []string) error {
			words, dir := carFolderLast(args)
			if len(words) == 0 && like == "" {
				return errors.New("setup wants a line and its value; see paintmark setup --help")
			}
			b, err := openBench(c, dir, flags)
			if err != nil {
				return err
			}
			return b.changeSetup(joined(typed(words)), revision, like)
		},
	}
	c.Flags().StringVar(&revision, "revision", "", "the new `REVISION`, said aloud: S15")
	c.Flags().StringVar(&like, "like", "", "start from the sheet that was kept as this `REVISION`")
	flags.add(c, false)
	return c
}

// revisionForm is what can be said aloud and be a file's name.
var revisionForm = source.Form(`^[A-Za-z0-9][A-Za-z0-9._-]*$`)

func (b *bench) changeSetup(words []string, revision, like string) error {
	text, err := os.ReadFile(filepath.Join(b.dir, "setup.yaml"))
	if err != nil {
		return fmt.Errorf("setup.yaml: %s; write a first sheet by hand", why(err))
	}
	old, faults := b.folder.ReadSheet("setup.yaml", text)
	if err := faults.Err(); err != nil {
		return fmt.Errorf("the sheet cannot be read: %w", err)
	}
	was := textOf(old.Value.Get("revision"))
	if err := b.newRevision(revision, was); err != nil {
		return err
	}
	from := old
	if like != "" {
		if from, err = b.keptSheet(like); err != nil {
			return err
		}
	}
	settings, err := changes(from.Value, words)
	if err != nil {
		return err
	}
	now, err := from.With(b.folder, settings...)
	if err != nil {
		return err
	}
	lines := car.SheetLines(old.Value, now.Value)
	if len(lines) == 0 {
		return fmt.Errorf("nothing is different from setup %s: no new revision is needed", was)
	}
	var changed, still []string
	for _, l := range lines {
		if onTheCar(l.Name) {
			changed = append(changed, l.Name)
		}
	}
	if todo, known := b.folder.ToDo(b.when); known {
		for _, l := range todo {
			if !slices.Contains(changed, l.Text) {
				still = append(still, l.Text)
			}
		}
	} else {
		return fmt.Errorf("setup %s does not say which of its lines were changed, so nobody knows what is still to be done on the car; write changed: into setup.yaml first", was)
	}
	now, err = now.With(b.folder,
		car.Setting{Path: "changed", YAML: "[" + strings.Join(append(slices.Clone(changed), still...), ", ") + "]"},
		car.Setting{Path: "why", YAML: yamlText(first(b.flags.why, "from "+was))},
		car.Setting{Path: "by", YAML: yamlText(b.flags.by)},
		car.Setting{Path: "revision", YAML: yamlText(revision)})
	if err != nil {
		return err
	}
	if err := b.writeSheet(old, now); err != nil {
		return err
	}
	b.say("setup %s, was %s", revision, was)
	for _, l := range lines {
		b.say("  %-22s %s to %s", l.Name, first(l.Was, "not written"), first(l.Now, "not written"))
	}
	if len(still) > 0 {
		b.sayWrapped(fmt.Sprintf("Still to be done from %s: %s.", was, strings.Join(still, ", ")))
	}
	if todo := append(changed, still...); len(todo) > 0 {
		b.sayWrapped("When they are done on the car: paintmark done " + strings.Join(todo, " ") + " --by INITIALS")
	}
	return nil
}

// newRevision refuses a revision that was ever used: what is done on the car, and what a run
// was driven with, is looked up by it. A sheet that was only kept under it, as when this command
// was broken off, may be finished; other contents are refused when it is written.
func (b *bench) newRevision(revision, was string) error {
	next := was
	if m := regexp.MustCompile(`^(.*?)([0-9]+)$`).FindStringSubmatch(was); m != nil {
		n, _ := strconv.Atoi(m[2])
		for next = was; slices.Contains(b.folder.Revisions(), next); n++ {
			next = fmt.Sprintf("%s%d", m[1], n+1)
		}
	}
	switch {
	case revision == "":
		return fmt.Errorf("say the new revision: --revision %s", next)
	case !revisionForm().MatchString(revision):
		return fmt.Errorf("%q is no revision; write letters, digits, dots and dashes: %s", revision, next)
	case b.folder.Spoken(revision):
		return fmt.Errorf("there is a setup %s already, and two sheets under one revision would be mixed up; give this one the next: --revision %s", revision, next)
	}
	return nil
}

func (b *bench) keptSheet(revision string) (*car.Sheet, error) {
	file := filepath.Join("setups", revision+".yaml")
	if b.folder.KeptSheet(revision) == nil {
		return nil, fmt.Errorf("no sheet was kept as %s; kept sheets are in setups/", revision)
	}
	text, err := os.ReadFile(filepath.Join(b.dir, file))
	if err != nil {
		return nil, fmt.Errorf("%s: %s", filepath.ToSlash(file), why(err))
	}
	sheet, faults := b.folder.ReadSheet(filepath.ToSlash(file), text)
	return sheet, faults.Err()
}

// onTheCar tells a line that somebody has to do on the car from one that only says how it is
// measured.
func onTheCar(line string) bool {
	return !strings.HasSuffix(line, ".tol") && !strings.HasPrefix(line, "reference.") && line != "tyre_cold_at"
}

// changes reads NAME VALUE... NAME VALUE... as values of the sheet.
func changes(sheet *schema.Value, words []string) ([]car.Setting, error) {
	var out []car.Setting
	for i := 0; i < len(words); {
		name := words[i]
		end := i + 1
		for end < len(words) && (end == i+1 || !isLine(sheet, words[end])) {
			end++
		}
		if end == i+1 {
			return nil, fmt.Errorf("%s has no value; write it after the name", name)
		}
		settings, err := change(sheet, name, words[i+1:end])
		if err != nil {
			return nil, err
		}
		out = append(out, settings...)
		i = end
	}
	return out, nil
}

func isLine(sheet *schema.Value, word string) bool {
	_, err := lookUp(sheet, axle(word, "FL", "RL"))
	return err == nil && !slices.Contains(notLines, word)
}

// notLines are said by the command itself.
var notLines = []string{"revision", "by", "why", "changed"}

// axle names a corner for an axle in a path: dampers.front.bump is dampers.FL.bump.
func axle(path, front, rear string) string {
	keys := strings.Split(path, ".")
	if len(keys) > 1 && !slices.Contains([]string{"springs", "bars", "tyre_hot"}, keys[0]) {
		switch keys[1] {
		case "front":
			keys[1] = front
		case "rear":
			keys[1] = rear
		}
	}
	return strings.Join(keys, ".")
}

// change is the values of one line, or of several by corner or axle.
func change(sheet *schema.Value, name string, values []string) ([]car.Setting, error) {
	if slices.Contains(notLines, name) {
		return nil, fmt.Errorf("%s is said by --revision, --by and --why", name)
	}
	if left := axle(name, "FL", "RL"); left != name {
		one, err := change(sheet, left, values)
		if err != nil {
			return nil, err
		}
		other, err := change(sheet, axle(name, "FR", "RR"), values)
		return append(one, other...), err
	}
	v, err := lookUp(sheet, name)
	if err != nil {
		return nil, err
	}
	t := v.Type
	var under []string // keys below the name, one for each value
	switch {
	case t.Kind == schema.Object && t.Fields["target"] != nil:
		return change(sheet, name+".target", values)
	case t.Kind == schema.Map:
		under = cornersOf(v)
	case t.Kind == schema.Object && t.Fields["front"] != nil && t.Fields["rear"] != nil:
		under = []string{"front", "rear"}
	case t.Kind == schema.Object:
		return nil, fmt.Errorf("%s has lines of its own: %s", name, strings.Join(keysOf(v), ", "))
	case len(values) != 1:
		return nil, fmt.Errorf("%s is one value, not %d: %s", name, len(values), strings.Join(values, " "))
	case t.Kind == schema.Integer && strings.ContainsAny(values[0][:1], "+-"):
		step, err := strconv.Atoi(values[0])
		if err != nil || v.Unknown {
			return nil, fmt.Errorf("%s of %s: nobody knows from where; write the number itself", values[0], name)
		}
		return []car.Setting{{Path: name, YAML: strconv.FormatInt(v.Int+int64(step), 10)}}, nil
	default:
		return []car.Setting{{Path: name, YAML: yamlValue(t, values[0])}}, nil
	}
	if len(values) != len(under) {
		return nil, fmt.Errorf("%s takes %d values (%s), or name one: %s.%s", name, len(under), strings.Join(under, " "), name, under[0])
	}
	var out []car.Setting
	for i, key := range under {
		one, err := change(sheet, name+"."+key, values[i:i+1])
		if err != nil {
			return nil, err
		}
		out = append(out, one...)
	}
	return out, nil
}

// writeSheet looks at what the new sheet would make of the folder, and writes it.
func (b *bench) writeSheet(old, now *car.Sheet) error {
	then, faults := car.ForeseeFiles(os.DirFS(b.dir), b.faults, map[string][]byte{
		"setup.yaml": now.Text,
		"setups/" + textOf(old.Value.Get("revision")) + ".yaml": old.Text,
		"setups/" + textOf(now.Value.Get("revision")) + ".yaml": now.Text,
	})
	if len(faults) > 0 {
		return fmt.Errorf("nothing was written: %s", faults[0].Error())
	}
	written, err := car.WriteSheet(b.dir, old, now)
	for _, file := range written {
		b.say("Wrote %s", file)
	}
	b.folder = then
	return err
}
