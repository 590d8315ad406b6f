// Package source reads files into nodes that know where they stand, so that
// every later fault can point at the character a person typed.
package source

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"unicode"
)

// Pos is a place in a file. Line and Column count from 1, Column in
// characters, not bytes. A zero Line means the file as a whole.
// File is relative to the folder it was read from, with forward slashes.
type Pos struct {
	File         string
	Line, Column int
}

// String gives file:line:column, or the file alone.
func (p Pos) String() string {
	if p.Line == 0 {
		return p.File
	}
	return fmt.Sprintf("%s:%d:%d", p.File, p.Line, p.Column)
}

// Fault is one thing wrong with one input: what, where, and the remedy.
// It is not a finding about the car.
type Fault struct {
	Pos    Pos
	What   string // lower case, no full stop
	Remedy string // may be empty only where What already says it
}

func (f Fault) Error() string {
	s := f.What
	if f.Pos.File != "" {
		s = f.Pos.String() + ": " + s
	}
	if f.Remedy != "" {
		s += "; " + f.Remedy
	}
	return oneLine(s)
}

// oneLine puts a text on one line: a value may be written over several, and what is wrong with it is said on one.
func oneLine(s string) string {
	if !strings.ContainsFunc(s, unicode.IsControl) {
		return s
	}
	return strings.Join(strings.FieldsFunc(s, func(r rune) bool { return r == ' ' || unicode.IsControl(r) }), " ")
}

// Faults is a list of faults that is itself an error.
type Faults []Fault

// Add appends a fault.
func (fs *Faults) Add(pos Pos, what, remedy string) {
	*fs = append(*fs, Fault{Pos: pos, What: what, Remedy: remedy})
}

// Sorted orders by file, line, column, then words, and drops exact repeats.
func (fs Faults) Sorted() Faults {
	out := slices.Clone(fs)
	slices.SortStableFunc(out, func(a, b Fault) int {
		return cmp.Or(strings.Compare(a.Pos.File, b.Pos.File), cmp.Compare(a.Pos.Line, b.Pos.Line),
			cmp.Compare(a.Pos.Column, b.Pos.Column), strings.Compare(a.What, b.What))
	})
	return slices.Compact(out)
}

func (fs Faults) Error() string {
	lines := make([]string, len(fs))
	for i, f := range fs {
		lines[i] = f.Error()
	}
	return strings.Join(lines, "\n")
}

// Err is nil when there are no faults.
func (fs Faults) Err() error {
	if len(fs) == 0 {
		return nil
	}
	return fs.Sorted()
}
