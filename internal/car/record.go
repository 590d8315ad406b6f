package car

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
)

// Record is one file that was written once.
type Record struct {
	File string // "measured/20260516T073500Z-SQ-wing-1a2b3c.yaml"
	Kind string // its body's key: measured, fitted, removed, run, ...
	At   time.Time
	By   string
	Why  string
	// Body is what stands under Kind. Each value in it names this record.
	Body *schema.Value
	Pos  source.Pos // of the body
	// Run is the newest run before it: the one it names, or by time.
	Run int
	// Replaced is the record that corrects this one, which then no longer counts.
	Replaced *Record

	whole *schema.Value
	seal  string // what its name has to keep of its content
}

// name is how other records name it: the file without its folder.
func (r *Record) name() string { return r.File[strings.LastIndexByte(r.File, '/')+1:] }

// no is the number of a run sheet.
func (r *Record) no() int {
	if v := r.Body.Fields["no"]; v != nil && !v.Unknown {
		return int(v.Int)
	}
	return 0
}

// text is a text or word of the body, "" where it is not known.
func (r *Record) text(path string) string { return text(r.Body.Get(path)) }

func text(v *schema.Value) string {
	if v == nil || v.Unknown {
		return ""
	}
	return v.Text
}

func yes(v *schema.Value) bool { return v != nil && !v.Unknown && v.Bool }

// addRecord takes a record's envelope apart. One without a time or a body was already
// refused by its schema; one whose time or body is unknown says nothing, and what it took
// back would go unnoticed.
func (f *Folder) addRecord(j *job, faults *source.Faults) {
	at := j.value.Fields["at"]
	if at == nil || at.Unknown && !saidUnknown(at) {
		return
	}
	if at.Unknown {
		faults.Add(at.Pos, "a record of unknown time cannot be put in order", "write when it was, as well as it is known")
		return
	}
	r := &Record{File: j.path, At: at.Time, By: text(j.value.Fields["by"]), Why: text(j.value.Fields["why"]), whole: j.value, seal: j.seal}
	for _, key := range j.value.Keys {
		body := j.value.Fields[key]
		if body.Type.Kind == schema.Object && saidUnknown(body) {
			faults.Add(body.Pos, "a record of unknown content says nothing", "write what is known of it, or correct the record it is about")
			return
		}
		if body.Type.Kind == schema.Object && !body.Unknown {
			r.Kind, r.Body, r.Pos = key, body, body.Pos
		}
	}
	if r.Body == nil {
		return
	}
	j.value.MarkRecord(r.File)
	f.byFile[r.File] = r
	f.Records = append(f.Records, r)
}

func (f *Folder) sortRecords() {
	slices.SortFunc(f.Records, func(a, b *Record) int {
		return cmp.Or(a.At.Compare(b.At), cmp.Compare(order[a.Kind], order[b.Kind]), strings.Compare(a.File, b.File))
	})
	for _, r := range f.Records {
		if r.At.After(f.AsOf) {
			f.AsOf = r.At
		}
	}
	runs := f.runStarts()
	for _, r := range f.Records {
		r.Run = newestBefore(runs, r)
	}
}

// order settles records of one minute: what comes off before what goes on, and both
// before what was measured, opened or signed on the car as it then was.
var order = map[string]int{"corrected": -9, "removed": -8, "left": -7, "retired": -7, "received": -6, "overhauled": -5, "assembled": -4, "fitted": 0, "inspected": 1, "job": 1, "measured": 2, "baseline": 2, "signed": 2}

type runStart struct {
	no int
	at time.Time
}

func (f *Folder) runStarts() []runStart {
	var runs []runStart
	for _, r := range f.Records {
		if r.Kind != "run" {
			continue
		}
		at := r.At
		if s := r.Body.Fields["started"]; s != nil && !s.Unknown {
			at = s.Time
		}
		runs = append(runs, runStart{r.no(), at})
	}
	slices.SortFunc(runs, func(a, b runStart) int { return cmp.Compare(a.no, b.no) })
	return runs
}

// newestBefore is the newest run a record comes after. A record that names one is
// believed; by time, a run's own start counts, since its sheet is written later.
func newestBefore(runs []runStart, r *Record) int {
	if r.Kind == "run" {
		return r.no()
	}
	for _, v := range []*schema.Value{r.whole.Fields["after_run"], r.Body.Fields["after_run"]} {
		if v != nil && !v.Unknown {
			return int(v.Int)
		}
	}
	no := 0
	for _, run := range runs {
		if !run.at.After(r.At) {
			no = max(no, run.no)
		}
	}
	return no
}

// checkRecords looks at what no single file can show: order, pairs and repeats.
func (f *Folder) checkRecords(faults *source.Faults) {
	f.applyCorrections(faults)
	f.checkRuns(faults)
	f.checkFitted(faults)
	f.checkJobs(faults)
	f.checkFaultList(faults)
	f.checkSetup(faults)
	f.checkSheets(faults)
	f.checkPairs(faults)
	f.checkVoids(faults)
}

// applyCorrections marks what a later record puts right.
func (f *Folder) applyCorrections(faults *source.Faults) {
	byName := make(map[string]*Record, len(f.Records))
	for _, r := range f.Records {
		byName[r.name()] = r
	}
	for _, r := range f.Records {
		v := r.whole.Fields["corrects"]
		if r.Kind == "corrected" {
			v = r.Body.Fields["record"]
		}
		if v == nil || v.Unknown {
			continue
		}
		old := byName[v.Text[strings.LastIndexByte(v.Text, '/')+1:]]
		switch {
		case old == nil: // said with all names that are not there
		case old == r:
			faults.Add(v.Pos, "a record cannot correct itself", "name the record that was wrong")
		case old.At.After(r.At):
			faults.Add(v.Pos, fmt.Sprintf("this record is dated before the one it corrects (%s)", old.Pos), "look at both times")
		case old.Replaced != nil:
			faults.Add(v.Pos, fmt.Sprintf("%q was already corrected by %s", v.Text, old.Replaced.File), "correct that one")
		case r.Kind != "corrected" && old.Kind != r.Kind:
			faults.Add(v.Pos, fmt.Sprintf("a %s record cannot correct a %s record", r.Kind, old.Kind), "correct it by one of its own kind")
		default:
			old.Replaced = r
		}
	}
}

func sortedKeys[V any](m map[string]V) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}

// checkRuns: one sheet per run, one run per log.
func (f *Folder) checkRuns(faults *source.Faults) {
	numbers, logs := map[int]*Record{}, map[string]source.Pos{}
	for _, r := range f.Of("run") {
		if no := r.no(); no > 0 {
			if first := numbers[no]; first != nil {
				faults.Add(r.Body.Fields["no"].Pos, fmt.Sprintf("run %d has two sheets, the other is %s", no, first.Pos.File), "correct one by the other, or give it its own number")
			} else {
				numbers[no] = r
			}
		}
		for _, l := range items(r.Body.Fields["logs"]) {
			sum := l.Fields["sha256"]
			if text(sum) == "" {
				continue
			}
			if first, twice := logs[sum.Text]; twice {
				faults.Add(sum.Pos, fmt.Sprintf("this log was already taken in (%s)", first), "take each log in once")
				continue
			}
			logs[sum.Text] = sum.Pos
		}
		if s := r.Body.Fields["started"]; s != nil && !s.Unknown && s.Time.After(r.At) {
			faults.Add(s.Pos, "the run starts after its sheet was written", "look at both times")
		}
	}
}

func items(v *schema.Value) []*schema.Value {
	if v == nil || v.Unknown {
		return nil
	}
	return v.Items
}

// texts are the known words of a list.
func texts(v *schema.Value) []*schema.Value {
	var out []*schema.Value
	for _, i := range items(v) {
		if !i.Unknown {
			out = append(out, i)
		}
	}
	return out
}

// checkPairs: a second pair of initials is another person's.
func (f *Folder) checkPairs(faults *source.Faults) {
	for _, r := range f.Of("lockout") {
		if s := r.Body.Fields["second"]; text(s) != "" && s.Text == r.By {
			faults.Add(s.Pos, fmt.Sprintf("both initials of this lock-out are %s", r.By), "the second looks at it and is another person")
		}
	}
	for _, r := range f.Of("deviation") {
		for _, w := range texts(r.Body.Fields["with"]) {
			if w.Text == r.By {
				faults.Add(w.Pos, fmt.Sprintf("%s stands for two people", r.By), "another person accepts it with you")
			}
		}
	}
}
