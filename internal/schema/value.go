package schema

import (
	"bytes"
	"encoding/json"
	"strconv"
	"strings"
	"time"

	"github.com/paintmark/paintmark/internal/source"
)

// Unknown is a gap: a value of a type that nobody wrote, with the place of the nearest
// thing that was written.
func Unknown(t *Type, pos source.Pos) *Value { return &Value{Type: t, Pos: pos, Unknown: true} }

// Get is the value at a path such as "hydraulics.precharge.value", "corners[0].axle" or
// "pad[FL]"; a gap where it was not written. Nil where the type has no such field.
func (v *Value) Get(path string) *Value {
	for path != "" {
		var key string
		key, path = step(path)
		v = v.child(key)
		if v == nil {
			return nil
		}
	}
	return v
}

// step cuts the first key off a path.
func step(path string) (key, left string) {
	i := strings.IndexAny(path, ".[")
	switch {
	case i < 0:
		return path, ""
	case i == 0 && path[0] == '[':
		key, left, _ = strings.Cut(path[1:], "]")
		return strings.Trim(key, `"'`), strings.TrimPrefix(left, ".")
	case path[i] == '.':
		return path[:i], path[i+1:]
	default:
		return path[:i], path[i:]
	}
}

func (v *Value) child(key string) *Value {
	switch v.Type.Kind {
	case Object, Map:
		if f := v.Fields[key]; f != nil {
			return f
		}
		t := v.Type.field(key)
		if t == nil {
			return nil
		}
		return v.gap(t)
	case List:
		i, err := strconv.Atoi(key)
		if err != nil || i < 0 {
			return nil
		}
		if i < len(v.Items) {
			return v.Items[i]
		}
		return v.gap(v.Type.Elem)
	default:
		return nil
	}
}

// MarkRecord names the record that a value, and all in it, comes from.
func (v *Value) MarkRecord(name string) {
	v.Record = name
	for _, i := range v.Items {
		i.MarkRecord(name)
	}
	for _, f := range v.Fields {
		f.MarkRecord(name)
	}
}

// gap is a part of v that was not written: it has the place and the record of v.
func (v *Value) gap(t *Type) *Value {
	g := Unknown(t, v.Pos)
	g.Record = v.Record
	return g
}

// JSON is the value in SI, fields in the order of the schema, keys of maps in the order
// written: quantities and numbers as numbers ({"low", "high"} where only bounds are known), days as
// "2026-05-16", moments in UTC, curves as [[x, y], ...], what is not known as null. What was not written is left out.
func JSON(v *Value) ([]byte, error) {
	var b bytes.Buffer
	if err := v.writeJSON(&b); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

func (v *Value) writeJSON(b *bytes.Buffer) error {
	if v.Unknown {
		b.WriteString("null")
		return nil
	}
	switch v.Type.Kind {
	case Quantity, Number:
		if v.Low == v.High {
			writeNumber(b, v.Low)
			return nil
		}
		b.WriteString(`{"low":`)
		writeNumber(b, v.Low)
		b.WriteString(`,"high":`)
		writeNumber(b, v.High)
		b.WriteByte('}')
	case Integer:
		b.WriteString(strconv.FormatInt(v.Int, 10))
	case YesNo:
		b.WriteString(strconv.FormatBool(v.Bool))
	case Date:
		b.WriteString(strconv.Quote(v.Time.Format(time.DateOnly)))
	case Instant:
		b.WriteString(strconv.Quote(v.Time.UTC().Format(time.RFC3339)))
	case Curve:
		b.WriteByte('[')
		for i, p := range v.Points {
			if i > 0 {
				b.WriteByte(',')
			}
			b.WriteByte('[')
			writeNumber(b, p.X)
			b.WriteByte(',')
			writeNumber(b, p.Y)
			b.WriteByte(']')
		}
		b.WriteByte(']')
	case List:
		b.WriteByte('[')
		for i, item := range v.Items {
			if i > 0 {
				b.WriteByte(',')
			}
			if err := item.writeJSON(b); err != nil {
				return err
			}
		}
		b.WriteByte(']')
	case Object, Map:
		keys := v.Keys
		if v.Type.Kind == Object {
			keys = v.Type.Order
		}
		b.WriteByte('{')
		first := true
		for _, k := range keys {
			f := v.Fields[k]
			if f == nil {
				continue
			}
			if !first {
				b.WriteByte(',')
			}
			first = false
			if err := writeText(b, k); err != nil {
				return err
			}
			b.WriteByte(':')
			if err := f.writeJSON(b); err != nil {
				return err
			}
		}
		b.WriteByte('}')
	default:
		return writeText(b, v.Text)
	}
	return nil
}

func writeText(b *bytes.Buffer, s string) error {
	e := json.NewEncoder(b)
	e.SetEscapeHTML(false)
	if err := e.Encode(s); err != nil {
		return err
	}
	b.Truncate(b.Len() - 1) // the encoder ends with a new line
	return nil
}

// writeNumber writes the shortest form that reads back as the same number; JSON has no infinity.
func writeNumber(b *bytes.Buffer, f float64) {
	text, err := json.Marshal(f)
	if err != nil {
		text = []byte("null")
	}
	b.Write(text)
}
