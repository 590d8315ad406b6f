package source

import (
	"errors"
	"fmt"
	"strings"

	"go.yaml.in/yaml/v4"
)

// maxSyntax bounds how often reading starts again behind a syntax error.
const maxSyntax = 12

// syntaxFaults words a syntax error, takes the lines it spoils out of the text, and
// reads the rest for the next one. What the rest holds is checked too.
func syntaxFaults(file string, lines []string, err error) Faults {
	var fs Faults
	left := append([]string(nil), lines...)
	for range maxSyntax {
		s := newSyntaxError(lines, err)
		f := s.fault(file)
		fs = append(fs, f)
		if errors.Is(err, errDepth) || !blank(left, s.spoiled(f.Pos.Line)) {
			break // no way on
		}
		var docs []yaml.Node
		if docs, err = loadYAML([]byte(strings.Join(left, "\n"))); err == nil {
			if len(docs) > 0 {
				b := &builder{file: file, lines: left}
				b.documents(docs)
				fs = append(fs, b.faults...)
			}
			break
		}
	}
	return fs[:min(len(fs), maxFaults)]
}

// blank empties a line, those indented under it and the brackets that close behind them;
// false if there was nothing to empty.
func blank(lines []string, first int) bool {
	if first < 1 || first > len(lines) || lines[first-1] == "" {
		return false
	}
	depth := leading(lines[first-1])
	lines[first-1] = ""
	for i := first; i < len(lines); i++ {
		under := leading(lines[i]) > depth || strings.HasPrefix(lines[i], "\t")
		if strings.Trim(lines[i], " ]},") != "" && !under {
			break
		}
		lines[i] = ""
	}
	return true
}

// syntaxError is an error of the library with the text around it.
type syntaxError struct {
	err          error
	message      string // the library's words
	context      string
	lines        []string
	line, column int // 1-based; 0 where the library gives none
	fromLine     int // where the thing began that went wrong
	fromColumn   int
}

func newSyntaxError(lines []string, err error) syntaxError {
	s := syntaxError{err: err, message: err.Error(), lines: lines}
	var le *yaml.LoadError
	if errors.As(err, &le) {
		s.message, s.context = le.Message, le.ContextMsg
		s.line, s.column = le.Mark.Line, le.Mark.Column
		s.fromLine, s.fromColumn = le.ContextMark.Line, le.ContextMark.Column
		if s.line > len(lines) { // the library ends every file with a line break
			s.line = len(lines)
			s.column = len([]rune(lines[s.line-1])) + 1
		}
	}
	return s
}

// spoiled is the first line that a fault found in a line makes unreadable: that of the
// bracket around it.
func (s *syntaxError) spoiled(line int) int {
	if strings.Contains(s.context, "flow") && s.fromLine > 0 {
		return min(line, s.fromLine)
	}
	return line
}

// text is a line; "" where there is none.
func (s *syntaxError) text(line int) string {
	if line < 1 || line > len(s.lines) {
		return ""
	}
	return s.lines[line-1]
}

// split cuts a line in front of a column counted in characters.
func split(text string, column int) (before, after string) {
	for i := range text {
		if column--; column == 0 {
			return text[:i], text[i:]
		}
	}
	return text, ""
}

// fault says in plain words what the library met, and what to type instead.
func (s *syntaxError) fault(file string) Fault {
	at := Pos{File: file, Line: s.line, Column: s.column}
	from := Pos{File: file, Line: s.fromLine, Column: s.fromColumn}
	if from.Line == 0 {
		from = at
	}
	before, after := split(s.text(s.line), s.column)
	says := func(part string) bool { return strings.Contains(s.message, part) }
	switch {
	case errors.Is(s.err, errDepth) || says(errDepth.Error()):
		return Fault{at, fmt.Sprintf("more than %d lists or maps inside each other", maxDepth), "write it flatter"}
	case strings.HasPrefix(after, "\t") && (says("cannot start any token") || says("tab")):
		return Fault{at, "a tab is used as indentation", "use spaces"}
	case says("mapping values are not allowed"):
		return s.secondColon(at, before)
	case says("block sequence entries are not allowed"):
		return Fault{at, "`- ` starts a list item here", "no space after the minus; a list goes on lines of its own or in [ ]"}
	case says("mapping keys are not allowed"):
		return Fault{at, "`? ` starts a key here", "quote it"}
	case says("cannot start any token") && after != "":
		return Fault{at, fmt.Sprintf("a plain value cannot start with %s", quoted(firstRune(after))), "quote it"}
	case strings.Contains(s.context, "scanning an alias"), strings.Contains(s.context, "scanning an anchor"):
		start, tail := s.valueStart(from)
		return Fault{start, fmt.Sprintf("a plain value cannot start with %s", quoted(firstRune(tail))), "quote it"}
	case strings.Contains(s.context, "tag") || says("tag handle"):
		start, _ := s.valueStart(from)
		return Fault{start, "a plain value cannot start with `!`: that is a tag", "quote it"}
	case strings.Contains(s.context, "block scalar"):
		if _, tail := split(s.text(from.Line), from.Column); strings.HasPrefix(tail, ">") {
			return Fault{from, "a plain value cannot start with `>`", "quote it"}
		}
		return Fault{at, "there is more on the line of the `|`", "start the text on the next line, indented"}
	case strings.Contains(s.context, "quoted scalar") && says("escape"):
		return Fault{at, "this \\ is no escape that YAML knows", `use single quotes, or write \\`}
	case strings.Contains(s.context, "quoted scalar"):
		return Fault{from, "a quote opens here and is not closed", "close it; for one quote sign in the text use the other kind around it"}
	case says("did not find expected ',' or"):
		return s.insideFlow(at, from, before, after)
	case says("did not find expected key"), says("did not find expected '-'"):
		return s.strayText(at, before, after)
	case says("did not find expected node content") && after == "":
		return Fault{at, "the file ends where a value was to come", "write the value, or close what is open"}
	case says("did not find expected node content"):
		return Fault{at, fmt.Sprintf("a value cannot start with %s", quoted(firstRune(after))), "quote it, or write the missing value"}
	case says("could not find expected ':'"):
		if _, tail := split(s.text(from.Line), from.Column); strings.HasPrefix(tail, "-") {
			return Fault{from, "there is no space after this dash", "write `- item`"}
		}
		return Fault{from, "this line has no `: `", "write `name: value`; indent text that goes on under a |"}
	case strings.Contains(s.context, "directive"), says("incompatible YAML document"), says("directive"):
		return Fault{Pos{File: file, Line: s.line, Column: 1}, "a line that starts with `%` is an order to the YAML reader", "delete it, or quote the text"}
	case says("did not find expected <document start>"):
		return Fault{at, "this does not belong to what stands above", "indent it like its neighbours, or quote the whole value"}
	}
	what := strings.TrimSpace(s.message)
	if s.context != "" {
		what += " " + s.context
	}
	return Fault{at, "YAML cannot read this: " + what, "quote the value, or use a | block"}
}

// valueStart is where the value begins that holds a place, and the text from there.
func (s *syntaxError) valueStart(at Pos) (Pos, string) {
	before, after := split(s.text(at.Line), at.Column)
	start := max(strings.LastIndex(before, ": ")+2, strings.LastIndex(before, ", ")+2, strings.LastIndex(before, "- ")+2)
	if start < 2 || strings.TrimSpace(before[start:]) == "" {
		return at, after
	}
	start += leading(before[start:])
	at.Column = len([]rune(before[:start])) + 1
	return at, before[start:] + after
}

func firstRune(s string) string {
	for _, r := range s {
		return string(r)
	}
	return ""
}

// secondColon tells the three ways apart in which a colon ends up where no value can follow.
func (s *syntaxError) secondColon(at Pos, before string) Fault {
	if strings.Contains(before, ": ") || strings.HasSuffix(before, ":") {
		return Fault{at, "`: ` inside a plain value starts a value of its own", "use a | block or quotes"}
	}
	for l := s.line - 1; l > 0; l-- {
		above := s.text(l)
		if strings.TrimSpace(above) == "" || strings.HasPrefix(strings.TrimSpace(above), "#") {
			continue
		}
		name, _, colon := strings.Cut(above, ":")
		if !colon && leading(above) == leading(before) {
			return Fault{
				Pos{File: at.File, Line: l, Column: leading(above) + 1},
				"this line has no `: `", "write `name: value`; indent text that goes on under a |",
			}
		}
		if colon && leading(above) <= leading(before) && !strings.Contains(above, ": ") && !strings.HasSuffix(above, ":") {
			return Fault{
				Pos{File: at.File, Line: l, Column: len([]rune(name)) + 1},
				"there is no space after this colon", "write `name: value`",
			}
		}
		break
	}
	return Fault{
		Pos{File: at.File, Line: at.Line, Column: leading(before) + 1},
		"this line is indented under one that already has a value", "indent it like its neighbours",
	}
}

// insideFlow words an error inside [ ] or { }.
func (s *syntaxError) insideFlow(at, from Pos, before, after string) Fault {
	open, what := "[", "list"
	if strings.Contains(s.context, "mapping") {
		open, what = "{", "map"
	}
	_, opened := split(s.text(from.Line), from.Column)
	if strings.HasPrefix(opened, "{") {
		open, what = "{", "map"
	}
	if at.Line > from.Line && leading(s.text(at.Line)) > leading(s.text(from.Line)) {
		return Fault{Pos{File: at.File, Line: at.Line, Column: leading(before) + 1}, fmt.Sprintf("inside %s there is no comma before this line", open), "end the line above with one"}
	}
	if at.Line == from.Line && at.Column > from.Column && strings.HasPrefix(after, ":") {
		return Fault{at, "`: ` inside a plain value starts a value of its own", "put the whole value in quotes"}
	}
	if at.Line == from.Line && strings.TrimSpace(before) != "" && at.Column > from.Column {
		return Fault{at, fmt.Sprintf("a value inside %s was already at its end here", open), "put the whole value in quotes"}
	}
	if strings.Contains(opened, " #") {
		return Fault{from, fmt.Sprintf("the %s that %s opens here is not closed: ` #` starts a comment", what, open), "put text with ` #` in quotes"}
	}
	return Fault{from, fmt.Sprintf("the %s that %s opens here is not closed", what, open), "close it; put text with brackets, commas or ` #` in quotes"}
}

// strayText words text behind a complete value, or a line that is out of line.
func (s *syntaxError) strayText(at Pos, before, after string) Fault {
	value := strings.TrimRight(before, " ")
	if strings.TrimSpace(before) != "" && value != "" {
		last := value[len(value)-1]
		switch last {
		case '"', '\'':
			if opened := s.quoteOpened(last, before); opened.Line != 0 {
				opened.File = at.File
				return Fault{opened, fmt.Sprintf("the quote that opens here ends only in line %d", at.Line), "close it on its own line"}
			}
			return Fault{at, "there is more after the closing quote", "quote the whole value, or use a | block"}
		case ']', '}':
			return Fault{at, fmt.Sprintf("there is more after the closing %c", last), "quote the whole value, or use a | block"}
		}
	}
	if strings.HasPrefix(after, "- ") || after == "-" {
		return Fault{at, "a list item stands among the keys of a map", "indent it under its key"}
	}
	return Fault{at, "this line does not line up with those above", "indent it like its neighbours"}
}

// quoteOpened is where a quote was opened that ends at the end of before: an earlier
// line with an odd number of such quotes; the zero Pos where it is the same line.
func (s *syntaxError) quoteOpened(quote byte, before string) Pos {
	q := string(quote)
	if strings.Count(before, q)%2 == 0 {
		return Pos{}
	}
	for l := s.line - 1; l > 0; l-- {
		if t := s.text(l); strings.Count(t, q)%2 == 1 {
			return Pos{Line: l, Column: len([]rune(t[:strings.LastIndex(t, q)])) + 1}
		}
	}
	return Pos{}
}
