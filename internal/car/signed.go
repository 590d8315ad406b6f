package car

import (
	"slices"
	"strings"
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
	joint, why, system string
	record             *Record
}

// opened lists the joints that were opened up to a time, oldest first: by a place that was
// changed, or by a job.
func (f *Folder) opened(at time.Time) []opening {
	var out []opening
	for _, c := range f.Changes(at) {
		for _, j := range c.Position.Opens {
			out = append(out, opening{j.Text, c.words(), c.Position.System, c.Record})
		}
	}
	for _, r := range f.Of("job") {
		if !r.At.After(at) {
			for _, j := range texts(r.Body.Get("opened.opens")) {
				out = append(out, opening{j.Text, "opened by job " + r.text("no"), r.text("opened.system"), r})
			}
		}
	}
	slices.SortStableFunc(out, func(a, b opening) int { return f.compare(a.record, b.record) })
	return out
}

// OpenJoint is a joint that was opened and does not have two people's initials since.
type OpenJoint struct {
	Joint  string // with its position: "wheel-nut FL"
	Why    string // what opened it last
	System string // of the place or job, "" where it is not said
	Since  *Record
	// First and Second are the initials it has since, "" where they are missing. Both may be
	// one person's, who then did not look at it as another would.
	First, Second string
}

// Lacks says what is missing: "first and second", "second", "another person's second".
func (j OpenJoint) Lacks() string {
	switch {
	case j.First == "" && j.Second == "":
		return "first and second"
	case j.First == "":
		return "first"
	case j.Second == "":
		return "second"
	}
	return "another person's second"
}

// OpenJoints lists the joints that stand open at a time, in the order they were last opened.
func (f *Folder) OpenJoints(at time.Time) []OpenJoint {
	byJoint := map[string]OpenJoint{}
	var order []string
	for _, o := range f.opened(at) {
		order = slices.DeleteFunc(order, func(j string) bool { return j == o.joint })
		order = append(order, o.joint)
		byJoint[o.joint] = OpenJoint{Joint: o.joint, Why: o.why, System: o.system, Since: o.record}
	}
	initials := f.Initials(at)
	slices.Reverse(initials) // the newest of a place counts
	for _, i := range initials {
		for _, name := range []string{i.Joint, strings.TrimSpace(i.Joint + " " + i.Position)} {
			j, opened := byJoint[name]
			if !opened || i.Void != "" || f.before(i.Record, j.Since) {
				continue
			}
			if i.Place == "second" {
				j.Second = i.By
			} else if i.Place == "first" {
				j.First = i.By
			}
			byJoint[name] = j
		}
	}
	var out []OpenJoint
	for _, name := range order {
		if j := byJoint[name]; j.First == "" || j.Second == "" || j.First == j.Second {
			out = append(out, j)
		}
	}
	return out
}
