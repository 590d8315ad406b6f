package schema

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"

	"github.com/paintmark/paintmark/internal/source"
	"github.com/paintmark/paintmark/schemas"
)

// Set is the schemas in use: the bundled ones, and what a team adds to them. A type is
// made when it is first asked for. Safe for concurrent use.
type Set struct {
	mu  sync.Mutex
	own map[string]*extended
}

// extended is a bundled schema with what a team has added to it.
type extended struct {
	keywords *keyword
	typ      *Type
}

// Bundled is the set without additions, shared by all who ask.
var Bundled = &Set{}

// Documents, Records and WorkedOut name the bundled schemas: files that are edited, records
// that are written once, and what the program makes of both.
var (
	Documents = []string{
		"admitted", "car", "channels", "derived", "limits", "meters", "parts", "people", "plan",
		"positions", "setup", "tools", "trips",
	}
	Records = []string{
		"baseline", "deviation", "done", "fault", "fitted", "job", "lockout", "measured", "release", "run",
		"signed", "weather",
	}
	WorkedOut = []string{"folded", "life"}
)

// Names lists all of them, sorted.
func Names() []string {
	return slices.Sorted(slices.Values(slices.Concat(Documents, Records, WorkedOut)))
}

const suffix = ".schema.json"

// Document is the type of a whole document or record: an Object whose fields are the
// top-level keys of the file. The name is the schema's: "car", "measured", "fitted".
func (s *Set) Document(name string) (*Type, error) {
	s.mu.Lock()
	own := s.own[name]
	s.mu.Unlock()
	if own != nil {
		return own.typ, nil
	}
	m, _ := made.LoadOrStore(name, &once{})
	return m.(*once).document(name)
}

// made holds the types of the bundled schemas, by name.
var made sync.Map // string: *once

// once is a type that is made once, by whoever asks first.
type once struct {
	sync.Once
	typ *Type
	err error
}

func (o *once) document(name string) (*Type, error) {
	o.Do(func() { o.typ, o.err = makeType(name) })
	return o.typ, o.err
}

func makeType(name string) (*Type, error) {
	k, err := bundled(name)
	if err != nil {
		return nil, err
	}
	t, faults := document(k)
	if err := faults.Err(); err != nil {
		return nil, fmt.Errorf("schema %s: %w", name, err)
	}
	return t, nil
}

func bundled(name string) (*keyword, error) {
	data, err := schemas.Files.ReadFile(name + suffix)
	if err != nil {
		remedy := ""
		if n := source.Nearest(name, Names()); n != "" {
			remedy = fmt.Sprintf("; did you mean %q", n)
		}
		return nil, fmt.Errorf("there is no schema %q%s", name, remedy)
	}
	return readJSON(data)
}

func document(k *keyword) (*Type, source.Faults) {
	tr := &typer{}
	t := tr.typeOf(k, "")
	if t == nil || len(tr.faults) > 0 {
		return nil, tr.faults.Sorted()
	}
	t.rest = restOf(k)
	return t, nil
}

// Extend adds a team's own fields: a JSON Schema (2020-12) with `"x-extends": "car"` and,
// under properties, the new fields. Fields that exist can only be gone into, not changed.
// Everything wrong with the file is reported at its place; a file with faults adds nothing.
func (s *Set) Extend(file string, data []byte) source.Faults {
	node, faults := source.ParseYAML(file, data)
	if len(faults) > 0 {
		return faults
	}
	if node.Kind != source.Map {
		return source.Faults{{Pos: node.Pos, What: "a schema is a JSON object", Remedy: "start with {"}}
	}
	more := fromNode(node)
	name := more.str("x-extends")
	s.mu.Lock()
	defer s.mu.Unlock()
	var base *keyword
	if own := s.own[name]; own != nil {
		base = own.keywords
	} else {
		var err error
		if base, err = bundled(name); err != nil {
			what := fmt.Sprintf("there is no schema %q to extend", name)
			if name == "" {
				what = "the schema does not say what it extends"
			}
			return source.Faults{{Pos: node.Pos, What: what, Remedy: "write x-extends with one of " + strings.Join(Names(), ", ")}}
		}
	}
	more.references(&faults)
	base = base.merge(more, "", &faults)
	if len(faults) > 0 {
		return faults.Sorted()
	}
	t, faults := document(base)
	if len(faults) == 0 {
		faults = t.rest.notSchema().Sorted()
	}
	if len(faults) > 0 {
		return faults
	}
	if s.own == nil {
		s.own = map[string]*extended{}
	}
	s.own[name] = &extended{base, t}
	return nil
}

// Root is the type of a name that expressions may use: car, setup, measured, ...
func (s *Set) Root(name string) (*Type, error) {
	doc := name
	if d, ok := rootIn[name]; ok {
		doc = d
	}
	t, err := s.Document(doc)
	if err != nil {
		return nil, err
	}
	return t.Fields[name], nil
}

// rootIn names the schema of those roots that have another name than it.
var rootIn = map[string]string{"lockout": "folded", "faults": "folded", "jobs": "folded"}

// RootNames lists the names expressions may use, sorted; `limits` and the channels come from packs.
func RootNames() []string {
	return []string{
		"baseline", "car", "faults", "jobs", "life", "lockout", "measured", "parts", "people", "plan",
		"setup", "tools", "trips", "weather",
	}
}

// Roots gives the type of every root. They are made side by side.
func (s *Set) Roots() (map[string]*Type, error) {
	names := RootNames()
	types, errs := make([]*Type, len(names)), make([]error, len(names))
	var all sync.WaitGroup
	for i, n := range names {
		all.Go(func() { types[i], errs[i] = s.Root(n) })
	}
	all.Wait()
	roots := make(map[string]*Type, len(names))
	for i, n := range names {
		roots[n] = types[i]
	}
	return roots, errors.Join(errs...)
}
