package expr

import (
	"maps"
	"slices"
)

// Channels lists the channels it reads, also through derived names, sorted.
func (x *Expr) Channels() []string {
	found := map[string]bool{}
	x.env.eachNode(x.root, func(n *node) {
		if n.kind == nameNode && n.means == aChannel {
			found[n.name] = true
		}
	})
	return slices.Sorted(maps.Keys(found))
}

// Derived lists the derived names it uses, also through one another, sorted by name.
func (x *Expr) Derived() []Derived {
	found := map[string]*text{}
	x.env.eachNode(x.root, func(n *node) {
		if n.kind == nameNode && n.means == aSpell {
			found[n.name] = x.env.spells[n.name].root.home
		}
	})
	var all []Derived
	for _, name := range slices.Sorted(maps.Keys(found)) {
		all = append(all, Derived{Name: name, Text: found[name].at})
	}
	return all
}

// eachNode visits a tree and the derived expressions it names.
func (e *Env) eachNode(root *node, do func(*node)) {
	seen := map[string]bool{}
	var walk func(n *node)
	walk = func(n *node) {
		visit(n, func(n *node) {
			do(n)
			if n.kind == nameNode && n.means == aSpell && !seen[n.name] {
				seen[n.name] = true
				walk(e.spells[n.name].root)
			}
		})
	}
	walk(root)
}

// Paths lists the document values it may read, as far as they can be told without a
// car: "measured.brakes.pad" for measured.brakes.pad[corner.position]. Sorted.
func (x *Expr) Paths() []string {
	found := map[string]bool{}
	inner := map[*node]bool{} // operands of a longer path
	x.env.eachNode(x.root, func(n *node) {
		if n.kind == fieldNode || n.kind == callNode && n.name == "_[_]" {
			inner[n.kids[0]] = true
		}
	})
	x.env.eachNode(x.root, func(n *node) {
		if inner[n] {
			return
		}
		if p, ok := staticPath(n); ok {
			found[p] = true
		}
	})
	return slices.Sorted(maps.Keys(found))
}

// staticPath is the path of a chain of fields, up to its first index.
func staticPath(n *node) (string, bool) {
	switch {
	case n.kind == nameNode && n.means == aRoot:
		return n.name, true
	case n.kind == fieldNode:
		p, ok := staticPath(n.kids[0])
		if !ok || indexed(n.kids[0]) {
			return p, ok
		}
		return p + "." + n.name, true
	case n.kind == callNode && n.name == "_[_]":
		return staticPath(n.kids[0])
	}
	return "", false
}

func indexed(n *node) bool {
	return n.kind == callNode || n.kind == fieldNode && indexed(n.kids[0])
}
