package car

import (
	"bytes"
	"errors"
	"strings"
	"unicode/utf8"

	"github.com/paintmark/paintmark/internal/source"
)

// splice writes single values into the text of a document and leaves all the rest alone.
type splice struct {
	text  []byte
	start []int // of each line
}

func newSplice(text []byte) *splice {
	s := &splice{text: text}
	at := 0
	if bytes.HasPrefix(text, []byte("\xef\xbb\xbf")) {
		at = 3 // the mark is no character of the first line
	}
	s.start = append(s.start, at)
	for i, c := range text {
		if c == '\n' {
			s.start = append(s.start, i+1)
		}
	}
	return s
}

// offset is where in the text a place is; columns count characters.
func (s *splice) offset(p source.Pos) int {
	at := s.start[p.Line-1]
	for range p.Column - 1 {
		_, n := utf8.DecodeRune(s.text[at:])
		at += n
	}
	return at
}

// set gives the text with a value at a path of a map, written over the old value or put in.
func (s *splice) set(in *source.Node, path []string, value string) ([]byte, error) {
	node := in
	for i, key := range path {
		switch next := node.Get(key); {
		case node.Kind == source.Scalar: // unknown, until now
			return s.over(node, nested(path[i:], value, true))
		case node.Kind != source.Map:
			return nil, errors.New("there is a list")
		case next == nil:
			return s.insert(node, path[i:], value)
		default:
			node = next
		}
	}
	return s.over(node, value)
}

// nested writes a value under its keys: a: {b: value}.
func nested(path []string, value string, inside bool) string {
	out := value
	for i := len(path) - 1; i >= 0; i-- {
		out = path[i] + ": " + out
		if i > 0 || inside {
			out = "{" + out + "}"
		}
	}
	return out
}

// over replaces a value.
func (s *splice) over(n *source.Node, value string) ([]byte, error) {
	from := s.offset(n.Pos)
	to, err := s.end(n)
	if err != nil {
		return nil, err
	}
	return s.cut(from, to, value), nil
}

func (s *splice) cut(from, to int, value string) []byte {
	return append(append(append([]byte{}, s.text[:from]...), value...), s.text[to:]...)
}

// insert puts a key into a map: after its first, since that one names the whole.
func (s *splice) insert(n *source.Node, path []string, value string) ([]byte, error) {
	line := nested(path, value, false)
	if len(n.Entries) == 0 {
		at := s.offset(n.Pos) + 1 // after the {
		return s.cut(at, at, line), nil
	}
	before := n.Entries[min(1, len(n.Entries)-1)].Key
	at := s.offset(before.Pos)
	if n.Flow {
		return s.cut(at, at, line+", "), nil
	}
	end := "\n"
	if bytes.Contains(s.text, []byte("\r\n")) {
		end = "\r\n"
	}
	return s.cut(at, at, line+end+strings.Repeat(" ", before.Pos.Column-1)), nil
}

// end is where a value ends in the text.
func (s *splice) end(n *source.Node) (int, error) {
	from := s.offset(n.Pos)
	switch {
	case n.Kind == source.Scalar && n.Style == source.Plain:
		if !bytes.HasPrefix(s.text[from:], []byte(n.Text)) {
			return 0, errors.New("it goes over several lines; write it on one")
		}
		return from + len(n.Text), nil
	case n.Kind == source.Scalar && (n.Style == source.SingleQuoted || n.Style == source.DoubleQuoted):
		return s.quoted(from)
	case n.Kind == source.List && !n.Flow && len(n.Items) > 0:
		return s.end(n.Items[len(n.Items)-1])
	case n.Flow:
		return s.bracketed(from)
	}
	return 0, errors.New("it is more than one value; change it in an editor, under the next revision")
}

// quoted is where a quoted text ends.
func (s *splice) quoted(from int) (int, error) {
	quote := s.text[from]
	for i := from + 1; i < len(s.text); i++ {
		switch c := s.text[i]; {
		case c == '\\' && quote == '"':
			i++
		case c == quote && quote == '\'' && i+1 < len(s.text) && s.text[i+1] == quote:
			i++
		case c == quote:
			return i + 1, nil
		}
	}
	return 0, errors.New("its quote does not end")
}

// bracketed is where a list in [ ] or a map in { } ends.
func (s *splice) bracketed(from int) (int, error) {
	deep := 0
	for i := from; i < len(s.text); i++ {
		switch c := s.text[i]; {
		case c == '[' || c == '{':
			deep++
		case c == ']' || c == '}':
			if deep--; deep == 0 {
				return i + 1, nil
			}
		case (c == '"' || c == '\'') && strings.ContainsRune("[{,: \n", rune(s.text[i-1])):
			end, err := s.quoted(i)
			if err != nil {
				return 0, err
			}
			i = end - 1
		case c == '#' && (s.text[i-1] == ' ' || s.text[i-1] == '\n'):
			for i+1 < len(s.text) && s.text[i+1] != '\n' {
				i++
			}
		}
	}
	return 0, errors.New("its bracket does not end")
}
