package source

// Kind is the shape of a node.
type Kind uint8

// The shapes.
const (
	Scalar Kind = iota
	List
	Map
)

// Style is how a scalar was written.
type Style uint8

// The styles. Folded (`>`) scalars keep their style so that CEL fields can refuse them.
const (
	Plain Style = iota
	SingleQuoted
	DoubleQuoted
	Block
	Folded
)

// Node is one YAML value with its place. Scalars keep their text as written
// (quotes removed, escapes resolved); nothing is ever read as a number or a date here.
type Node struct {
	Kind    Kind
	Style   Style
	Flow    bool // a list in [ ] or a map in { }
	Pos     Pos  // of the first character; for a block scalar, of the `|`
	Text    string
	Items   []*Node
	Entries []Entry
	// Comment is what follows ` #` on the line of a plain scalar, with the #: a
	// remark, or, in a field that holds a person's words, the part that was cut off.
	Comment string

	wrapped bool // a plain or quoted scalar over several lines
	escaped bool // a double-quoted scalar with escapes, or '' in a single-quoted one
	indent  int  // columns before the text of a block scalar
}

// Entry is one key of a map with its value, in the order written.
type Entry struct{ Key, Value *Node }

// Get is the value under key, or nil.
func (n *Node) Get(key string) *Node {
	if n == nil {
		return nil
	}
	for _, e := range n.Entries {
		if e.Key.Text == key {
			return e.Value
		}
	}
	return nil
}

// Empty says that the node was written with no value at all (`key:`).
func (n *Node) Empty() bool {
	return n == nil || (n.Kind == Scalar && n.Style == Plain && n.Text == "")
}
