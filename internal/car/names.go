package car

import (
	"fmt"
	"strings"

	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
)

// register is what a kind of name can be, and where it is written.
type register struct {
	known map[string]bool
	words []string
	file  string
	what  string
}

func (r *register) add(word string) {
	if word != "" && !r.known[word] {
		r.known[word] = true
		r.words = append(r.words, word)
	}
}

// checkNames looks up every initials, serial, position, tool, job, fault and meter that
// a file names. Initials must be people of the team; a register that the team does not
// keep is not asked.
func (f *Folder) checkNames(faults *source.Faults) {
	registers := map[string]*register{}
	keep := func(names, what, list, key string) *register {
		r := &register{known: map[string]bool{}, file: list + ".yaml", what: what}
		v := f.list(list)
		if v == nil || v.Unknown {
			return r
		}
		for _, i := range v.Items {
			r.add(text(i.Fields[key]))
		}
		registers[names] = r
		return r
	}
	keep("serial", "serial", "parts", "serial")
	keep("position", "position", "positions", "position")
	keep("tool", "tool", "tools", "tool")
	keep("channel", "channel", "channels", "name")
	people := keep("initials", "initials", "people", "initials")
	if registers["initials"] == nil && len(f.Records) > 0 {
		faults.Add(source.Pos{File: "people.yaml"}, "nobody's initials are known, but there are records", "write people.yaml: initials, name and hats of each person")
	}
	if m := f.list("meters"); m != nil {
		r := &register{known: map[string]bool{}, file: "meters.yaml", what: "meter"}
		for _, k := range m.Keys {
			r.add(k)
		}
		r.add("calendar")
		registers["meter"] = r
	}
	if p, s := registers["position"], registers["serial"]; p != nil && s != nil {
		place := &register{known: map[string]bool{}, file: "positions.yaml and parts.yaml", what: "place"}
		for _, w := range append(append([]string(nil), p.words...), s.words...) {
			place.add(w)
		}
		registers["place"] = place
	}
	jobs := &register{known: map[string]bool{}, file: "jobs/", what: "job"}
	for _, j := range f.jobs(f.AsOf, nil) {
		jobs.add(j.No)
	}
	registers["job"] = jobs
	list := &register{known: map[string]bool{}, file: "faults/", what: "fault"}
	for _, e := range f.faultList(f.AsOf, nil) {
		list.add(e.No)
	}
	registers["fault"] = list
	records := &register{known: map[string]bool{}, file: "any folder of records", what: "record"}
	for _, r := range f.Records {
		records.add(r.name())
		records.add(r.File)
	}
	registers["record"] = records
	n := &names{registers: registers, faults: faults, people: people}
	for _, d := range sortedKeys(f.docs) {
		if !strings.HasPrefix(d, sheets+"/") { // who and what was there then may be gone
			n.walk(f.docs[d].value)
		}
	}
	for _, r := range f.Records {
		n.walk(r.whole)
		n.number(r)
	}
}

type names struct {
	registers map[string]*register
	faults    *source.Faults
	people    *register
}

func (n *names) walk(v *schema.Value) {
	switch {
	case v.Unknown:
	case v.Type.Kind == schema.Text && v.Type.Names != "":
		n.look(v, v.Type.Names)
	case v.Type.Kind == schema.Map && metered[v.Type.Name[strings.LastIndexByte(v.Type.Name, '.')+1:]]:
		for _, k := range v.Keys {
			n.word(k, v.Fields[k].Pos, "meter")
		}
	}
	for _, i := range v.Items {
		n.walk(i)
	}
	for _, k := range v.Keys {
		n.walk(v.Fields[k])
	}
}

// metered are the maps whose keys are meters.
var metered = map[string]bool{"used": true, "band": true, "every": true, "meters": true, "since_overhaul": true, "filled": true, "residues": true}

func (n *names) look(v *schema.Value, kind string) { n.word(v.Text, v.Pos, kind) }

func (n *names) word(word string, pos source.Pos, kind string) {
	r := n.registers[kind]
	if r == nil || r.known[word] {
		return
	}
	remedy := "add it there, or look at the spelling"
	if near := source.Nearest(word, r.words); near != "" && near != word {
		remedy = fmt.Sprintf("did you mean %s", near)
	}
	verb := "is"
	if kind == "initials" {
		verb = "are"
	}
	n.faults.Add(pos, fmt.Sprintf("%s %s %s not in %s", r.what, word, verb, r.file), remedy)
}

// number: a job or fault carries the initials of a person of the team, so that two
// laptops never choose the same.
func (n *names) number(r *Record) {
	if r.Kind != "job" && r.Kind != "fault" {
		return
	}
	v := r.Body.Fields["no"]
	initials, _, ok := strings.Cut(text(v), "-")
	if ok && len(n.people.words) > 0 && !n.people.known[initials] {
		n.faults.Add(v.Pos, fmt.Sprintf("number %s does not start with the initials of anyone in people.yaml", v.Text), "number it "+r.By+"-1 and on")
	}
}
