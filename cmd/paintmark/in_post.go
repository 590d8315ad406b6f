package main

import (
	"fmt"
	"os"
	"slices"
	"strconv"
	"strings"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/readiness"
	"github.com/paintmark/paintmark/internal/schema"
)

// post adds to the drafted sheet what the rules come to by the run: every item's outcome, the
// measures that trends follow, and the answers that stand in for a log that is not at hand.
func (b *bench) post(r runIn, body *schema.Value, taken *readiness.Taken, options readiness.Options) error {
	if len(r.sheet.parts) > 0 { // a part on a bench is no run of the car
		return nil
	}
	then, faults, err := car.Foresee(os.DirFS(b.dir), b.faults, b.folder.Set(), b.drafts...)
	if err == nil {
		err = faults.Err()
	}
	if err != nil {
		return fmt.Errorf("nothing was written: %w", err)
	}
	options.Plugins = pluginsOf(b.c.Context())
	posted := taken.Post(b.c.Context(), b.dir, then, r.no, options)
	putOutcomes(body, posted.Outcomes)
	for _, m := range posted.Measures {
		put(body, "measures", m.Name, strconv.Quote(m.Value))
	}
	if len(posted.Answers) > 0 {
		list := &schema.Value{Type: body.Type.Fields["answers"]}
		for _, a := range posted.Answers {
			list.Items = append(list.Items, &schema.Value{Type: list.Type.Elem, Text: raw + a.YAML()})
		}
		body.Keys = append(body.Keys, "answers")
		body.Fields["answers"] = list
	}
	b.drafts = b.drafts[:len(b.drafts)-1]
	b.draftSheet(r, body)
	return nil
}

// putOutcomes puts every item's outcome on a sheet, the no-go items apart.
func putOutcomes(body *schema.Value, outcomes []readiness.PostedOutcome) {
	for _, group := range []struct {
		key  string
		noGo bool
	}{{"no_go", true}, {"other", false}} {
		var lists []string
		for _, o := range []check.Outcome{check.Fail, check.NoData, check.Warn, check.Pass} {
			var names []string
			for _, p := range outcomes {
				if p.NoGo == group.noGo && p.Outcome == o {
					names = append(names, p.Name)
				}
			}
			if len(names) > 0 {
				lists = append(lists, strings.ReplaceAll(string(o), " ", "_")+": "+flowList(names))
			}
		}
		if len(lists) > 0 {
			put(body, "outcomes", group.key, "{"+strings.Join(lists, ", ")+"}")
		}
	}
}

// long are the lists of a run sheet that the program writes, one entry to a line.
var long = []string{"outcomes", "measures", "answers"}

// sheetText writes the body of a run sheet as a person reads it.
func sheetText(body *schema.Value) string {
	var b strings.Builder
	b.WriteString("run:\n")
	for _, k := range body.Keys {
		v := body.Fields[k]
		if !slices.Contains(long, k) || v.Unknown || strings.HasPrefix(v.Text, raw) {
			fmt.Fprintf(&b, "  %s: %s\n", k, flowText(v))
			continue
		}
		fmt.Fprintf(&b, "  %s:\n", k)
		for _, i := range v.Items {
			fmt.Fprintf(&b, "    - %s\n", flowText(i))
		}
		for _, name := range v.Keys {
			fmt.Fprintf(&b, "    %s: %s\n", yamlText(name), flowText(v.Fields[name]))
		}
	}
	return b.String()
}
