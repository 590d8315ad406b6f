package report

import (
	"fmt"
	"io"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/fatih/color"
)

// The columns of a line, counted from 0. Numbers end at have, limit and inHand.
const (
	width     = 80
	itemStart = 5
	itemEnd   = 36
	haveEnd   = 45
	limitEnd  = 56
	inHandEnd = 66
	whoStart  = 68
	indent    = 7
)

// Colour only adds: take it away and every word is still there.
var (
	stop  = color.New(color.FgRed, color.Bold)
	mind  = color.New(color.FgYellow, color.Bold)
	clear = color.New(color.FgGreen, color.Bold)
	title = color.New(color.Bold)
)

// ColourWanted says whether colour may be added to what is printed on stdout: it is a
// terminal, and neither NO_COLOR nor a dumb terminal speaks against it.
func ColourWanted() bool { return !color.NoColor }

// page collects lines of at most 80 columns.
type page struct {
	lines  []string
	colour bool
}

func (p *page) line(s string) { p.lines = append(p.lines, strings.TrimRight(s, " ")) }

func (p *page) blank() {
	if n := len(p.lines); n > 0 && p.lines[n-1] != "" {
		p.lines = append(p.lines, "")
	}
}

// paint adds c to s where colour is wanted. fatih/color decides for the whole process;
// here the caller has decided.
func (p *page) paint(c *color.Color, s string) string {
	if !p.colour || s == "" {
		return s
	}
	painted := *c
	painted.EnableColor()
	return painted.Sprint(s)
}

// row prints an item with its numbers; what does not fit its column goes on below.
func (p *page) row(item, have, limit, inHand, who string) {
	first, rest := item, ""
	if have != "" || limit != "" || inHand != "" {
		first, rest = cut(item, room(have, limit, inHand)-itemStart)
	} else if who != "" {
		first, rest = cut(item, whoStart-2-itemStart)
	}
	var b columns
	b.at(itemStart, first)
	b.endAt(haveEnd, have)
	b.endAt(limitEnd, limit)
	b.endAt(inHandEnd, inHand)
	b.at(min(whoStart, width-utf8.RuneCountInString(who)), who)
	p.line(b.String())
	if rest != "" {
		p.text(itemStart, rest)
	}
}

// room is the column the first number starts in, less a space.
func room(have, limit, inHand string) int {
	switch {
	case have != "":
		return min(itemEnd, haveEnd-utf8.RuneCountInString(have)-1)
	case limit != "":
		return limitEnd - utf8.RuneCountInString(limit) - 1
	default:
		return inHandEnd - utf8.RuneCountInString(inHand) - 1
	}
}

// text prints words wrapped between from and the right edge.
func (p *page) text(from int, words string) {
	for words != "" {
		var head string
		head, words = cut(words, width-from)
		p.line(strings.Repeat(" ", from) + head)
	}
}

// hanging is text whose first line starts further left than the rest.
func (p *page) hanging(first, rest int, words string) {
	head, more := cut(words, width-first)
	p.line(strings.Repeat(" ", first) + head)
	p.text(rest, more)
}

// list prints a title and entries after it, three spaces apart; an entry stays on one line
// where it fits one.
func (p *page) list(name string, entries []string) {
	const start = 22
	if len(entries) == 0 {
		return
	}
	var lines []string
	line := ""
	for _, e := range entries {
		if line != "" && start+utf8.RuneCountInString(line)+3+utf8.RuneCountInString(e) > width {
			lines, line = append(lines, line), ""
		}
		if line != "" {
			line += "   "
		}
		line += e
		for utf8.RuneCountInString(line) > width-start {
			head, rest := cut(line, width-start)
			if rest == "" {
				break
			}
			lines, line = append(lines, head), "  "+rest
		}
	}
	for i, l := range append(lines, line) {
		if i == 0 {
			p.line(p.paint(title, name) + strings.Repeat(" ", start-utf8.RuneCountInString(name)) + l)
		} else {
			p.line(strings.Repeat(" ", start) + l)
		}
	}
}

func (p *page) write(w io.Writer) error {
	_, err := fmt.Fprintln(w, strings.Join(p.lines, "\n"))
	return err
}

// columns builds one line by columns; a word that would run into the one before is set a space after it.
type columns struct{ b []rune }

func (c *columns) at(col int, s string) {
	if s == "" {
		return
	}
	if n := len(c.b); n > 0 && col <= n {
		col = n + 1
	}
	for len(c.b) < col {
		c.b = append(c.b, ' ')
	}
	c.b = append(c.b, []rune(s)...)
}

func (c *columns) endAt(col int, s string) { c.at(max(0, col-utf8.RuneCountInString(s)), s) }

func (c *columns) String() string { return string(c.b) }

func pad(s string, n int) string {
	if k := n - utf8.RuneCountInString(s); k > 0 {
		return s + strings.Repeat(" ", k)
	}
	return s + " "
}

// cut splits words at the last space that leaves at most n characters in front;
// a single word longer than that stays whole.
func cut(words string, n int) (head, rest string) {
	words = strings.TrimSpace(words)
	if utf8.RuneCountInString(words) <= n {
		return words, ""
	}
	runes := []rune(words)
	at := -1
	for i := 0; i < len(runes); i++ {
		if runes[i] == ' ' && (i <= n || at < 0) {
			at = i
		}
		if i > n && at >= 0 {
			break
		}
	}
	if at < 0 {
		return words, ""
	}
	return string(runes[:at]), strings.TrimSpace(string(runes[at:]))
}

// sentence gives words a capital and a full stop. A name such as oil_temp or rpm: stays as it is.
func sentence(words string) string {
	words = strings.TrimSpace(words)
	if words == "" {
		return ""
	}
	if first, _, _ := strings.Cut(words, " "); !strings.ContainsAny(first, "_./:") {
		words = upperFirst(words)
	}
	if last, _ := utf8.DecodeLastRuneInString(words); !strings.ContainsRune(".!?", last) {
		words += "."
	}
	return words
}

func upperFirst(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(r)) + s[n:]
}

// lowerFirst lowers a leading capital unless the word is written in capitals ("DNF time").
func lowerFirst(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	if next, _ := utf8.DecodeRuneInString(s[n:]); unicode.IsUpper(next) || unicode.IsDigit(next) {
		return s
	}
	return string(unicode.ToLower(r)) + s[n:]
}
