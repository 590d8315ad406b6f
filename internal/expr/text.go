package expr

import (
	"strings"
	"unicode"

	"github.com/paintmark/paintmark/internal/source"
)

// text is one expression as written, with its place in the file. Offsets count
// characters, as CEL's do.
type text struct {
	at  *source.Node
	src []rune
}

// pos is the place in the file of the character at an offset.
func (t *text) pos(off int) source.Pos {
	line, col := 1, 0
	for _, r := range t.src[:min(max(off, 0), len(t.src))] {
		col++
		if r == '\n' {
			line, col = line+1, 0
		}
	}
	return t.at.At(line, col)
}

// where is the place of the first character of a sub-expression.
func (t *text) where(n *node) source.Pos { return t.pos(t.from(n)) }

// nameAt is the place of the name of a field, or of the operator or function of a call.
func (t *text) nameAt(n *node) source.Pos {
	off := n.off
	switch n.kind {
	case fieldNode:
		for off < len(t.src) && (t.src[off] == '.' || unicode.IsSpace(t.src[off])) {
			off++
		}
	case callNode:
		off = t.callName(n)
	}
	return t.pos(off)
}

// callName is where the name of a called function starts; for an operator, where it stands.
func (t *text) callName(n *node) int {
	off := n.off
	if off >= len(t.src) || t.src[off] != '(' {
		return off
	}
	for off > 0 && unicode.IsSpace(t.src[off-1]) {
		off--
	}
	for off > 0 && (inName(t.src[off-1]) || t.src[off-1] == '.' && !n.member) {
		off--
	}
	return off
}

func inName(r rune) bool {
	return r == '_' || r >= '0' && r <= '9' || r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z'
}

// from is the offset of the first character of a sub-expression, without brackets around it.
func (t *text) from(n *node) int {
	off := n.off
	if n.kind == callNode || n.kind == foldNode {
		off = t.callName(n)
	}
	if n.kind == foldNode {
		return min(off, t.from(n.fold.over))
	}
	for _, k := range n.kids {
		off = min(off, t.from(k))
	}
	return off
}

// to is the offset just after a sub-expression.
func (t *text) to(n *node) int {
	if n.off < len(t.src) {
		switch t.src[n.off] {
		case '(', '[', '{':
			return t.closing(n.off)
		}
	}
	end := n.off
	switch n.kind {
	case litNode:
		return t.literalEnd(n.off)
	case fieldNode:
		for end < len(t.src) && (t.src[end] == '.' || unicode.IsSpace(t.src[end])) {
			end++
		}
		if end < len(t.src) && t.src[end] == '`' {
			for end++; end < len(t.src) && t.src[end] != '`'; end++ {
			}
			return min(end+1, len(t.src))
		}
		fallthrough
	case nameNode:
		for end < len(t.src) && inName(t.src[end]) {
			end++
		}
		return end
	}
	for _, k := range n.kids {
		end = max(end, t.to(k))
	}
	return end
}

// closing is the offset after the bracket that closes the one at off.
func (t *text) closing(off int) int {
	depth := 0
	for i := off; i < len(t.src); i++ {
		switch t.src[i] {
		case '(', '[', '{':
			depth++
		case ')', ']', '}':
			if depth--; depth == 0 {
				return i + 1
			}
		case '"', '\'':
			i = t.literalEnd(i) - 1
		case '/':
			if i+1 < len(t.src) && t.src[i+1] == '/' {
				for i < len(t.src) && t.src[i] != '\n' {
					i++
				}
			}
		}
	}
	return len(t.src)
}

// literalEnd is the offset after the literal that starts at off.
func (t *text) literalEnd(off int) int {
	i := off
	raw := false
	for i < len(t.src) && strings.ContainsRune("rRbB", t.src[i]) && i+1 < len(t.src) && strings.ContainsRune(`"'rRbB`, t.src[i+1]) {
		raw = raw || t.src[i] == 'r' || t.src[i] == 'R'
		i++
	}
	if i >= len(t.src) {
		return len(t.src)
	}
	q := t.src[i]
	if q != '"' && q != '\'' {
		if q == '-' {
			i++
		}
		for i < len(t.src) && (inName(t.src[i]) || t.src[i] == '.' || (t.src[i] == '-' || t.src[i] == '+') && strings.ContainsRune("eE", t.src[i-1]) && t.src[off] != '0') {
			i++
		}
		return i
	}
	quotes := 1
	if i+2 < len(t.src) && t.src[i+1] == q && t.src[i+2] == q {
		quotes = 3
	}
	for i += quotes; i < len(t.src); i++ {
		if t.src[i] == '\\' && !raw {
			i++
			continue
		}
		if t.src[i] == q && (quotes == 1 || i+2 < len(t.src) && t.src[i+1] == q && t.src[i+2] == q) {
			return i + quotes
		}
	}
	return len(t.src)
}

// written is a sub-expression as written, on one line, with the brackets it needs.
func (t *text) written(n *node) string {
	from, to := t.from(n), t.to(n)
	for range 64 { // an operand in brackets leaves them half outside its span
		open := 0
		low := 0
		for i := from; i < to; i++ {
			switch t.src[i] {
			case '(', '[', '{':
				open++
			case ')', ']', '}':
				open--
				low = min(low, open)
			case '"', '\'':
				i = t.literalEnd(i) - 1
			}
		}
		switch {
		case low < 0 && from > 0:
			for from--; from > 0 && t.src[from] != '(' && t.src[from] != '[' && t.src[from] != '{'; from-- {
			}
			continue
		case open > 0 && to < len(t.src):
			for to++; to < len(t.src) && t.src[to-1] != ')' && t.src[to-1] != ']' && t.src[to-1] != '}'; to++ {
			}
			continue
		}
		break
	}
	return strings.Join(strings.Fields(string(t.src[from:min(to, len(t.src))])), " ")
}
