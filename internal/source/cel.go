package source

import (
	"strings"
)

// At is the place in the file of a character in a scalar's text: line counts from 1,
// column from 0 in characters, as CEL does. It is exact for what CELText lets through
// and the start of the scalar for all others.
func (n *Node) At(line, column int) Pos {
	p := n.Pos
	switch {
	case n.Style == Block:
		p.Line += line
		p.Column = n.indent + column + 1
	case line != 1 || n.Style == Folded || n.wrapped || n.escaped:
	case n.Style == Plain:
		p.Column += column
	default:
		p.Column += column + 1
	}
	return p
}

// CELText is the text of an expression, or a fault where positions in it would not
// hold or where YAML has made something else of it.
func (n *Node) CELText() (string, *Fault) {
	refuse := func(what, remedy string) (string, *Fault) {
		return "", &Fault{Pos: n.Pos, What: what, Remedy: remedy}
	}
	switch {
	case n.Kind == List && n.Flow:
		return refuse("an expression that starts with [ is a list here", "quote it")
	case n.Kind == Map && n.Flow:
		return refuse("an expression that starts with { is a map here", "quote it")
	case n.Kind != Scalar:
		return refuse("an expression must be one text", "write it on one line, or in a | block")
	case strings.TrimSpace(n.Text) == "":
		return refuse("there is no expression", "write one, or delete the key")
	case n.Style == Folded:
		return refuse("an expression cannot be folded with >", "use | instead of >")
	case n.wrapped:
		return refuse("an expression over several lines would lose its places", "use a | block")
	case n.escaped && n.Style == SingleQuoted:
		return refuse("an expression cannot have '' in quotes", `use a | block, or " inside single quotes`)
	case n.escaped:
		return refuse(`an expression cannot have \ in double quotes`, "use single quotes or a | block")
	}
	return n.Text, nil
}
