package main

import (
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/readiness"
	"github.com/paintmark/paintmark/internal/schema"
)

func noteCommand() *cobra.Command {
	var flags recordFlags
	var tool string
	var sure bool
	c := &cobra.Command{
		Use:   "note ITEM VALUE... [ITEM VALUE...] [DIR]",
		Short: "write down what was measured",
		Long: `Writes what was measured, and shows it beside the last value and what the rules make of
it. One value is the item's; values by corner come in the order FL FR RL RR and are
shown as they stand on the car; values with names (supply=9.1bar) are the item's
other parts. all=none is every corner. A unit after several numbers is that of all.

Several items may be noted at once, each by its name and its values.

A value that nobody would expect, outside its plausible band or more than a quarter
off the last one, is asked for again; --sure says that it was read twice.`,
		Example: `paintmark note wing.close_time 0.29 s supply=9.1bar cycles=5 --by SQ
paintmark note tyres.cold.pressure 1.35 1.35 1.30 1.31 bar carcass=14°C --by TB --tool TG-2
paintmark note brakes.pad 16.9 16.8 15.0 14.9 mm wing.bottle 164 bar --by PO`,
		RunE: func(c *cobra.Command, args []string) error {
			words, dir := carFolderLast(args)
			if len(words) < 2 {
				return errors.New("say what was measured and its value: paintmark note ITEM VALUE")
			}
			b, err := openBench(c, dir, flags)
			if err != nil {
				return err
			}
			return b.note(joined(typed(words)), tool, sure)
		},
	}
	c.Flags().StringVar(&tool, "tool", "", "`TOOL` it was measured with, as in tools.yaml")
	c.Flags().BoolVar(&sure, "sure", false, "the value was looked at twice and is so")
	flags.add(c, false)
	return c
}

func (b *bench) note(words []string, tool string, sure bool) error {
	last := b.folder.Roots(b.when)["measured"]
	var readings []*reading
	for i := 0; i < len(words); {
		end := i + 1
		for end < len(words) && !isItem(last, words[end:]) {
			end++
		}
		r, err := readingOf(last, words[i], words[i+1:end])
		if err != nil {
			return err
		}
		readings = append(readings, r)
		i = end
	}
	for _, r := range readings {
		if err := b.ask(r.values, sure); err != nil {
			return err
		}
		body := ""
		if tool != "" {
			body = "tool: " + yamlText(tool) + "\n"
		}
		b.draftBody("measured", r.item, body+"measured: "+r.yaml+"\n")
	}
	if err := b.write(); err != nil {
		return err
	}
	var paths []string
	for _, r := range readings {
		b.echo(r)
		for _, v := range r.values {
			paths = append(paths, "measured."+v.path)
		}
	}
	opened, err := openCar(b.c, b.dir, readiness.Options{})
	if err != nil {
		return err
	}
	items := opened.Reading(b.c.Context(), paths)
	for _, line := range itemLines(items) {
		b.sayWrapped("  " + line)
	}
	if len(items) == 0 {
		b.say("  No rule and no plugin looks at it.")
	}
	return nil
}

// isItem tells the name of the next item from a value: wing.bottle, or a whole system whose
// parts follow, as fuel mass=9kg.
func isItem(measured *schema.Value, words []string) bool {
	word := words[0]
	if strings.Contains(word, "=") || !strings.Contains(word, ".") && (len(words) < 2 || !strings.Contains(words[1], "=")) {
		return false
	}
	_, _, err := itemOf(measured, word)
	return err == nil
}

// itemOf finds an item; key is what is measured at each corner, where an item by corner holds
// more than one thing: tyres.cold.pressure.
func itemOf(measured *schema.Value, item string) (v *schema.Value, key string, err error) {
	if i := strings.LastIndexByte(item, '.'); i > 0 {
		if v, err := lookUp(measured, item[:i]); err == nil && v.Type.Kind == schema.Map && v.Type.Elem.Kind == schema.Object && v.Type.Elem.Fields[item[i+1:]] != nil {
			return v, item[i+1:], nil
		}
	}
	v, err = lookUp(measured, item)
	return v, "", err
}

// reading is what was measured, about to be written.
type reading struct {
	item   string
	yaml   string
	values []readValue
	lost   []string // parts of the item that were known and are not said again
}

// readValue is one value of a reading.
type readValue struct {
	path   string // below measured: brakes.pad.FL
	corner string // "" where it has none
	name   string // its own name in the item: carcass; "" for the item itself
	text   string // YAML
	last   *schema.Value
}

// readingOf reads the values of an item as its schema has them.
func readingOf(measured *schema.Value, item string, words []string) (*reading, error) {
	var plain []string
	named := map[string]string{}
	var names []string
	for _, w := range words {
		key, value, ok := strings.Cut(w, "=")
		if !ok {
			plain = append(plain, w)
			continue
		}
		if named[key] != "" || value == "" {
			return nil, fmt.Errorf("%s wants one value: %s=VALUE", key, key)
		}
		named[key] = value
		names = append(names, key)
	}
	n := &notepad{measured: measured, leaves: map[string]string{}}
	v, key, err := itemOf(measured, item)
	if err != nil {
		return nil, err
	}
	at := strings.TrimSuffix(item, "."+key)
	switch t := v.Type; {
	case t.Kind == schema.Map:
		err = n.byCorner(v, at, key, plain, named, names)
	case t.Kind == schema.Object:
		err = n.parts(v, at, plain, named, names)
	case len(named) > 0:
		err = fmt.Errorf("%s is one value and has no parts; leave %s= out", at, names[0])
	case t.Kind == schema.List:
		var all []string
		for _, w := range plain {
			all = append(all, yamlValue(t.Elem, w))
		}
		n.add(at, "", "", "["+strings.Join(all, ", ")+"]")
	case len(plain) != 1:
		err = fmt.Errorf("%s is one value, not %d; a value and its unit in one word: 18.2mm", at, len(plain))
	default:
		n.add(at, "", "", yamlValue(t, plain[0]))
	}
	if err != nil {
		return nil, err
	}
	return &reading{item: item, yaml: n.write(""), values: n.values, lost: n.lost()}, nil
}

// notepad gathers the values of a reading.
type notepad struct {
	measured *schema.Value
	values   []readValue
	leaves   map[string]string
}

func (n *notepad) add(path, corner, name, text string) {
	last, _ := lookUp(n.measured, path)
	n.values = append(n.values, readValue{path, corner, name, text, last})
	n.leaves[path] = text
}

// byCorner reads values in the order of the corners, and by name.
func (n *notepad) byCorner(v *schema.Value, at, key string, plain []string, named map[string]string, names []string) error {
	elem := v.Type.Elem
	if elem.Kind == schema.Object && key == "" {
		return fmt.Errorf("%s has %s at each corner; name the one measured: %s.%s", at, strings.Join(elem.Order, " and "), at, elem.Order[0])
	}
	on := cornersOf(v)
	if len(plain) == 4 {
		on = corners
	}
	values := map[string]string{}
	if len(plain) > 0 && len(plain) != len(on) {
		return fmt.Errorf("%d values, and %s has %d (%s); a value and its unit in one word: 18.2mm", len(plain), at, len(on), strings.Join(on, " "))
	}
	for i, w := range plain {
		values[on[i]] = w
	}
	also := map[string]string{}
	for _, name := range names {
		word := named[name]
		switch {
		case slices.Contains(corners, name):
			values[name] = word
		case name == "all":
			for _, c := range on {
				values[c] = word
			}
		case axles[name] != nil:
			for _, c := range axles[name] {
				values[c] = word
			}
		case elem.Kind == schema.Object && elem.Fields[name] != nil && name != key:
			also[name] = word
		default:
			known := append(slices.Clone(corners), "front", "rear", "all")
			if elem.Kind == schema.Object {
				known = append(known, elem.Order...)
			}
			return fmt.Errorf("%s has no %q; %s", at, name, nearestOf(name, "there are", known))
		}
	}
	if len(values) == 0 {
		return fmt.Errorf("%s has no value; write those of %s", at, strings.Join(on, " "))
	}
	for _, c := range corners {
		word, ok := values[c]
		if !ok {
			continue
		}
		if elem.Kind != schema.Object {
			n.add(at+"."+c, c, "", yamlValue(elem, word))
			continue
		}
		n.add(at+"."+c+"."+key, c, "", yamlValue(elem.Fields[key], word))
		for _, name := range slices.Sorted(maps.Keys(also)) {
			n.add(at+"."+c+"."+name, c, name, yamlValue(elem.Fields[name], also[name]))
		}
	}
	return nil
}

// parts reads an item that has parts: its value, and the others by name.
func (n *notepad) parts(v *schema.Value, at string, plain []string, named map[string]string, names []string) error {
	t := v.Type
	switch {
	case len(plain) > 1:
		return fmt.Errorf("%s is one value, not %d; a value and its unit in one word: 18.2mm", at, len(plain))
	case len(plain) == 1 && t.Fields["value"] == nil:
		return fmt.Errorf("%s has parts; name them: %s=%s", at, t.Order[0], plain[0])
	case len(plain) == 1:
		n.add(at+".value", "", "", yamlValue(t.Fields["value"], plain[0]))
	}
	for _, name := range names {
		if _, err := lookUp(v, name); err != nil || t.Fields[name] == nil {
			return fmt.Errorf("%s has no %q; %s", at, name, nearestOf(name, "it has", t.Order))
		}
		if k := t.Fields[name].Kind; k == schema.Map || k == schema.Object {
			return fmt.Errorf("%s.%s has values of its own; note it by itself: paintmark note %s.%s", at, name, at, name)
		}
		n.add(at+"."+name, "", name, yamlValue(t.Fields[name], named[name]))
	}
	return nil
}

// write gives the values as a flow map, in the order they were read.
func (n *notepad) write(at string) string {
	if text, ok := n.leaves[at]; ok {
		return text
	}
	var keys []string
	for _, v := range n.values {
		rest, ok := strings.CutPrefix(v.path, at)
		rest = strings.TrimPrefix(rest, ".")
		if key, _, _ := strings.Cut(rest, "."); ok && !slices.Contains(keys, key) {
			keys = append(keys, key)
		}
	}
	var fields []pair
	for _, key := range keys {
		fields = append(fields, pair{key, n.write(strings.TrimPrefix(at+"."+key, "."))})
	}
	return flowMap(fields...)
}

// lost are the parts of items that are replaced as a whole, known until now and not said again.
func (n *notepad) lost() []string {
	var out []string
	seen := map[string]bool{}
	for _, v := range n.values {
		keys := strings.Split(v.path, ".")
		depth := 2 // group.item
		if v.corner != "" {
			depth = 3 // group.item.corner
		}
		if len(keys) <= depth {
			continue
		}
		whole := strings.Join(keys[:depth], ".")
		old, err := lookUp(n.measured, whole)
		if err != nil || old.Unknown || old.Type.Apart || seen[whole] {
			continue
		}
		seen[whole] = true
		for _, k := range old.Keys {
			said := slices.ContainsFunc(n.values, func(v readValue) bool {
				return v.path == whole+"."+k || strings.HasPrefix(v.path, whole+"."+k+".")
			})
			if !old.Fields[k].Unknown && !said {
				out = append(out, whole+"."+k)
			}
		}
	}
	return out
}

// echo shows a reading beside the last one, corners as they stand on the car.
func (b *bench) echo(r *reading) {
	b.say("%s", r.item)
	by := map[string]string{}
	var each []string
	for _, v := range r.values {
		said := v.text
		if v.name != "" {
			said = v.name + " " + said
		}
		if was := textOf(v.last); was != "" && v.name == "" && was != v.text {
			said += ", was " + was
		}
		switch {
		case v.corner == "":
			b.say("  %s%s", said, b.lastOf(v))
		case v.name == "":
			by[v.corner] = said
		case !slices.Contains(each, said):
			each = append(each, said)
		}
	}
	for _, axle := range [][]string{corners[:2], corners[2:]} {
		left, right := by[axle[0]], by[axle[1]]
		if left != "" || right != "" {
			b.say("%s", strings.TrimRight(fmt.Sprintf("  %s %-34s  %s %s", axle[0], first(left, "-"), axle[1], first(right, "-")), " "))
		}
	}
	if len(each) > 0 {
		b.say("  each %s", strings.Join(each, ", "))
	}
	if len(r.lost) > 0 {
		b.sayWrapped("  Not said again, so unknown from now on: " + strings.Join(r.lost, ", ") + ".")
	}
}

// lastOf says who read the last value, and when.
func (b *bench) lastOf(v readValue) string {
	if v.last == nil || v.last.Unknown || v.name != "" {
		return ""
	}
	r := b.folder.Record(v.last.Record)
	if r == nil {
		return ""
	}
	return fmt.Sprintf(" (%s %s)", r.By, r.At.In(placeZone(b.folder)).Format("2 Jan 15:04"))
}

// itemLines say what the rules made of a reading: one line for each rule and outcome, with the
// element that has the least in hand.
func itemLines(items []check.Item) []string {
	type key struct {
		rule    string
		outcome check.Outcome
	}
	worst := map[key]check.Item{}
	where := map[key][]string{}
	var order []key
	for _, it := range items {
		if it.Outcome == check.NotApplicable {
			continue
		}
		k := key{it.Card.ID, it.Outcome}
		if w, ok := worst[k]; !ok {
			order, worst[k] = append(order, k), it
		} else if it.Margin != nil && w.Margin != nil && *it.Margin < *w.Margin {
			worst[k] = it
		}
		if it.Position != "" {
			where[k] = append(where[k], it.Position)
		}
	}
	var lines []string
	for _, k := range order {
		it := worst[k]
		line := strings.ToLower(it.Card.Item[:1]) + it.Card.Item[1:]
		if len(where[k]) > 0 {
			line += ", " + strings.Join(where[k], " ")
		}
		said := it.Message
		if len(where[k]) > 1 && it.Margin != nil {
			said = "least in hand " + it.Position + ", " + said
		} else if len(where[k]) > 1 && it.Outcome == check.Pass {
			said = "" // each says the same of itself
		}
		if said != "" {
			line += ": " + said
		}
		lines = append(lines, string(it.Outcome)+"  "+line)
	}
	return lines
}
