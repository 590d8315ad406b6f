package expr

import (
	"cmp"
	"fmt"
	"slices"

	"github.com/google/cel-go/common/types"
	"github.com/google/cel-go/common/types/ref"
	"github.com/google/cel-go/common/types/traits"
)

func (f *frame) mapping(n *node) ref.Val {
	m := map[ref.Val]ref.Val{}
	for i := 0; i < len(n.kids); i += 2 {
		k, v := f.eval(n.kids[i]), f.eval(n.kids[i+1])
		if isBroken(k) {
			return k
		}
		if isBroken(v) {
			return v
		}
		if w, unsure := isOpen(k); unsure {
			return &open{why: w}
		}
		if _, twice := m[k]; twice {
			return &broken{at: n.kids[i], what: "the same key stands twice"}
		}
		m[k] = v
	}
	return types.NewRefValMap(types.DefaultTypeAdapter, m)
}

// folded is all, exists, map or filter.
func (f *frame) folded(c *fold) ref.Val {
	over := f.eval(c.over)
	if isBroken(over) {
		return over
	}
	if w, ok := isOpen(over); ok {
		return &open{why: w}
	}
	var items, keys []ref.Val
	switch over := over.(type) {
	case *doc:
		for _, k := range over.v.Keys {
			keys = append(keys, types.String(k))
			items = append(items, f.field(over, k, true))
		}
	case traits.Mapper:
		for it := over.Iterator(); it.HasNext() == types.True; {
			keys = append(keys, it.Next())
		}
		slices.SortFunc(keys, func(a, b ref.Val) int { return cmp.Compare(fmt.Sprint(a.Value()), fmt.Sprint(b.Value())) })
		for _, k := range keys {
			items = append(items, over.Get(k))
		}
	case traits.Lister:
		n, _ := over.Size().(types.Int)
		for i := types.Int(0); i < n; i++ {
			items = append(items, over.Get(i))
		}
	}
	depth := len(f.locals)
	f.locals = append(f.locals, local{c.sum, f.eval(c.init)})
	for i, item := range items {
		first := item
		switch {
		case c.item2 != "" && keys != nil:
			first = keys[i]
		case c.item2 != "":
			first = types.Int(i)
		case keys != nil:
			first = keys[i]
		}
		f.locals = append(f.locals, local{c.item, first})
		if c.item2 != "" {
			f.locals = append(f.locals, local{c.item2, item})
		}
		if !f.all && f.eval(c.while) == types.False {
			f.locals = f.locals[:depth+1]
			break
		}
		next := f.eval(c.step)
		f.locals = f.locals[:depth+1]
		f.locals[depth].value = next
		if f.steps > maxSteps || f.stop != nil {
			break
		}
	}
	result := f.eval(c.result)
	f.locals = f.locals[:depth]
	return result
}

func (f *frame) indexed(of, key ref.Val) ref.Val {
	if w, ok := isOpen(key); ok {
		return &open{why: w.and(reason(of))}
	}
	switch of := of.(type) {
	case *doc, *absent:
		switch key := key.(type) {
		case types.String:
			return f.field(of, string(key), true)
		case types.Int:
			if a, ok := of.(*absent); ok {
				return f.take(nil, a.t.Elem, fmt.Sprintf("%s[%d]", a.path, key), a.pos)
			}
		}
	case *docs:
		i, isInt := key.(types.Int)
		switch {
		case isInt && i < 0:
			return types.NewErr("index out of range: %d", i)
		case isInt && int(i) >= len(of.v.Items):
			return f.take(nil, of.t.Elem, fmt.Sprintf("%s[%d]", of.path, i), of.v.Pos)
		}
		return of.Get(key)
	case traits.Lister:
		if i, isInt := key.(types.Int); isInt && (i < 0 || i >= of.Size().(types.Int)) {
			return types.NewErr("index out of range: %d", i)
		}
		return of.Get(key)
	case traits.Mapper:
		return of.Get(key)
	}
	if w, ok := isOpen(of); ok {
		return &open{why: w}
	}
	return types.NewErr("no such element")
}

// isIn is `in`. A key that a document does not hold may still be true of the car.
func (f *frame) isIn(x, of ref.Val) ref.Val {
	switch of := of.(type) {
	case *doc:
		key, _ := x.(types.String)
		if v := of.v.Fields[string(key)]; v != nil && !v.Unknown {
			return types.True
		}
		return &open{why: missing(of.path+"["+string(key)+"]", of.v.Pos, "")}
	case traits.Mapper:
		return of.Contains(x)
	case traits.Lister:
		f.steps += int(of.Size().(types.Int))
		return within(x, of)
	}
	return types.NewErr("not a list")
}

// appended joins two lists into one flat one, as map() and filter() do once per element.
func (f *frame) appended(a, b traits.Lister) ref.Val {
	n, m := a.Size().(types.Int), b.Size().(types.Int)
	f.steps += int(n+m) / 2
	all := make([]ref.Val, 0, n+m)
	for i := types.Int(0); i < n; i++ {
		all = append(all, a.Get(i))
	}
	for i := types.Int(0); i < m; i++ {
		all = append(all, b.Get(i))
	}
	return types.NewRefValList(types.DefaultTypeAdapter, all)
}
