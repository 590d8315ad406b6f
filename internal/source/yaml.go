package source

import (
	"bytes"
	"errors"
	"fmt"
	"strings"

	"go.yaml.in/yaml/v4"
)

// What one YAML file may hold. A car's largest document is far below all three.
const (
	MaxYAML   = 1 << 20 // bytes
	maxValues = 50_000  // counted by the marks that can start a value
	maxDepth  = 64      // lists and maps inside each other
)

// maxFaults bounds what is said about one file: past it the file is not what it says it is.
const maxFaults = 50

// ParseYAML reads one document. Every scalar stays text. It refuses, with place and
// remedy, all that would make a file mean something else than it says: repeated keys,
// second documents, anchors, aliases, merges, tags, tabs as indentation, keys that are
// not text. After a syntax error it goes on behind it to find the others; the node is
// then nil. With other faults the node is what could be understood (of a repeated key,
// the first), so that a caller can go on to its own checks.
//
// Lines end in LF or CRLF; columns count characters; a leading byte order mark is no character.
func ParseYAML(file string, data []byte) (*Node, Faults) {
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	if fs := checkText(file, data); len(fs) > 0 {
		return nil, fs.Sorted()
	}
	lines := splitLines(data)
	docs, err := loadYAML(data)
	if err != nil {
		return nil, syntaxFaults(file, lines, err).Sorted()
	}
	b := &builder{file: file, lines: lines, tabs: tabLines(lines)}
	root := b.documents(docs)
	if len(b.faults) == 0 {
		return root, nil
	}
	return root, b.faults.Sorted()
}

// loadYAML gives the documents of a stream as the library's nodes.
func loadYAML(data []byte) (docs []yaml.Node, err error) {
	// The library reports its own mistakes by panicking; a file must not end the program.
	defer func() {
		if r := recover(); r != nil {
			docs, err = nil, fmt.Errorf("the YAML reader gave up: %v", r)
		}
	}()
	err = yaml.Load(data, &docs, yaml.WithV4Defaults(), yaml.WithAllDocuments(), yaml.WithPlugin(limits{}, noAliases{}))
	return docs, err
}

// limits replaces the library's own, which are far wider.
type limits struct{}

var errDepth = errors.New("too deep")

func (limits) CheckDepth(depth int, _ *yaml.DepthContext) error {
	if depth > maxDepth {
		return errDepth
	}
	return nil
}

func (limits) CheckAlias(int, int) error { return nil }

// noAliases lets every alias through as an empty scalar, so that all of them are
// found and refused in one go, known anchor or not.
type noAliases struct{}

func (noAliases) NewAliasDataContext(yaml.AliasDataServices) (yaml.AliasDataContext, error) {
	return noAliases{}, nil
}
func (noAliases) BeginDocument() error                  { return nil }
func (noAliases) EndDocument() error                    { return nil }
func (noAliases) DefineAnchor(string, *yaml.Node) error { return nil }
func (noAliases) ResolveAlias(string) (*yaml.Node, bool, error) {
	return &yaml.Node{Kind: yaml.ScalarNode, Tag: "!!str"}, true, nil
}

// builder turns the library's nodes into ours.
type builder struct {
	file   string
	lines  []string
	tabs   map[int]int // lines with a tab in their indentation, and its column
	faults Faults

	nodes   []Node  // one allocation for all
	entries []Entry // the same for entries
	items   []*Node

	// The last place looked up: nodes come in the order of the file, so that
	// finding a column in a long line stays linear over the file.
	line, column, offset int
}

func (b *builder) documents(docs []yaml.Node) *Node {
	if len(docs) == 0 || len(docs[0].Content) == 0 {
		b.fault(Pos{File: b.file, Line: 1, Column: 1}, "there is nothing in this file", "write its keys, or delete the file")
		return nil
	}
	for i := range docs[1:] {
		d := &docs[i+1]
		b.fault(b.pos(d.Line, d.Column), "a second document starts here", "delete the --- line, or put the rest in a file of its own")
	}
	var nodes, entries, items int
	count(docs[0].Content[0], &nodes, &entries, &items)
	b.nodes, b.entries, b.items = make([]Node, 0, nodes), make([]Entry, 0, entries), make([]*Node, 0, items)
	return b.node(docs[0].Content[0])
}

func count(n *yaml.Node, nodes, entries, items *int) {
	*nodes++
	switch n.Kind {
	case yaml.MappingNode:
		*entries += len(n.Content) / 2
	case yaml.SequenceNode:
		*items += len(n.Content)
	}
	for _, c := range n.Content {
		count(c, nodes, entries, items)
	}
}

// fault notes a fault unless there are more than anyone reads.
func (b *builder) fault(pos Pos, what, remedy string) {
	if len(b.faults) < maxFaults {
		b.faults.Add(pos, what, remedy)
	}
}

func (b *builder) pos(line, column int) Pos { return Pos{File: b.file, Line: line, Column: column} }

func (b *builder) node(y *yaml.Node) *Node {
	b.nodes = append(b.nodes, Node{Pos: b.pos(y.Line, y.Column), Flow: y.Style&yaml.FlowStyle != 0})
	n := &b.nodes[len(b.nodes)-1]
	if column := b.tabs[y.Line]; column != 0 {
		b.fault(b.pos(y.Line, column), "a tab is used as indentation", "use spaces")
		delete(b.tabs, y.Line)
	}
	switch {
	case y.Kind == yaml.AliasNode:
		b.fault(n.Pos, fmt.Sprintf("*%s is an alias here", y.Value), "quote it, or write the repeated value out")
		return n
	case y.Style&yaml.TaggedStyle != 0 && strings.HasPrefix(y.Tag, "!!"):
		b.fault(n.Pos, y.Tag+" is a tag", "delete it; every value is kept as the text written, and quotes do the rest")
	case y.Style&yaml.TaggedStyle != 0 || y.Tag == "!":
		b.fault(n.Pos, y.Tag+" is a tag here, not an expression", "quote it")
	case y.Anchor != "":
		b.fault(n.Pos, fmt.Sprintf("&%s is an anchor here", y.Anchor), "quote it, or write the repeated value out")
	}
	switch y.Kind {
	case yaml.MappingNode:
		n.Kind = Map
		n.Entries = b.mapping(y)
	case yaml.SequenceNode:
		n.Kind = List
		start := len(b.items)
		b.items = b.items[:start+len(y.Content)]
		n.Items = b.items[start:len(b.items):len(b.items)]
		for i, c := range y.Content {
			n.Items[i] = b.node(c)
		}
	default:
		b.scalar(n, y)
	}
	return n
}

// mapping gives the entries of a map, of a repeated key only the first.
func (b *builder) mapping(y *yaml.Node) []Entry {
	start := len(b.entries)
	b.entries = b.entries[:start+len(y.Content)/2]
	entries := b.entries[start:start:len(b.entries)]
	var seen map[string]*Node // small maps are searched, large ones indexed
	if len(y.Content) > 32 {
		seen = make(map[string]*Node, len(y.Content)/2)
	}
	for i := 0; i+1 < len(y.Content); i += 2 {
		k, v := y.Content[i], y.Content[i+1]
		e := Entry{Key: b.node(k), Value: b.node(v)}
		switch {
		case k.Kind == yaml.AliasNode:
			continue
		case k.Kind != yaml.ScalarNode:
			b.fault(e.Key.Pos, "a key must be text", "write `name: value`; quote an expression that starts with [ or {")
			continue
		case e.Key.Empty():
			b.fault(e.Key.Pos, "there is no key before this value", "write `name: value`, or quote the text")
			continue
		case e.Key.Style == Plain && e.Key.Text == "<<":
			b.fault(e.Key.Pos, "<< would merge another map into this one", "write the keys out")
			continue
		}
		if first := repeated(entries, seen, e.Key.Text); first != nil {
			b.fault(e.Key.Pos, fmt.Sprintf("key %q was already written in line %d", e.Key.Text, first.Pos.Line), "keep one of the two")
			continue
		}
		if seen != nil {
			seen[e.Key.Text] = e.Key
		}
		entries = append(entries, e)
	}
	return entries
}

// repeated is the earlier key of the same text, or nil.
func repeated(entries []Entry, seen map[string]*Node, key string) *Node {
	if seen != nil {
		return seen[key]
	}
	for _, e := range entries {
		if e.Key.Text == key {
			return e.Key
		}
	}
	return nil
}

func (b *builder) scalar(n *Node, y *yaml.Node) {
	n.Text = y.Value
	switch {
	case y.Style&yaml.SingleQuotedStyle != 0:
		n.Style = SingleQuoted
	case y.Style&yaml.DoubleQuotedStyle != 0:
		n.Style = DoubleQuoted
	case y.Style&yaml.LiteralStyle != 0:
		n.Style = Block
		n.indent = b.blockIndent(n)
		return
	case y.Style&yaml.FoldedStyle != 0:
		n.Style = Folded
		return
	}
	if n.Pos.Line > len(b.lines) || n.Style == Plain && n.Text == "" {
		return
	}
	rest := b.rest(n.Pos.Line, n.Pos.Column)
	if n.Style == Plain {
		after, oneLine := strings.CutPrefix(rest, n.Text)
		n.wrapped = !oneLine
		if c := strings.TrimLeft(after, " \t"); oneLine && c != after && strings.HasPrefix(c, "#") {
			n.Comment = strings.TrimRight(c, " \t")
		}
		return
	}
	inner, quote := rest[min(1, len(rest)):], "'"
	if n.Style == DoubleQuoted {
		quote = `"`
	}
	if strings.HasPrefix(inner, n.Text) && strings.HasPrefix(inner[len(n.Text):], quote) && !strings.Contains(n.Text, quote) {
		return
	}
	end := strings.LastIndex(inner, quote)
	n.wrapped = end < 0 || strings.Contains(n.Text, "\n") && !strings.Contains(inner, `\`)
	n.escaped = !n.wrapped
}

// blockIndent is how many columns stand before the text of a `|` block.
func (b *builder) blockIndent(n *Node) int {
	blank := len(n.Text) - len(strings.TrimLeft(n.Text, "\n"))
	at := n.Pos.Line + blank // 0-based: the line after the header and the blank ones
	if at >= len(b.lines) {
		return 0
	}
	line, text := b.lines[at], n.Text[blank:]
	return max(0, leading(line)-leading(text))
}

func leading(s string) int { return len(s) - len(strings.TrimLeft(s, " ")) }

// rest is what stands in a line from a column on.
func (b *builder) rest(line, column int) string {
	s := b.lines[line-1]
	if line != b.line || column < b.column {
		b.line, b.column, b.offset = line, 1, 0
	}
	for i := range s[b.offset:] {
		if b.column == column {
			b.offset += i
			return s[b.offset:]
		}
		b.column++
	}
	b.line = 0
	return ""
}

// tabLines finds the lines with a tab in front of their text. The library lets them
// pass inside [ ] and { }; in the text of a | block they are harmless.
func tabLines(lines []string) map[int]int {
	var tabs map[int]int
	for i, l := range lines {
		if at := leading(l); at < len(l) && l[at] == '\t' {
			if tabs == nil {
				tabs = map[int]int{}
			}
			tabs[i+1] = at + 1
		}
	}
	return tabs
}

// splitLines gives the lines without their ends.
func splitLines(data []byte) []string {
	lines := strings.Split(string(data), "\n")
	for i, l := range lines {
		lines[i] = strings.TrimSuffix(l, "\r")
	}
	return lines
}
