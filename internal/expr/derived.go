package expr

import (
	"strings"

	"github.com/google/cel-go/common"
	"github.com/google/cel-go/common/ast"
	"github.com/google/cel-go/common/decls"
	"github.com/google/cel-go/common/types"

	"github.com/paintmark/paintmark/internal/source"
)

// spell is a derived name made ready: a per-sample expression that stands wherever it is named.
type spell struct {
	name string
	root *node
	fact
	channels bool
}

// addSpells compiles the derived names, each after those it names itself.
func (e *Env) addSpells() source.Faults {
	var faults source.Faults
	todo := map[string]Derived{}
	for _, d := range e.scope.Derived {
		if reason := e.reserved(d.Name); reason != "" {
			faults.Add(d.Text.Pos, "derived `"+d.Name+"` has the name of "+reason, "give it another name")
			continue
		}
		todo[d.Name] = d
	}
	uses := map[string][]string{}
	for name, d := range todo {
		uses[name] = e.namesIn(d.Text.Text)
	}
	state := map[string]int{} // 1 in hand, 2 done
	var trail []string
	var add func(name string)
	add = func(name string) {
		state[name] = 1
		trail = append(trail, name)
		for _, used := range uses[name] {
			if _, derived := todo[used]; !derived {
				continue
			}
			switch state[used] {
			case 0:
				add(used)
			case 1:
				e.failed[name] = true
				faults.Add(todo[name].Text.Pos, "derived `"+name+"` comes back to itself through "+strings.Join(append(trail, used), " -> "), "write one of them out in channels")
			}
		}
		trail = trail[:len(trail)-1]
		state[name] = 2
		for _, used := range uses[name] {
			e.failed[name] = e.failed[name] || e.failed[used]
		}
		if e.failed[name] {
			return // one fault is enough
		}
		found := e.addSpell(todo[name])
		e.failed[name] = len(found) > 0
		faults = append(faults, found...)
	}
	for _, d := range e.scope.Derived {
		if _, ok := todo[d.Name]; ok && state[d.Name] == 0 {
			add(d.Name)
		}
	}
	return faults
}

func (e *Env) addSpell(d Derived) source.Faults {
	root, faults := e.tree(d.Text)
	if len(faults) > 0 {
		return faults
	}
	a := &analyst{env: e, faults: &faults, inLog: true, spell: true}
	a.look(root)
	switch {
	case len(faults) > 0:
	case root.typ.Kind() != types.BoolKind && root.typ.Kind() != types.DoubleKind && root.typ.Kind() != types.IntKind:
		faults.Add(root.home.where(root), "derived `"+d.Name+"` is "+aType(root.typ), "it must be a number, or true or false")
	case !root.channels:
		faults.Add(root.home.where(root), "derived `"+d.Name+"` reads no channel", "a value that is the same all through a log goes into limits")
	}
	if len(faults) > 0 {
		return faults
	}
	e.spells[d.Name] = &spell{name: d.Name, root: root, fact: root.fact, channels: true}
	e.checks = e.checker(e.checks, []*decls.VariableDecl{decls.NewVariable(d.Name, root.typ)})
	return nil
}

// namesIn lists the plain names an expression starts from; none where it does not parse.
func (e *Env) namesIn(expression string) []string {
	src := common.NewTextSource(expression)
	parsed, ok := parseQuick(&text{src: []rune(expression)}, src)
	if !ok {
		var errs *common.Errors
		if parsed, errs = e.parser.Parse(src); len(errs.GetErrors()) > 0 {
			return nil
		}
	}
	var names []string
	ast.PreOrderVisit(parsed.Expr(), ast.NewExprVisitor(func(x ast.Expr) {
		if x.Kind() == ast.IdentKind {
			names = append(names, x.AsIdent())
		}
	}))
	return names
}
