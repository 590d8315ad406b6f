package pack

import (
	"slices"
	"strings"

	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/expr"
	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
	"github.com/paintmark/paintmark/internal/units"
)

// compile compiles the rules of a pack on every core. Faults come back beside the good
// rules, which keep the order they were written in.
func compile(env *expr.Env, scope expr.Scope, d *draft) source.Faults {
	forms := make([]form, len(d.rules))
	fit := make([]bool, len(d.rules))
	for _, r := range d.rules {
		r.rule.Pack = d.pack
	}
	inParallel(len(d.rules), func(i int) {
		fit[i] = !d.spoilt(d.rules[i]) && forms[i].compile(env, scope, d.rules[i])
	})
	var faults source.Faults
	for i, r := range d.rules {
		faults = append(faults, forms[i].faults...)
		if fit[i] && !r.bad {
			d.pack.Rules = append(d.pack.Rules, r.rule)
		}
	}
	return faults
}

// compile compiles one rule; ok is false where anything in it is wrong.
func (f *form) compile(env *expr.Env, scope expr.Scope, d *ruleDraft) (ok bool) {
	r := d.rule
	if d.each != nil {
		r.each = f.program(env, d.each, expr.ListOf)
		if r.each == nil {
			return false // every other expression may use the element, whose type is not known
		}
		if r.each.UsesLog() {
			f.fault(d.each.Pos, "each reads the log", "take the list from a document")
		}
		if taken := env.Taken(r.eachName); taken != "" {
			f.fault(d.each.Pos, quoted(r.eachName)+" is already "+taken, "choose another name for the element")
			return false
		}
		r.eachKey = d.keyOf(scope.Roots)
		env = env.With(map[string]*schema.Type{r.eachName: r.each.Type()})
	}
	r.applies = f.program(env, d.applies, expr.Truth)
	r.seen = f.program(env, d.seen, expr.Truth)
	r.holds = f.program(env, d.holds, expr.Truth)
	f.measure(env, d)
	if d.signed != nil {
		r.signed = f.compileSigned(env, d.signed)
	}
	f.cleared(env, d)
	r.accept = acceptance{fixed: d.accept.fixed, byValue: map[check.Outcome]*expr.Expr{}}
	r.Accept = d.accept.fixed
	if (d.measure != nil && d.fail == nil) || r.otherwise == check.Warn {
		r.Accept.Fail = r.Accept.Warn // it cannot fail, which makes it no no-go item
	}
	for o, n := range d.accept.byValue {
		if prog := f.program(env, n, expr.TextOf); prog != nil {
			r.accept.byValue[o] = prog
		}
	}
	if len(f.faults) == 0 {
		r.paths = r.pathsRead()
		f.overLog(d)
		f.momentsOf(r)
	}
	return len(f.faults) == 0
}

// keyOf is the field that names the elements of the list an `each` takes: that of the
// first list in it with such a field, "" for none.
func (d *ruleDraft) keyOf(roots map[string]*schema.Type) string {
	for _, path := range d.rule.each.Paths() {
		var t *schema.Type
		for i, name := range strings.Split(path, ".") {
			if i == 0 {
				t = roots[name]
			} else if t != nil {
				t = t.Fields[name]
			}
		}
		if t != nil && t.Kind == schema.List && t.Key != "" {
			return t.Key
		}
	}
	return ""
}

func (f *form) program(env *expr.Env, n *source.Node, want expr.Want) *expr.Expr {
	if n == nil {
		return nil
	}
	prog, faults := env.Compile(n, want)
	f.faults = append(f.faults, faults...)
	if len(faults) > 0 {
		return nil
	}
	return prog
}

// measure compiles a measure with its unit and limits, which must all be of one quantity.
func (f *form) measure(env *expr.Env, d *ruleDraft) {
	if d.measure == nil {
		return
	}
	r := d.rule
	r.measure = f.program(env, d.measure, expr.Value)
	var t units.Type
	known := r.measure != nil
	if known {
		t = r.measure.Unit()
	}
	if d.unit != nil && d.unit.Text != "" {
		f.scale(r, d.unit, t, known)
	}
	for _, b := range []struct {
		from *boundDraft
		to   **bound
		what string
	}{{d.fail, &r.fail, "fail"}, {d.warn, &r.warn, "warn"}, {d.due, &r.due, "due"}} {
		if b.from == nil {
			continue
		}
		*b.to = &bound{where: b.from.pos}
		for _, side := range []struct {
			from *source.Node
			to   **expr.Expr
		}{{b.from.lo, &(*b.to).lo}, {b.from.hi, &(*b.to).hi}} {
			prog := f.program(env, side.from, expr.Value)
			if prog == nil {
				continue
			}
			*side.to = prog
			(*b.to).where = side.from.Pos
			if !known {
				continue
			}
			if what, remedy := prog.Fits(r.measure); what != "" {
				if remedy == "" {
					remedy = "give the limit the measure's quantity"
				}
				f.fault(side.from.Pos, "the "+b.what+" limit: "+what, remedy)
			}
			if prog.UsesLog() {
				f.fault(side.from.Pos, "the "+b.what+" limit reads the log", "put what varies along the run into the measure and compare with a fixed limit")
			}
		}
		(*b.to).limit = r.Pack.named(*b.to)
	}
}

// overLog checks that nothing the log did not show can pass: a rule over the log says
// what must have happened, unless each of its calls has a condition of its own and so
// knows by itself that there was nothing to look at.
func (f *form) overLog(d *ruleDraft) {
	r := d.rule
	if r.applies != nil && r.applies.UsesLog() {
		f.fault(d.applies.Pos, "applies reads the log", "applies is about the car; what must have happened on the run goes into seen")
	}
	for _, prog := range []*expr.Expr{r.measure, r.holds} {
		if prog == nil {
			continue
		}
		for _, call := range prog.Calls() {
			r.readLog = true
			if !call.Conditional && r.seen == nil {
				f.fault(prog.Pos(), quoted(call.Text)+" also answers when nothing happened on the run", "add `seen:` with what must have happened, such as log.count(shift_active) >= 5")
			}
		}
	}
	switch {
	case r.readLog:
		if len(r.from) == 0 {
			r.from = []string{"run"}
		}
	case r.seen != nil:
		f.fault(d.seen.Pos, "seen belongs to a rule over the log", "take it out, or use applies")
	case len(r.from) > 0:
		f.fault(d.from.Pos, "from belongs to a rule over the log", "take it out")
	}
	if r.cleared != nil && !r.readLog {
		f.fault(d.cleared.proof.Pos, "cleared-by belongs to a rule over the log", "take it out: what is measured again counts by itself")
	}
	if r.fresh != nil && !r.readLog && !slices.ContainsFunc(r.paths, isAged) {
		f.fault(d.fresh.Pos, "fresh belongs to what was measured or logged, and the rule reads neither", "take it out")
	}
	if r.seen != nil && !r.seen.UsesLog() {
		f.fault(d.seen.Pos, "seen does not read the log", "say what must have happened on the run; what the car is goes into applies")
	}
}

// written are the roots that change only when a document is edited: rules over them
// alone can be judged at the desk.
var written = []string{"car", "setup", "parts", "plan", "limits", "life", "trips", "tools", "people"}

// momentsOf derives when a rule is looked at, where it does not say.
func (f *form) momentsOf(r *Rule) {
	if len(r.Moments) > 0 {
		return
	}
	if r.readLog {
		r.Moments = []check.Moment{check.Run}
		return
	}
	if r.signed == nil && !slices.ContainsFunc(r.roots(), func(root string) bool { return !slices.Contains(written, root) }) {
		r.Moments = append(r.Moments, check.Commit)
	}
	r.Moments = append(r.Moments, check.Paddock)
}

// pathsRead are the document values a rule may read, as written, sorted.
func (r *Rule) pathsRead() []string {
	var out []string
	for _, p := range r.parts() {
		out = append(out, p.expr.Paths()...)
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// roots are the documents and records a rule reads, sorted.
func (r *Rule) roots() []string {
	var out []string
	for _, path := range r.paths {
		root, _, _ := strings.Cut(path, ".")
		if root != r.eachName && !slices.Contains(out, root) {
			out = append(out, root)
		}
	}
	return out
}

// named is the limit of the pack that a bound is, nil where it is worked out from more
// than one.
func (p *Pack) named(b *bound) *Limit {
	var found *Limit
	for _, x := range []*expr.Expr{b.lo, b.hi} {
		if x == nil {
			continue
		}
		for _, path := range x.Paths() {
			name, ok := strings.CutPrefix(path, "limits.")
			if !ok {
				continue
			}
			l := p.limit(name)
			if found != nil && l != found {
				return nil
			}
			found = l
		}
	}
	return found
}

func (p *Pack) limit(name string) *Limit {
	for _, l := range p.Limits {
		if l.Name == name {
			return l
		}
	}
	return nil
}

func (f *form) compileSigned(env *expr.Env, d *signedDraft) *signed {
	s := &signed{joint: d.joint, people: d.people, tool: d.tool, retained: d.retained}
	s.torque = f.program(env, d.torque, expr.Value)
	if torque, _ := schema.NamedQuantity("torque"); s.torque != nil {
		if err := units.Compare(s.torque.Unit(), torque); err != nil {
			f.fault(d.torque.Pos, "torque is "+s.torque.Unit().String(), "give it in N·m")
		}
	}
	if d.tol != nil {
		if q, ok := f.quantity(d.tol, "tol"); ok {
			if q.SI <= 0 || q.SI > 0.5 || q.Type.Dim != (units.Dim{}) {
				f.fault(d.tol.Pos, quoted(d.tol.Text)+" is not a tolerance", "write a share of the torque, such as 5 %")
			}
			s.tol = q.SI
		}
	}
	return s
}
