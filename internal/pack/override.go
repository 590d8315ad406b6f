package pack

import (
	"slices"

	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
	"github.com/paintmark/paintmark/internal/units"
)

// Override is one line of the car's limits.yaml: the team's own value for a pack's limit.
type Override struct {
	Pack, Limit string
	Node        *source.Node // {value: 0.32 s, source: {..}}
	Where       source.Pos   // of the limit's name
	// Shared: a plugin in use has the pack's name, and a limit that the pack has not may be the plugin's.
	Shared bool
}

// override puts the team's values in place of the packs'. In a rule that is a no-go item
// or a regulation only a limit with `tighten` may be replaced, and only that way.
func (f *form) override(drafts []*draft, overrides []Override) {
	byName := map[string]*draft{}
	var names []string
	for _, d := range drafts {
		byName[d.pack.Name] = d
		names = append(names, d.pack.Name)
	}
	for _, o := range overrides {
		d := byName[o.Pack]
		if d == nil {
			f.fault(o.Where, "no pack "+quoted(o.Pack)+" is in use", nearest(o.Pack, names))
			continue
		}
		l := d.pack.limit(o.Limit)
		if l == nil && o.Shared {
			continue
		}
		if l == nil {
			var limits []string
			for _, l := range d.pack.Limits {
				limits = append(limits, l.Name)
			}
			f.fault(o.Where, quoted(o.Limit)+" is not a limit of "+o.Pack, nearest(o.Limit, limits))
			continue
		}
		f.replace(d, l, o)
	}
}

func (f *form) replace(d *draft, l *Limit, o Override) {
	keys := f.fields(o.Node, "limit "+quoted(o.Limit), "value", "source", "why")
	if keys["value"] == nil {
		return // the schema of limits.yaml has said so
	}
	if l.Value.Type.Kind == schema.Curve {
		f.fault(o.Where, "the limit "+quoted(l.Name)+" is a curve and cannot be overridden", "write a rule of your own with your curve")
		return
	}
	v := f.value(keys["value"], "limit "+quoted(l.Name))
	if v == nil {
		return
	}
	if v.Type.Kind != l.Value.Type.Kind {
		f.fault(v.Pos, "the limit "+quoted(l.Name)+" is written "+l.Value.Text+" in "+d.pack.File, "give it the same unit")
		return
	}
	if err := units.Compare(v.Type.Unit, l.Value.Type.Unit); err != nil {
		f.fault(v.Pos, "the limit "+quoted(l.Name)+" is "+l.Value.Type.Unit.String()+" in "+d.pack.File+", this is "+v.Type.Unit.String(), "give it the same quantity")
		return
	}
	if r := d.strict(l.Name); r != nil {
		looser := (l.Tighten == "up" && v.Low < l.Value.Low) || (l.Tighten == "down" && v.Low > l.Value.Low)
		switch {
		case l.Tighten == "":
			f.fault(o.Where, "the limit "+quoted(l.Name)+" of "+r.rule.ID+" may not be changed ("+l.Where.String()+")", "it is a no-go item or a regulation; take the line out")
			return
		case looser:
			f.fault(v.Pos, v.Text+" is looser than the "+l.Value.Text+" of "+l.Where.String()+" ("+r.rule.ID+")", "a no-go item or a regulation may only be tightened, "+l.Tighten)
			return
		}
	}
	v.Type = l.Value.Type
	l.Value, l.Overridden = v, o.Where
	if s := keys["source"]; s != nil {
		l.Source = f.source(s)
	}
}

// strict is a rule over the limit that is a no-go item or a regulation, nil for none.
// It is asked before anything is compiled, so it goes by the words of the rule.
func (d *draft) strict(limit string) *ruleDraft {
	for _, r := range d.rules {
		noGo := r.accept.fixed.Fail.Nobody() && r.rule.otherwise != "warn" && (r.fail != nil || r.holds != nil || r.signed != nil)
		if (noGo || r.rule.Source.Kind == "regulation") && r.mentions(limit) {
			return r
		}
	}
	return nil
}

var limitRead = source.Form(`\blimits\s*\.\s*([a-z][a-z0-9_]*)`)

// mentions says that one of the rule's expressions reads limits.NAME.
func (r *ruleDraft) mentions(limit string) bool { return slices.Contains(r.limits(), limit) }

// limits are the names of the limits that the rule's expressions read, by their words.
func (r *ruleDraft) limits() []string {
	if r.limitNames != nil {
		return r.limitNames
	}
	r.limitNames = []string{}
	for _, n := range r.expressions() {
		for _, m := range limitRead().FindAllStringSubmatch(n.Text, -1) {
			r.limitNames = append(r.limitNames, m[1])
		}
	}
	return r.limitNames
}
