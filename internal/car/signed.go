package car

import (
	"fmt"
	"slices"
	"time"

	"github.com/paintmark/paintmark/internal/schema"
)

// Initials are one person's initials on one joint.
type Initials struct {
	Joint, Position string // "wheel-nut", "FL"; position "" where the joint has none
	Rule            string // rule they answer, "" when not said
	Place           string // first | second
	By              string
	At              time.Time
	Run             int           // newest run before them
	Torque          *schema.Value // nil when not said
	Retained        *schema.Value // nil when not said
	Saw, Tool       string        // "" when not said
	Line            *schema.Value // of the joint in the record
	Record          *Record
	// Void says why they no longer count: the joint was opened since. "" if they do.
	Void string
}

// Initials lists all initials up to a time, newest first; of one time by file and line.
func (f *Folder) Initials(at time.Time) []Initials {
	var out []Initials
	opened := f.opened(at)
	for _, r := range f.Of("signed") {
		if r.At.After(at) {
			continue
		}
		for _, line := range items(r.Body.Fields["joints"]) {
			i := Initials{
				Joint: text(line.Fields["joint"]), Position: text(line.Fields["position"]), Rule: r.text("rule"), Place: r.text("place"), By: r.By,
				At: r.At, Run: r.Run, Torque: line.Fields["torque"], Retained: line.Fields["retained"], Saw: text(line.Fields["saw"]), Tool: r.text("tool"),
				Line: line, Record: r,
			}
			for _, o := range opened {
				if f.before(r, o.record) && (o.joint == i.Joint || o.joint == i.Joint+" "+i.Position) {
					i.Void = o.why
				}
			}
			out = append(out, i)
		}
	}
	slices.SortStableFunc(out, func(a, b Initials) int { return b.At.Compare(a.At) })
	return out
}

// opening is a joint that a record opens.
type opening struct {
	joint, why string
	record     *Record
}

// opened lists the joints that were opened up to a time, oldest first: by a part that was
// changed, or by a job.
func (f *Folder) opened(at time.Time) []opening {
	var out []opening
	for _, r := range f.Records {
		if r.At.After(at) || r.Replaced != nil {
			continue
		}
		switch r.Kind {
		case "fitted", "removed":
			if p := f.changed(r); p != nil {
				for _, j := range p.Opens {
					out = append(out, opening{j.Text, fmt.Sprintf("opened when %s was %s", r.text("serial"), r.Kind), r})
				}
			}
		case "job":
			for _, j := range texts(r.Body.Get("opened.opens")) {
				out = append(out, opening{j.Text, "opened by job " + r.text("no"), r})
			}
		}
	}
	return out
}
