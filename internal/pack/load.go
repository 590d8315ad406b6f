package pack

import (
	"maps"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	"github.com/paintmark/paintmark/internal/expr"
	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
)

// File is one pack file: its name as people should see it, and its bytes.
type File struct {
	Name string
	Data []byte
}

// Load reads, checks and compiles packs. scope has the car's documents, and its channels
// and derived spells where there is a car; packs are held against both. Every fault of
// every file comes back, sorted, beside the rules that have none.
func Load(files []File, scope expr.Scope, overrides []Override) ([]*Pack, source.Faults) {
	return Parse(files).Compile(scope, overrides)
}

// Parsed is packs that were read and not compiled, which takes longer: what is in them has its name.
type Parsed struct {
	form   form
	drafts []*draft // until they are compiled

	packOf map[string]string  // by rule
	limits map[[2]string]bool // of a pack, by name
}

// Parse reads packs. What is wrong with them Compile says.
func Parse(files []File) *Parsed {
	p := Parsed{packOf: map[string]string{}, limits: map[[2]string]bool{}}
	p.drafts = p.form.read(files)
	p.form.twice(p.drafts)
	for _, d := range p.drafts {
		for _, r := range d.rules {
			if p.packOf[r.rule.ID] == "" {
				p.packOf[r.rule.ID] = d.pack.Name
			}
		}
		for _, l := range d.pack.Limits {
			p.limits[[2]string{d.pack.Name, l.Name}] = true
		}
	}
	return &p
}

// PackOf is the pack that has a rule of that name, "" where none has.
func (p *Parsed) PackOf(rule string) string { return p.packOf[rule] }

// HasLimit says that a pack has a limit.
func (p *Parsed) HasLimit(pack, limit string) bool { return p.limits[[2]string{pack, limit}] }

// Compile is Load of what was read. It is done once, and keeps nothing of the files.
func (p *Parsed) Compile(scope expr.Scope, overrides []Override) ([]*Pack, source.Faults) {
	f, drafts := &p.form, p.drafts
	p.drafts = nil
	f.override(drafts, overrides)
	var packs []*Pack
	for _, d := range drafts {
		env := f.environment(d, scope)
		before := len(f.faults)
		if len(scope.Channels) > 0 || len(scope.Derived) > 0 {
			for _, r := range d.rules {
				f.undeclared(d.pack, scope, r)
			}
		}
		f.faults = append(f.faults, compile(env, scope, d)...)
		if len(f.faults) == before && len(d.pack.Rules) == len(d.rules) {
			f.unused(d.pack)
		}
		packs = append(packs, d.pack)
	}
	return packs, f.faults.Sorted()
}

// read reads all files side by side; drafts keep the order of the files.
func (f *form) read(files []File) []*draft {
	forms, drafts := make([]form, len(files)), make([]*draft, len(files))
	inParallel(len(files), func(i int) {
		root, faults := source.ParseYAML(files[i].Name, files[i].Data)
		forms[i] = formOf(faults)
		if root != nil {
			drafts[i] = readPack(&forms[i], files[i].Name, root)
		}
	})
	for _, one := range forms {
		f.faults = append(f.faults, one.faults...)
	}
	return slices.DeleteFunc(drafts, func(d *draft) bool { return d == nil })
}

// inParallel does n pieces of work on every core.
func inParallel(n int, do func(i int)) {
	var (
		group sync.WaitGroup
		next  atomic.Int64
	)
	for range min(runtime.GOMAXPROCS(0), n) {
		group.Go(func() {
			for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
				do(i)
			}
		})
	}
	group.Wait()
}

// twice finds packs and rules that share a name; the first keeps it.
func (f *form) twice(drafts []*draft) {
	packs, rules := map[string]*draft{}, map[string]*ruleDraft{}
	for _, d := range drafts {
		if d.pack.Name != "" && packs[d.pack.Name] != nil {
			f.fault(source.Pos{File: d.pack.File}, "the pack "+quoted(d.pack.Name)+" is also in "+packs[d.pack.Name].pack.File, "rename one of them")
		} else {
			packs[d.pack.Name] = d
		}
		for _, r := range d.rules {
			switch first := rules[r.rule.ID]; {
			case r.rule.ID == "":
			case first != nil:
				f.fault(r.pos, "the rule "+quoted(r.rule.ID)+" is also at "+first.pos.String(), "rename one of them")
				r.bad = true
			default:
				rules[r.rule.ID] = r
			}
		}
	}
}

// environment makes the names that a pack's rules may use: the documents, its own
// channels and limits, and what the car derives.
func (f *form) environment(d *draft, scope expr.Scope) *expr.Env {
	limits, value := limitsRoot(d.pack)
	d.pack.limits = value
	own := scope
	own.Roots, own.Channels = maps.Clone(scope.Roots), maps.Clone(scope.Channels)
	if own.Roots == nil {
		own.Roots = map[string]*schema.Type{}
	}
	own.Roots["limits"] = limits
	if own.Channels == nil {
		own.Channels = map[string]expr.Channel{}
	}
	d.pack.channels = map[string]expr.Channel{}
	for _, c := range d.channels {
		d.pack.channels[c.name] = c.channel
		if own.Roots[c.name] != nil || c.name == "log" {
			f.fault(c.pos, quoted(c.name)+" is the name of a document", "choose another name for the channel")
			continue
		}
		if logged, ok := scope.Channels[c.name]; ok && logged != c.channel {
			f.fault(c.pos, "the car logs "+quoted(c.name)+" as "+shapeOf(logged)+", the pack reads "+shapeOf(c.channel), "make the two agree: channels.yaml says what the sensor is")
			continue
		}
		derived := slices.ContainsFunc(scope.Derived, func(s expr.Derived) bool { return s.Name == c.name })
		if derived && c.channel.Shape != expr.YesNo {
			f.fault(c.pos, "the car derives "+quoted(c.name)+" as yes or no, the pack reads "+shapeOf(c.channel), "declare it yes-no")
			continue
		}
		if !derived {
			own.Channels[c.name] = c.channel
		}
	}
	env, faults := expr.NewEnv(own)
	f.faults = append(f.faults, faults...)
	d.pack.env = env
	return env
}

func shapeOf(c expr.Channel) string {
	switch c.Shape {
	case expr.YesNo:
		return "yes-no"
	case expr.Count:
		return "count"
	}
	return c.Unit.String()
}

// unused finds limits that no rule reads: most often a misspelt name in a rule. It is
// asked only where every rule came out.
func (f *form) unused(p *Pack) {
	read := map[string]bool{}
	for _, r := range p.Rules {
		for _, path := range r.paths {
			read[path] = true
		}
	}
	for _, l := range p.Limits {
		if !read["limits."+l.Name] {
			f.fault(l.Where, "no rule reads the limit "+quoted(l.Name), "take it out, or use it")
		}
	}
}
