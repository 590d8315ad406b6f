package expr

import (
	"maps"
	"slices"

	"github.com/google/cel-go/checker"
	"github.com/google/cel-go/common/containers"
	"github.com/google/cel-go/common/decls"
	"github.com/google/cel-go/common/types"

	"github.com/paintmark/paintmark/internal/kernel"
	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
)

// Env is a scope made ready: every name with its type. Safe for concurrent use.
type Env struct {
	*base
	scope  Scope
	table  *typeTable
	checks *checker.Env
	spells map[string]*spell
	failed map[string]bool         // derived names with a fault
	extra  map[string]*schema.Type // added by With
	graph  *kernel.Graph
}

// NewEnv makes a scope ready, and compiles its derived names. The faults are those of
// the derived expressions, and of names used twice; the Env is usable in spite of them,
// without the names at fault.
func NewEnv(scope Scope) (*Env, source.Faults) {
	var faults source.Faults
	b, err := theBase()
	if err != nil { // CEL's own library does not load: not a fault of any file
		panic(err)
	}
	table := newTypeTable(b.types)
	e := &Env{base: b, scope: scope, table: table, spells: map[string]*spell{}, failed: map[string]bool{}, graph: scope.Graph}
	if e.graph == nil {
		e.graph = kernel.NewGraph()
	}
	e.scope.Channels = maps.Clone(scope.Channels)
	for _, d := range scope.Derived {
		delete(e.scope.Channels, d.Name)
	}
	var idents []*decls.VariableDecl
	for _, name := range slices.Sorted(maps.Keys(scope.Roots)) {
		idents = append(idents, decls.NewVariable(name, table.celType(scope.Roots[name])))
	}
	for _, name := range slices.Sorted(maps.Keys(e.scope.Channels)) {
		if reason := e.reserved(name); reason != "" {
			faults.Add(source.Pos{}, "channel `"+name+"` has the name of "+reason, "give it another name")
			delete(e.scope.Channels, name)
			continue
		}
		idents = append(idents, decls.NewVariable(name, e.scope.Channels[name].Shape.celType()))
	}
	e.checks = e.checker(b.checks, idents)
	faults = append(faults, e.addSpells()...)
	for _, name := range slices.Sorted(maps.Keys(e.spells)) { // all in one layer: quicker to look up
		idents = append(idents, decls.NewVariable(name, e.spells[name].root.typ))
	}
	e.checks = e.checker(b.checks, idents)
	return e, faults
}

func (e *Env) checker(under *checker.Env, idents []*decls.VariableDecl) *checker.Env {
	c, err := checker.NewEnv(containers.DefaultContainer, e.table, append(checkOptions(), checker.ValidatedDeclarations(under))...)
	if err == nil {
		err = c.AddIdents(idents...)
	}
	if err != nil { // names are unique in a map, so CEL has nothing to object to
		panic(err)
	}
	return c
}

func (s Shape) celType() *types.Type {
	switch s {
	case YesNo:
		return truth
	case Count:
		return whole
	}
	return double
}

// With is the same scope with more names, such as the element of an `each`. Cheap.
func (e *Env) With(names map[string]*schema.Type) *Env {
	if len(names) == 0 {
		return e
	}
	out := *e
	out.extra = maps.Clone(e.extra)
	if out.extra == nil {
		out.extra = map[string]*schema.Type{}
	}
	var idents []*decls.VariableDecl
	for _, name := range slices.Sorted(maps.Keys(names)) {
		out.extra[name] = names[name]
		idents = append(idents, decls.NewVariable(name, e.table.celType(names[name])))
	}
	out.checks = e.checker(e.checks, idents)
	return &out
}

// Taken says what a name already stands for: "a document", "a channel", "a derived name",
// "a CEL word"; "" where it is free.
func (e *Env) Taken(name string) string {
	switch {
	case e.spells[name] != nil:
		return "a derived name"
	case e.isChannel(name):
		return "a channel"
	case e.extra[name] != nil:
		return "another element"
	}
	return e.reserved(name)
}

// reserved says what a name stands for that no channel may be called.
func (e *Env) reserved(name string) string {
	switch {
	case e.scope.Roots[name] != nil:
		return "a document"
	case name == "log":
		return "the log"
	case slices.Contains(celWords, name):
		return "a CEL word"
	}
	return ""
}

// celWords are CEL's reserved words and type names.
var celWords = []string{
	"as", "bool", "break", "bytes", "const", "continue", "double", "duration", "else", "false", "for", "function", "if", "import", "in", "int", "let",
	"list", "loop", "map", "namespace", "null", "null_type", "package", "return", "string", "timestamp", "true", "type", "uint", "var", "void", "while",
}

func (e *Env) isChannel(name string) bool {
	_, ok := e.scope.Channels[name]
	return ok && e.extra[name] == nil
}

func (e *Env) root(name string) *schema.Type {
	if t := e.extra[name]; t != nil {
		return t
	}
	return e.scope.Roots[name]
}

// names lists every name an expression may start with, sorted.
func (e *Env) names() []string {
	all := slices.Collect(maps.Keys(e.scope.Roots))
	all = slices.AppendSeq(all, maps.Keys(e.extra))
	all = slices.AppendSeq(all, maps.Keys(e.scope.Channels))
	all = slices.AppendSeq(all, maps.Keys(e.spells))
	slices.Sort(all)
	return slices.Compact(all)
}

// Graph holds the per-sample expressions of every rule compiled here, each once. A
// kernel.Runner over a log is made on it.
func (e *Env) Graph() *kernel.Graph { return e.graph }
