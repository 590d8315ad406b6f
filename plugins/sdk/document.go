package sdk

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
)

// Node is a place in the documents. Everything read through it is accounted for.
type Node struct {
	ev    *Evidence
	path  string
	value any // decoded JSON; nil where it is not known
}

// Get is the place at a path: "car.wing.spring.moment", "car.corners[0]", "measured.pad[FL].value".
// A path outside of what the check declared is a fault of the check.
func (ev *Evidence) Get(path string) Node {
	root, rest := step(path)
	n := Node{ev, root, ev.given.Documents[root]}.Get(rest)
	if !slices.ContainsFunc(ev.check.Needs.Documents, func(d string) bool { return under(n.path, d) || under(d, n.path) }) {
		ev.wrong(fmt.Errorf("reads %s, which is none of the documents it declared", n.path))
	}
	return n
}

// Number is Get(path).Number().
func (ev *Evidence) Number(path string) Value { return ev.Get(path).Number() }

// Text is Get(path).Text().
func (ev *Evidence) Text(path string) (text string, known bool) { return ev.Get(path).Text() }

// Yes is Get(path).Yes().
func (ev *Evidence) Yes(path string) (yes, known bool) { return ev.Get(path).Yes() }

// Time is Get(path).Time().
func (ev *Evidence) Time(path string) (t time.Time, known bool) { return ev.Get(path).Time() }

// Each is Get(path).Each().
func (ev *Evidence) Each(path string) (items []Node, known bool) { return ev.Get(path).Each() }

// Get is the place at a path below this one.
func (n Node) Get(path string) Node {
	for path != "" {
		var key string
		key, path = step(path)
		n = n.child(key)
	}
	return n
}

// Path is where it stands, "car.corners[0].axle".
func (n Node) Path() string { return n.path }

// For is the same place, read on account of one position; see Evidence.For.
func (n Node) For(position string) Node {
	n.ev = n.ev.For(position)
	return n
}

// Known says whether anything is written there. It counts as looking for it.
func (n Node) Known() bool {
	n.account(n.value != nil)
	return n.value != nil
}

// Fitted says whether the car has it at all. Where nobody knows, known is false and it
// counts as missing.
func (n Node) Fitted() (fitted, known bool) {
	if n.value != nil {
		return true, true
	}
	if n.notFitted() {
		return false, true
	}
	n.ev.miss(n.path)
	return false, false
}

func (n Node) notFitted() bool {
	return slices.ContainsFunc(n.ev.given.NotFitted, func(p string) bool { return under(n.path, p) })
}

// under says that a path is another one or lies below it.
func under(path, above string) bool {
	rest, ok := strings.CutPrefix(path, above)
	return ok && (rest == "" || rest[0] == '.' || rest[0] == '[')
}

// Number is a number in SI, or its bounds. Where it is not known it counts as missing.
func (n Node) Number() Value {
	v := number(n.value)
	n.account(v.Known)
	return v
}

func number(x any) Value {
	switch x := x.(type) {
	case float64:
		return Exactly(x)
	case map[string]any: // known between bounds; a bound that is null is open
		_, low := x["low"]
		_, high := x["high"]
		if len(x) != 2 || !low || !high {
			break
		}
		v := Between(math.Inf(-1), math.Inf(1))
		if f, ok := x["low"].(float64); ok {
			v.Low = f
		}
		if f, ok := x["high"].(float64); ok {
			v.High = f
		}
		return v
	}
	return Value{}
}

// Text is a text or a word. Where it is not known it counts as missing.
func (n Node) Text() (text string, known bool) {
	text, known = n.value.(string)
	n.account(known)
	return text, known
}

// Yes is a yes or a no; no where the car has none of it. Where it is not known it counts as missing.
func (n Node) Yes() (yes, known bool) {
	yes, known = n.value.(bool)
	known = known || n.value == nil && n.notFitted()
	n.account(known)
	return yes, known
}

// Time is a day or a moment. Where it is not known it counts as missing.
func (n Node) Time() (t time.Time, known bool) {
	text, _ := n.value.(string)
	t, err := time.Parse(time.DateOnly, text)
	if err != nil {
		t, err = time.Parse(time.RFC3339, text)
	}
	n.account(err == nil)
	return t, err == nil
}

// Points are those of a curve, x rising, in SI. Where it is not known it counts as missing.
func (n Node) Points() (points [][2]float64, known bool) {
	list, known := n.value.([]any)
	for _, item := range list {
		pair, _ := item.([]any)
		if len(pair) != 2 {
			known = false
			break
		}
		x, okX := pair[0].(float64)
		y, okY := pair[1].(float64)
		if known = okX && okY; !known {
			break
		}
		points = append(points, [2]float64{x, y})
	}
	n.account(known)
	return points, known
}

// Each are the elements of a list, or the values of a map in the order of its keys. Where the
// list is not known it counts as missing; an empty one is known.
func (n Node) Each() (items []Node, known bool) {
	switch v := n.value.(type) {
	case []any:
		for i := range v {
			items = append(items, n.child(strconv.Itoa(i)))
		}
		known = true
	case map[string]any:
		for _, k := range slices.Sorted(maps.Keys(v)) {
			items = append(items, n.child(k))
		}
		known = true
	}
	n.account(known)
	return items, known
}

// Key is the last part of the path: the key of a map's value.
func (n Node) Key() string {
	i := strings.LastIndexAny(n.path, ".[")
	return strings.TrimSuffix(n.path[i+1:], "]")
}

func (n Node) account(known bool) {
	if !known {
		n.ev.miss(n.path)
	} else if !slices.Contains(n.ev.read, n.path) {
		n.ev.read = append(n.ev.read, n.path)
	}
}

func (n Node) child(key string) Node {
	switch v := n.value.(type) {
	case map[string]any:
		return Node{n.ev, n.path + spelt(key), v[key]}
	case []any:
		out := Node{n.ev, n.path + "[" + key + "]", nil}
		if i, err := strconv.Atoi(key); err == nil && i >= 0 && i < len(v) {
			out.value = v[i]
		}
		return out
	}
	return Node{n.ev, n.path + spelt(key), nil}
}

// spelt is how a key is written in a path.
func spelt(key string) string {
	for _, r := range key {
		if r != '_' && (r < 'a' || r > 'z') && (r < 'A' || r > 'Z') && (r < '0' || r > '9') {
			return "[" + key + "]"
		}
	}
	return "." + key
}

// step cuts the first key off a path.
func step(path string) (key, rest string) {
	if strings.HasPrefix(path, "[") {
		key, rest, _ = strings.Cut(path[1:], "]")
		return key, strings.TrimPrefix(rest, ".")
	}
	i := strings.IndexAny(path, ".[")
	switch {
	case i < 0:
		return path, ""
	case path[i] == '.':
		return path[:i], path[i+1:]
	}
	return path[:i], path[i:]
}
