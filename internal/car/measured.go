package car

import (
	"cmp"
	"slices"
	"time"

	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
)

// measured joins the records of what was read into one value: the newest record of an
// item counts; items by corner are joined corner by corner; any other item is replaced as
// a whole, so that a pressure never meets another reading's temperature. What a later
// change of the car makes void is a gap again. Every value names its record.
func (f *Folder) measured(at time.Time) *schema.Value { return f.foldMeasured(at, joined) }

// MeasuredKept is what was measured as it was before any of it was taken back: a value that a
// newer record writes over by unknown, or leaves out of its item, is the one it last was. Two
// readings may meet in it; it is only good to tell what a withdrawn value would come to.
func (f *Folder) MeasuredKept(at time.Time) *schema.Value { return f.foldMeasured(at, kept) }

func (f *Folder) foldMeasured(at time.Time, join func(old, now *schema.Value) *schema.Value) *schema.Value {
	t := f.mustRoot("measured")
	out := schema.Unknown(t, source.Pos{File: "measured"})
	voids := f.voids(at)
	for _, r := range f.Of("measured") {
		if r.At.After(at) {
			continue
		}
		for len(voids) > 0 && f.before(voids[0].record, r) {
			voids[0].apply(out)
			voids = voids[1:]
		}
		for _, group := range r.Body.Keys {
			add(out, group, r.Body.Fields[group], join)
		}
	}
	for _, v := range voids {
		v.apply(out)
	}
	return out
}

// before says that a comes before b in the order of the records.
func (f *Folder) before(a, b *Record) bool {
	return f.compare(a, b) < 0
}

func (f *Folder) compare(a, b *Record) int {
	return cmp.Or(a.At.Compare(b.At), cmp.Compare(order[a.Kind], order[b.Kind]))
}

func add(out *schema.Value, group string, from *schema.Value, join func(old, now *schema.Value) *schema.Value) {
	if from.Unknown || from.Fields == nil {
		set(out, group, join(out.Fields[group], from))
		return
	}
	g := out.Fields[group]
	if g == nil || g.Unknown {
		g = &schema.Value{Type: from.Type, Pos: from.Pos, Record: from.Record, Fields: map[string]*schema.Value{}}
		set(out, group, g)
	}
	g.Pos, g.Record = from.Pos, from.Record
	for _, item := range from.Keys {
		set(g, item, join(g.Fields[item], from.Fields[item]))
	}
}

// joined is a new reading of an item over the old one: corner by corner, part by part where the
// parts are read each by itself, and any other as a whole.
func joined(old, v *schema.Value) *schema.Value {
	if old == nil || old.Unknown || v.Unknown || v.Type.Kind != schema.Map && !v.Type.Apart {
		return v
	}
	return over(old, v, joined)
}

// over is a new value over the old one, field by field.
func over(old, now *schema.Value, field func(old, now *schema.Value) *schema.Value) *schema.Value {
	out := &schema.Value{Type: now.Type, Pos: now.Pos, Record: now.Record, Fields: map[string]*schema.Value{}}
	for _, k := range old.Keys {
		set(out, k, old.Fields[k])
	}
	for _, k := range now.Keys {
		set(out, k, field(old.Fields[k], now.Fields[k]))
	}
	return out
}

// set writes a field of a value of ours, never of a record's.
func set(v *schema.Value, key string, field *schema.Value) {
	if v.Fields == nil {
		v.Fields = map[string]*schema.Value{}
	}
	v.Unknown = false
	if _, there := v.Fields[key]; !there {
		v.Keys = append(v.Keys, key)
	}
	v.Fields[key] = field
}

// kept is a new reading over the old one, but what was known is not lost to what is not.
func kept(old, now *schema.Value) *schema.Value {
	switch {
	case old == nil || old.Unknown:
		return now
	case now.Unknown:
		return old
	}
	if now.Type.Kind == schema.List && len(now.Items) == len(old.Items) {
		list := *now
		list.Items = slices.Clone(now.Items)
		for i, item := range now.Items {
			list.Items[i] = kept(old.Items[i], item)
		}
		return &list
	}
	if now.Type.Kind != schema.Object && now.Type.Kind != schema.Map || old.Fields == nil {
		return now
	}
	return over(old, now, kept)
}

func (v void) apply(out *schema.Value) {
	for _, group := range out.Keys {
		g := out.Fields[group]
		if g.Unknown {
			continue
		}
		for _, item := range g.Keys {
			for _, p := range v.paths {
				if covers(p.Text, group, item) {
					g.Fields[item] = v.empty(g.Fields[item].Type)
				}
			}
		}
	}
}
