package pack

import (
	"slices"
	"strings"

	"github.com/paintmark/paintmark/internal/source"
)

// form reads maps with a fixed set of keys and collects every fault on the way,
// so that one wrong line never hides the next.
type form struct {
	faults source.Faults
	// told is what reading the file said about a place, so that it is not said twice.
	told map[source.Pos]source.Fault
}

// formOf begins with what reading the file found wrong.
func formOf(faults source.Faults) form {
	f := form{faults: faults, told: make(map[source.Pos]source.Fault, len(faults))}
	for _, fault := range faults {
		f.told[fault.Pos] = fault
	}
	return f
}

func (f *form) fault(pos source.Pos, what, remedy string) { f.faults.Add(pos, what, remedy) }

// mostUnknown bounds the unknown keys of one map that are told.
const mostUnknown = 100

// fields gives the values of a map by key, nil where there is no map to read. Keys
// outside allowed are faults; what names the map in messages.
func (f *form) fields(n *source.Node, what string, allowed ...string) map[string]*source.Node {
	if n.Empty() {
		f.empty(posOf(n), what, "write its keys: "+strings.Join(allowed, ", "))
		return nil
	}
	if n.Kind != source.Map {
		f.fault(n.Pos, what+" is not a map of keys", "write its keys: "+strings.Join(allowed, ", "))
		return nil
	}
	out := make(map[string]*source.Node, len(allowed))
	unknown := 0
	for _, e := range n.Entries {
		if !slices.Contains(allowed, e.Key.Text) {
			if unknown++; unknown > mostUnknown {
				continue // no person wrote these; the first of them are told
			}
			if !f.unknown(n, e, what, allowed) {
				return nil // a value was cut in two: nothing beside it can be trusted
			}
			continue
		}
		out[e.Key.Text] = e.Value
	}
	return out
}

// unknown names a key that should not be there. One comma too many in { } makes
// several such keys: only the first of them is told.
func (f *form) unknown(in *source.Node, e source.Entry, what string, allowed []string) (more bool) {
	if hint := in.CommaHint(); hint != "" && e.Value.Empty() {
		f.fault(e.Key.Pos, quoted(e.Key.Text)+" was read as a key of "+what, hint)
		return false
	}
	f.fault(e.Key.Pos, quoted(e.Key.Text)+" is not a key of "+what, nearest(e.Key.Text, allowed))
	return true
}

// text is the text of a scalar that must be there and not be empty.
func (f *form) text(n *source.Node, what string) string {
	switch {
	case n.Empty() || (n.Kind == source.Scalar && strings.TrimSpace(n.Text) == ""):
		f.empty(posOf(n), what, "write it, or leave the key out")
	case n.Kind != source.Scalar:
		f.fault(n.Pos, what+" is not a text", "write one line")
	default:
		return n.Text
	}
	return ""
}

// texts is a list of texts; a single text counts as a list of one.
func (f *form) texts(n *source.Node, what string) []*source.Node {
	if n != nil && n.Kind == source.List {
		var out []*source.Node
		for _, item := range n.Items {
			if f.text(item, "an element of "+what) != "" {
				out = append(out, item)
			}
		}
		if len(n.Items) == 0 {
			f.fault(n.Pos, what+" is an empty list", "write at least one, or leave the key out")
		}
		return out
	}
	if f.text(n, what) == "" {
		return nil
	}
	return []*source.Node{n}
}

// word is a text out of a fixed set.
func (f *form) word(n *source.Node, what string, allowed []string) string {
	t := f.text(n, what)
	if t == "" || slices.Contains(allowed, t) {
		return t
	}
	f.fault(n.Pos, quoted(t)+" is not a value of "+what, nearest(t, allowed))
	return ""
}

// empty refuses a value that is not there. Where the reading of the file has said why
// already, that is said again, so that whatever rests on the value is refused too;
// repeats are dropped in the end.
func (f *form) empty(pos source.Pos, what, remedy string) {
	if fault, ok := f.told[pos]; ok {
		f.faults = append(f.faults, fault)
		return
	}
	f.fault(pos, what+" has no value", remedy)
}

func posOf(n *source.Node) source.Pos {
	if n == nil {
		return source.Pos{}
	}
	return n.Pos
}

func quoted(s string) string { return "`" + s + "`" }

// nearest says which of the allowed words was probably meant, or lists them.
func nearest(got string, allowed []string) string {
	if best := source.Nearest(got, allowed); best != "" {
		return "did you mean " + best + "?"
	}
	return "use one of " + strings.Join(slices.Sorted(slices.Values(allowed)), ", ")
}
