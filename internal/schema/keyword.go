package schema

import (
	"bytes"
	"encoding/json"
	"fmt"

	"github.com/paintmark/paintmark/internal/source"
)

// keyword is a value of a JSON Schema file with its keys in the order written:
// a map loses the order that sheets and messages follow.
type keyword struct {
	pos   source.Pos // zero for a bundled schema
	text  string     // of a string
	value any        // string, json.Number, bool or nil; of a map or list nil
	keys  []string   // of a map
	under map[string]*keyword
	items []*keyword
	list  bool
}

func (k *keyword) at(key string) *keyword {
	if k == nil {
		return nil
	}
	return k.under[key]
}

func (k *keyword) isMap() bool { return k != nil && k.under != nil }

func (k *keyword) isTrue() bool { return k != nil && k.value == true }

// str is the string under key, or "".
func (k *keyword) str(key string) string {
	if v := k.at(key); v != nil {
		return v.text
	}
	return ""
}

// texts is the string, or the strings of the list, under key.
func (k *keyword) texts(key string) []string {
	v := k.at(key)
	switch {
	case v == nil:
		return nil
	case v.list:
		out := make([]string, 0, len(v.items))
		for _, i := range v.items {
			out = append(out, i.text)
		}
		return out
	default:
		return []string{v.text}
	}
}

// plain is the value as encoding/json would give it.
func (k *keyword) plain() any {
	switch {
	case k.list:
		out := make([]any, len(k.items))
		for i, v := range k.items {
			out[i] = v.plain()
		}
		return out
	case k.under != nil:
		out := make(map[string]any, len(k.keys))
		for _, key := range k.keys {
			out[key] = k.under[key].plain()
		}
		return out
	default:
		return k.value
	}
}

// readJSON reads a bundled schema.
func readJSON(data []byte) (*keyword, error) {
	d := json.NewDecoder(bytes.NewReader(data))
	d.UseNumber()
	return readToken(d)
}

func readToken(d *json.Decoder) (*keyword, error) {
	t, err := d.Token()
	if err != nil {
		return nil, err
	}
	switch t := t.(type) {
	case json.Delim:
		k := &keyword{list: t == '['}
		if !k.list {
			k.under = map[string]*keyword{}
		}
		for d.More() {
			var key string
			if !k.list {
				name, err := d.Token()
				if err != nil {
					return nil, err
				}
				key = name.(string)
			}
			v, err := readToken(d)
			if err != nil {
				return nil, err
			}
			if k.list {
				k.items = append(k.items, v)
			} else {
				k.keys = append(k.keys, key)
				k.under[key] = v
			}
		}
		_, err := d.Token() // the closing bracket
		return k, err
	case string:
		return &keyword{text: t, value: t}, nil
	default:
		return &keyword{value: t}, nil
	}
}

// fromNode takes a team's own schema, which is read as YAML (JSON is YAML) for its places.
func fromNode(n *source.Node) *keyword {
	k := &keyword{pos: n.Pos}
	switch n.Kind {
	case source.List:
		k.list = true
		for _, i := range n.Items {
			k.items = append(k.items, fromNode(i))
		}
	case source.Map:
		k.under = make(map[string]*keyword, len(n.Entries))
		for _, e := range n.Entries {
			k.keys = append(k.keys, e.Key.Text)
			v := fromNode(e.Value)
			v.pos = e.Key.Pos
			k.under[e.Key.Text] = v
		}
	default:
		k.value, k.text = n.Text, n.Text
		if n.Style != source.Plain {
			break
		}
		switch {
		case n.Text == "true" || n.Text == "false":
			k.value, k.text = n.Text == "true", ""
		case n.Text == "null" || n.Text == "":
			k.value, k.text = nil, ""
		case numberForm().MatchString(n.Text):
			k.value, k.text = json.Number(n.Text), ""
		}
	}
	return k
}

// references finds what refers to another schema. A field is asked keyword by keyword, each a schema of its own, in which
// a reference would lead nowhere, or to itself without end.
func (k *keyword) references(faults *source.Faults) {
	for _, i := range k.items {
		i.references(faults)
	}
	for _, key := range k.keys {
		v := k.under[key]
		if _, text := v.value.(string); text && (key == "$ref" || key == "$dynamicRef") {
			faults.Add(v.pos, key+" cannot be used here", "write out what it refers to")
		}
		v.references(faults)
	}
}

// merge adds the fields of more to k, which stays unchanged. Only new fields and
// descents into existing ones are additions; anything else would change what a field means.
func (k *keyword) merge(more *keyword, name string, faults *source.Faults) *keyword {
	out := *k
	out.under = make(map[string]*keyword, len(k.under))
	for key, v := range k.under {
		out.under[key] = v
	}
	for _, key := range more.keys {
		v := more.under[key]
		switch key {
		case "$schema", "$id", "$comment", "title", "description", "x-extends", "type", "pattern", "additionalProperties":
			// Said again so that an editor can use the file on its own; the field itself stays as it is.
		case "items":
			if k.at("items") == nil {
				faults.Add(v.pos, fmt.Sprintf("%s is not a list", place(name)), "add fields under properties")
				continue
			}
			out.under[key] = k.under[key].merge(v, name+"[]", faults)
		case "properties":
			if k.at("properties") == nil {
				faults.Add(v.pos, fmt.Sprintf("%s has no fields of its own", place(name)), "only objects with named fields can be extended")
				continue
			}
			props := *k.under[key]
			props.keys = append([]string(nil), props.keys...)
			props.under = make(map[string]*keyword, len(props.under)+len(v.keys))
			for f, old := range k.under[key].under {
				props.under[f] = old
			}
			for _, f := range v.keys {
				field := v.under[f]
				old := props.under[f]
				switch {
				case old == nil:
					props.keys = append(props.keys, f)
					props.under[f] = field
				case field.at("properties") == nil && field.at("items") == nil:
					faults.Add(field.pos, fmt.Sprintf("%s is already a field", join(name, f)), "choose another name; an extension adds fields, it does not change them")
				default:
					props.under[f] = old.merge(field, join(name, f), faults)
				}
			}
			out.under[key] = &props
		default:
			faults.Add(v.pos, fmt.Sprintf("%q cannot be added to %s", key, place(name)), "an extension adds fields under properties")
		}
	}
	return &out
}

func place(name string) string {
	if name == "" {
		return "the document"
	}
	return name
}

func join(name, field string) string {
	if name == "" {
		return field
	}
	return name + "." + field
}
