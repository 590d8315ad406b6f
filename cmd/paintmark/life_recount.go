package main

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/readiness"
	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/units"
)

func lifeRecount() *cobra.Command {
	var flags recordFlags
	var runs []int
	c := &cobra.Command{
		Use:   "recount [DIR]",
		Short: "count the meters again after meters.yaml was changed",
		Long: `Counts the meters again over the logs at hand, for every run that was counted by
another definition than meters.yaml has now, and says what would move. With
--by, writes a new sheet for each such run that corrects the old one. What was
written by hand stays.`,
		Example: `paintmark life recount
paintmark life recount --run 57 --by SQ --why "road speed from the front wheels"`,
		Args: atMostOneFolder("life recount"),
		RunE: func(c *cobra.Command, args []string) error {
			dir := folder(args)
			writes := flags.by != ""
			open := readBench
			if writes {
				open = openBench
			}
			b, err := open(c, dir, flags)
			if err != nil {
				return err
			}
			options, done, err := b.logOptions()
			if err != nil {
				return err
			}
			again, faults := readiness.Recount(c.Context(), b.folder, dir, options, runs)
			done()
			if err := faults.Err(); err != nil {
				return err
			}
			changed := 0
			for _, r := range again {
				if len(r.Absent) > 0 {
					b.say("run %d: not counted again, %s is not at hand", r.Run, strings.Join(r.Absent, ", "))
					continue
				}
				moved := b.recount(r)
				if len(moved) == 0 {
					b.say("run %d: counted by the same definitions", r.Run)
					continue
				}
				changed++
				for i, m := range moved {
					head := fmt.Sprintf("run %d: ", r.Run)
					if i > 0 {
						head = strings.Repeat(" ", len(head))
					}
					b.say("%s%s", head, m)
				}
			}
			switch {
			case changed == 0:
				b.say("Nothing to write.")
				return nil
			case !writes:
				b.say("Nothing was written. To write it: the same with --by INITIALS.")
				return nil
			}
			return b.write()
		},
	}
	c.Flags().IntSliceVar(&runs, "run", nil, "only this `RUN`; may be given again")
	flags.add(c, false)
	return c
}

// recount drafts a sheet with the meters that other definitions count, and says what moved.
func (b *bench) recount(r readiness.Recounted) (moved []string) {
	body := *r.Record.Body
	body.Fields = make(map[string]*schema.Value, len(r.Record.Body.Fields))
	for k, v := range r.Record.Body.Fields {
		body.Fields[k] = v
	}
	body.Keys = slices.Clone(body.Keys)
	for _, c := range r.Counted {
		if by := entry(&body, "meters_by", c.Meter); by != nil && by.Text == c.By {
			continue
		}
		old := "not counted"
		if v := entry(&body, "meters", c.Meter); v != nil {
			old = v.Text
		}
		now := meterText(c)
		said := fmt.Sprintf("%s %s, was %s", strings.ReplaceAll(c.Meter, "_", " "), now, old)
		if c.Unseen != "" {
			said += " (" + c.Unseen + ")"
		}
		if old == now {
			said = fmt.Sprintf("%s %s as before", strings.ReplaceAll(c.Meter, "_", " "), now)
		}
		moved = append(moved, said)
		putCounted(&body, c)
	}
	if len(moved) == 0 {
		return nil
	}
	var text strings.Builder
	fmt.Fprintf(&text, "corrects: %s\n", yamlText(r.Record.File[strings.LastIndexByte(r.Record.File, '/')+1:]))
	why := b.flags.why
	if why == "" {
		why = "counted again by meters.yaml as it is now"
	}
	fmt.Fprintf(&text, "why: %s\n%s", yamlText(why), sheetText(&body))
	b.drafts = append(b.drafts, car.Draft{Folder: "runs", At: b.when, By: b.flags.by, What: fmt.Sprintf("run %d again", r.Run), Body: []byte(text.String())})
	return moved
}

// putCounted puts what a meter came to on a sheet, with what was open about it.
func putCounted(body *schema.Value, c readiness.Counted) {
	put(body, "meters", c.Meter, meterText(c))
	put(body, "meters_by", c.Meter, c.By)
	drop(body, "filled", c.Meter)
	drop(body, "residues", c.Meter)
	if c.Low != c.High && !math.IsInf(c.High, 1) {
		put(body, "filled", c.Meter, fmt.Sprintf("{low: %s, high: %s, source: %s}", amountText(c.Low, c.Unit), amountText(c.High, c.Unit), strconv.Quote("unseen: "+c.Unseen)))
	}
	if len(c.Open) > 0 {
		var points []string
		for _, p := range c.Open {
			points = append(points, strconv.FormatFloat(p/1e6, 'g', -1, 64)+" MPa")
		}
		put(body, "residues", c.Meter, "["+strings.Join(points, ", ")+"]")
	}
}

// meterText is what a meter came to as its sheet has it: a number that is not sure is not
// written as one.
func meterText(c readiness.Counted) string {
	if c.Low != c.High {
		return "unknown"
	}
	return amountText(c.Low, c.Unit)
}

func amountText(v float64, unit string) string {
	digits := units.Decimals(v) + 1
	s := strconv.FormatFloat(v, 'f', digits, 64)
	if v != 0 && math.Abs(v) < 1e-3 {
		s = strconv.FormatFloat(v, 'g', 6, 64)
	} else if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	if unit == "" {
		return s
	}
	return s + " " + unit
}

func entry(body *schema.Value, list, key string) *schema.Value {
	v := body.Fields[list]
	if v == nil || v.Unknown {
		return nil
	}
	return v.Fields[key]
}

// raw marks a value whose text is YAML already.
const raw = "\x00"

// put sets one key of a map of the body, whose own value is never changed.
func put(body *schema.Value, list, key, text string) {
	old := body.Fields[list]
	m := &schema.Value{Type: body.Type.Fields[list], Fields: map[string]*schema.Value{}}
	if old != nil && !old.Unknown {
		m.Keys = slices.Clone(old.Keys)
		for k, v := range old.Fields {
			m.Fields[k] = v
		}
	}
	if m.Fields[key] == nil {
		m.Keys = append(m.Keys, key)
	}
	m.Fields[key] = &schema.Value{Type: m.Type.Elem, Text: raw + text}
	if old == nil {
		body.Keys = append(body.Keys, list)
	}
	body.Fields[list] = m
}

func drop(body *schema.Value, list, key string) {
	old := body.Fields[list]
	if old == nil || old.Unknown || old.Fields[key] == nil {
		return
	}
	m := &schema.Value{Type: old.Type, Fields: map[string]*schema.Value{}}
	for _, k := range old.Keys {
		if k != key {
			m.Keys, m.Fields[k] = append(m.Keys, k), old.Fields[k]
		}
	}
	body.Fields[list] = m
	if len(m.Keys) == 0 {
		delete(body.Fields, list)
		body.Keys = slices.DeleteFunc(body.Keys, func(k string) bool { return k == list })
	}
}

// flowText writes a value of a record as YAML in one line, everything as it was written.
func flowText(v *schema.Value) string {
	if text, ok := strings.CutPrefix(v.Text, raw); ok {
		return text
	}
	if v.Unknown {
		return "unknown"
	}
	switch v.Type.Kind {
	case schema.Object, schema.Map:
		var out []string
		for _, k := range v.Keys {
			out = append(out, yamlText(k)+": "+flowText(v.Fields[k]))
		}
		return "{" + strings.Join(out, ", ") + "}"
	case schema.List:
		var out []string
		for _, i := range v.Items {
			out = append(out, flowText(i))
		}
		return "[" + strings.Join(out, ", ") + "]"
	case schema.Text:
		if v.Type.Measure {
			return v.Text
		}
		return yamlText(v.Text)
	}
	return v.Text
}
