package life

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/schema"
)

// Entry is one line of a part's history.
type Entry struct {
	At     time.Time // zero for runs
	By     string
	What   string // "into gearbox", "runs 55 to 57", "inspected: crack test"
	Detail string // what was used, or more about it
	Record string // file, "" for runs
}

// Part finds a part by its serial; nil if the register has none.
func (s *Sheet) Part(serial string) *Part {
	i := slices.IndexFunc(s.Parts, func(p *Part) bool { return p.Serial == serial })
	if i < 0 {
		return nil
	}
	return s.Parts[i]
}

// History is a part's life back to birth: every record that names it or moved what it is
// inside, and between them the runs it was on the car for, with what they used.
func (s *Sheet) History(f *car.Folder, p *Part, at time.Time) []Entry {
	type line struct {
		after, order int
		entry        Entry
	}
	var lines []line
	order := map[*car.Record]int{}
	add := func(r *car.Record, what, detail string) {
		lines = append(lines, line{r.Run, order[r], Entry{At: r.At, By: r.By, What: what, Detail: words(detail, r.Why), Record: r.File}})
	}
	for i, r := range f.Records {
		order[r] = 2*i + 1
		if r.At.After(at) || r.Replaced != nil || text(r.Body.Get("serial")) != p.Serial {
			if r.Kind == "job" && r.Replaced == nil && !r.At.After(at) {
				for _, l := range items(field(r.Body.Fields["closed"], "inspected")) {
					if text(l.Fields["serial"]) == p.Serial {
						add(r, "inspected: "+text(l.Fields["what"]), words(text(l.Fields["method"]), "in job "+text(r.Body.Fields["no"])))
					}
				}
			}
			continue
		}
		job := ""
		if v := r.Body.Fields["job"]; text(v) != "" {
			job = "job " + v.Text
		}
		switch r.Kind {
		case "fitted":
			add(r, "into "+text(r.Body.Fields["position"]), words(written(r.Body), job))
		case "removed":
			add(r, "out of "+text(r.Body.Fields["from"]), words(job, text(r.Body.Fields["note"])))
		case "assembled":
			add(r, "into "+text(r.Body.Fields["into"]), job)
		case "left":
			add(r, "left for "+text(r.Body.Fields["to"]), written(r.Body))
		case "received":
			add(r, "came from "+text(r.Body.Fields["car"]), written(r.Body))
		case "retired":
			add(r, "retired", job)
		case "overhauled":
			add(r, "rebuilt", job)
		case "inspected":
			add(r, "inspected: "+text(r.Body.Fields["what"]), words(text(r.Body.Fields["result"]), text(r.Body.Fields["method"]), job))
		}
	}
	var cuts []int
	for _, l := range lines {
		cuts = append(cuts, l.after)
	}
	for _, sp := range p.Spells {
		if sp.From != nil && text(sp.From.Body.Fields["serial"]) != p.Serial {
			add(sp.From, "into "+sp.Position+", inside "+sp.Inside, "")
		}
		if sp.To != nil && text(sp.To.Body.Fields["serial"]) != p.Serial {
			add(sp.To, "out of "+sp.Position+", inside "+sp.Inside, "")
		}
		for _, block := range blocks(sp.Runs, cuts) {
			what := runsWord(block[0].No, block[len(block)-1].No)
			if sp.Position == Bench {
				what += ", on a bench"
			}
			lines = append(lines, line{block[0].No, -1, Entry{What: what, Detail: s.sums(p, block)}})
		}
	}
	slices.SortStableFunc(lines, func(x, y line) int {
		if x.after != y.after {
			return x.after - y.after
		}
		return x.order - y.order
	})
	out := []Entry{{What: "registered", Detail: s.start(f, p)}}
	for _, l := range lines {
		out = append(out, l.entry)
	}
	return out
}

// blocks cuts a spell's runs where a record about its part stands between two of them.
func blocks(runs []*Run, cuts []int) [][]*Run {
	var out [][]*Run
	start := 0
	for i := 1; i <= len(runs); i++ {
		if i == len(runs) || slices.ContainsFunc(cuts, func(after int) bool { return runs[i-1].No <= after && after < runs[i].No }) {
			out = append(out, runs[start:i])
			start = i
		}
	}
	return out
}

// sums says what runs used of the meters that a part is followed by.
func (s *Sheet) sums(p *Part, runs []*Run) string {
	var out []string
	for _, t := range p.Totals {
		i := slices.Index(s.Meters, t.Meter)
		var sum Amount
		for _, r := range runs {
			sum = sum.plus(r.Used[i])
		}
		out = append(out, t.Meter.Words()+" "+t.Meter.Say(sum))
	}
	return fmt.Sprintf("%s: %s", plural(len(runs), "run"), strings.Join(out, ", "))
}

func plural(n int, word string) string {
	if n == 1 {
		return "1 " + word
	}
	return fmt.Sprintf("%d %ss", n, word)
}

// start is the life a part was registered with, as written.
func (s *Sheet) start(f *car.Folder, p *Part) string {
	doc := f.Document("parts")
	if doc == nil {
		return ""
	}
	for _, v := range items(doc.Fields["parts"]) {
		if text(v.Fields["serial"]) == p.Serial {
			if said := written(v.Fields["at_register"]); said != "" {
				return said
			}
		}
	}
	return "with no life written"
}

// written is a life as somebody wrote it: "distance 1120 km ± 150 km, estimated".
func written(v *schema.Value) string {
	used := field(v, "used")
	if used == nil || used.Unknown {
		return ""
	}
	var out []string
	for _, k := range used.Keys {
		s := strings.ReplaceAll(k, "_", " ") + " " + used.Fields[k].Text
		if band := field(field(v, "band"), k); band != nil && !band.Unknown {
			s += " ± " + band.Text
		}
		out = append(out, s)
	}
	return words(strings.Join(out, ", "), text(field(v, "as")))
}

// words joins what there is by commas.
func words(parts ...string) string {
	return strings.Join(slices.DeleteFunc(parts, func(s string) bool { return s == "" }), ", ")
}
