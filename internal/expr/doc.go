package expr

import (
	"strconv"

	"github.com/google/cel-go/common/types"
	"github.com/google/cel-go/common/types/ref"
	"github.com/google/cel-go/common/types/traits"

	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
)

// doc is an object or a map of a document.
type doc struct {
	opaque
	v    *schema.Value
	t    *schema.Type
	path string
}

func (d *doc) Type() ref.Type {
	if d.t.Kind == schema.Map {
		return types.MapType
	}
	return opaqueType
}

// line is a curve of a document.
type line struct {
	opaque
	v    *schema.Value
	path string
}

// absent is an open value that stands for something a document does not hold, so that
// a field of it can be named in full.
type absent struct {
	open
	t    *schema.Type
	path string
	pos  source.Pos
}

// docs is a list of a document, as CEL's own list functions want it.
type docs struct {
	traits.Lister
	v    *schema.Value
	t    *schema.Type
	path string
}

// take turns a document's value into a value of an evaluation. v is nil where nothing
// is written; near is the place of the nearest thing that is.
func (f *frame) take(v *schema.Value, t *schema.Type, path string, near source.Pos) ref.Val {
	if v == nil && t == nil { // a value of another type than the scope's
		return &open{why: missing(path, near, "")}
	}
	if v == nil {
		if t.NotFitted && t.Kind == schema.YesNo {
			return types.False
		}
		w := missing(path, near, "")
		w.notFitted = t.NotFitted
		return &absent{open: open{why: w}, t: t, path: path, pos: near}
	}
	if v.Unknown {
		return &absent{open: open{why: missing(path, v.Pos, "")}, t: t, path: path, pos: v.Pos}
	}
	if v.Type != nil {
		t = v.Type
	}
	switch t.Kind {
	case schema.Object, schema.Map:
		return &doc{v: v, t: t, path: path}
	case schema.List:
		items := make([]ref.Val, len(v.Items))
		for i, item := range v.Items {
			items[i] = f.take(item, t.Elem, path+"["+strconv.Itoa(i)+"]", v.Pos)
		}
		f.read(path, v)
		return &docs{Lister: types.NewRefValList(types.DefaultTypeAdapter, items), v: v, t: t, path: path}
	}
	f.read(path, v)
	switch t.Kind {
	case schema.Curve:
		return &line{v: v, path: path}
	case schema.Quantity, schema.Number:
		return number(v.Low, v.High, false, missing(path, v.Pos, "known only between bounds"))
	case schema.Integer:
		return types.Int(v.Int)
	case schema.YesNo:
		return types.Bool(v.Bool)
	case schema.Date, schema.Instant:
		return types.Timestamp{Time: v.Time}
	default:
		return types.String(v.Text)
	}
}

// field is a field of an object, or the value under a key of a map.
func (f *frame) field(of ref.Val, name string, index bool) ref.Val {
	path := func(base string) string {
		if index {
			return base + "[" + name + "]"
		}
		return base + "." + name
	}
	switch of := of.(type) {
	case *doc:
		t := of.t.Elem
		if of.t.Kind == schema.Object {
			t = of.t.Fields[name]
		}
		return f.take(of.v.Fields[name], t, path(of.path), of.v.Pos)
	case *absent:
		t := of.t.Elem
		if of.t.Kind == schema.Object {
			t = of.t.Fields[name]
		}
		if of.why.notFitted && t.NotFitted && t.Kind == schema.YesNo {
			return types.False
		}
		w := missing(path(of.path), of.pos, "")
		w.notFitted = of.why.notFitted
		return &absent{open: open{why: w}, t: t, path: path(of.path), pos: of.pos}
	}
	return of
}

// read notes a document value that was looked at.
func (f *frame) read(path string, v *schema.Value) {
	if f.reads == nil {
		f.reads = map[string]*schema.Value{}
	}
	f.reads[path] = v
}
