package expr

import (
	"strconv"
	"strings"

	"github.com/google/cel-go/common"

	"github.com/paintmark/paintmark/internal/source"
)

// parseFaults rewrites what CEL's parser says. Only the first: what follows a slip of
// the pen is seldom worth reading.
func (e *Env) parseFaults(t *text, errs *common.Errors) source.Faults {
	first := errs.GetErrors()[0]
	for _, err := range errs.GetErrors() {
		if l := err.Location; l.Line() < first.Location.Line() || l.Line() == first.Location.Line() && l.Column() < first.Location.Column() {
			first = err
		}
	}
	what, remedy := parseWords(strings.TrimPrefix(first.Message, "Syntax error: "))
	pos := t.at.At(first.Location.Line(), first.Location.Column())
	if first.Location.Line() < 1 {
		pos = t.pos(0)
	}
	return source.Faults{{Pos: pos, What: what, Remedy: remedy}}
}

var quotedToken = source.Form(`(?s)'(.+?)'(?: expecting|$)`)

func parseWords(msg string) (what, remedy string) {
	token := ""
	if m := quotedToken().FindStringSubmatch(msg); m != nil {
		token = strings.TrimSpace(m[1])
	}
	switch {
	case strings.Contains(msg, "'<EOF>'"), strings.Contains(msg, "at input '<EOF>'"):
		missing := "close every bracket and finish the last comparison"
		if strings.HasSuffix(msg, "expecting ':'") {
			missing = "a condition wants both answers: p ? a : b"
		}
		return "the expression ends too early", missing
	case strings.HasPrefix(msg, "token recognition error at: "):
		token = strings.TrimSpace(strings.Trim(strings.TrimPrefix(msg, "token recognition error at: "), "'"))
		switch {
		case token == "&":
			return "`&` is not an operator", "write &&"
		case token == "|":
			return "`|` is not an operator", "write ||"
		case token == "=":
			return "`=` is not an operator", "write == to compare"
		case strings.HasPrefix(msg, "token recognition error at: ''") || strings.HasPrefix(msg, `token recognition error at: '"`):
			return "a text in quotes is not closed", "close the quotes"
		}
		return "`" + token + "` means nothing in an expression", "delete it"
	case strings.HasPrefix(msg, "reserved identifier: "):
		return "`" + strings.TrimPrefix(msg, "reserved identifier: ") + "` is a CEL word and names nothing", "use another name"
	case strings.Contains(msg, "extraneous input"), strings.Contains(msg, "mismatched input"), strings.Contains(msg, "no viable alternative"):
		if token == "and" || token == "or" || token == "not" {
			return "`" + token + "` is not an operator", "write " + map[string]string{"and": "&&", "or": "||", "not": "!"}[token]
		}
		return "`" + token + "` is not expected here", "an operator or a bracket before it may be missing"
	case strings.Contains(msg, "lookahead limit"), strings.Contains(msg, "recovery"):
		return "the expression cannot be read", "look for brackets or quotes left open"
	case strings.Contains(msg, "recursion"), strings.Contains(msg, "nesting"):
		return "the expression is nested too deep", "split it with a derived name, or into two rules"
	case strings.Contains(msg, "exceeds limit"):
		return "the expression is too long", "at most " + strconv.Itoa(maxCharacters) + " characters and " + strconv.Itoa(maxNodes) + " parts; split it into two rules"
	case strings.Contains(msg, "argument must be a simple name"), strings.Contains(msg, "argument is not an identifier"):
		return "the first argument of all(), exists(), map() and filter() is a new name", "such as car.corners.all(c, c.camber < deg(0.0))"
	case strings.Contains(msg, "invalid argument to has()"):
		return "has() is not used in rules: it could switch one off", "write the value itself: an absent one gives no data"
	}
	return strings.ToLower(msg[:1]) + msg[1:], ""
}
