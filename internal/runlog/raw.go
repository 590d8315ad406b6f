// Package runlog reads what a logger wrote into columns, cleans the columns
// against the channels the car declares, and describes a log nobody has
// declared yet. What it cannot read it names with line and column; it never
// guesses a number and never puts rows in another order.
package runlog

import (
	"fmt"
	"sort"

	"github.com/paintmark/paintmark/internal/kernel"
	"github.com/paintmark/paintmark/internal/source"
)

// Raw is a log as the logger wrote it: numbers in the logger's own units.
type Raw struct {
	File    string // the name used in positions
	Dialect Dialect
	Meta    []Meta // the lines above the header, in their order

	Time    TimeColumn
	Columns []Column  // every named column but the time, in file order
	Times   []float64 // s from the first row of the log, strictly increasing; nil where AllTimes works them out
	Step    float64   // s, usual step from row to row; 0 for a single row
	Rows    int       // data rows in the file, those left out included

	// Faults are what is wrong inside the log. The log is still of use: what
	// they name has been left out.
	Faults []Fault

	even   *kernel.Even // tells the times where Times is nil
	names  []string     // of all columns but the time, in file order, those left out too
	own    []Fault      // those of Faults that belong to no single column
	lines  []lineMark   // where the line number stops following from the row number
	widest float64      // s, the longest step from one row to the next
	ragged []int32      // rows that are too short or too long to be trusted, increasing
}

// Column is one logged column.
type Column struct {
	Name    string
	Unit    string     // as written in the file, "" where it gives none
	Pos     source.Pos // of the name
	UnitPos source.Pos // of the unit; the zero Pos where there is none

	Rows    []int32   // rows that have a cell of this column, increasing; nil: every row
	Values  []float64 // one for each of those rows; 0 where Bad
	Bad     []uint64  // one bit for each: no number there; nil: none
	Step    float64   // s, usual step between its own rows; 0 where unknown
	Rate    float64   // Hz, 1/Step
	Missing int       // words for missing, unreadable cells and blanks out of its own step

	// Words counts the cells that were written as true or false, on or off.
	Words int
	// Texts counts the cells that are neither a number nor a word for missing.
	Texts int

	faults []Fault    // the first of Texts
	blocks []blockSum // nil as long as nobody asked
}

// IsBad says that own sample i carries no number.
func (c *Column) IsBad(i int) bool { return c.Bad != nil && c.Bad[i>>6]>>(i&63)&1 != 0 }

// Row is the grid row of own sample i.
func (c *Column) Row(i int) int {
	if c.Rows == nil {
		return i
	}
	return int(c.Rows[i])
}

// Meta is one line above the header: a key and what it says.
type Meta struct {
	Key, Value string
	Pos        source.Pos
}

// TimeColumn says how the log tells the time.
type TimeColumn struct {
	Name  string
	Unit  string // s, ms, us, ns, min or h; "" for stamps
	Kind  TimeKind
	Pos   source.Pos
	First string // the first row's cell as written
}

// TimeKind is the way a time is written.
type TimeKind uint8

// The ways.
const (
	Counted TimeKind = iota // a number
	Clock                   // 09:42:00.000
	Stamp                   // 2026-05-16T09:42:00.000+01:00
)

func (k TimeKind) String() string {
	return [...]string{"counted", "clock", "stamp"}[k]
}

// Dialect is how the file is written. It is found out, never asked for.
type Dialect struct {
	Encoding  string // UTF-8, UTF-8 with BOM, UTF-16, Latin-1; Parquet, which has nothing of what follows
	Packed    string // gzip, or ""
	Delimiter string // , ; tab or |
	Decimal   string // . or ,
	LineEnd   string // LF, CRLF, CR
	Quoted    bool
	Header    int // line of the column names
	Units     int // line of the units, 0 where there is none
	First     int // line of the first data row
}

// String is one line for a person.
func (d Dialect) String() string {
	if d.Delimiter == "" {
		return d.Encoding
	}
	name := map[string]string{",": "comma", ";": "semicolon", "\t": "tab", "|": "bar"}[d.Delimiter]
	s := name + " between cells, decimal point"
	if d.Decimal == "," {
		s = name + " between cells, decimal comma"
	}
	if d.Quoted {
		s += ", quoted"
	}
	s += ", " + d.Encoding + ", " + d.LineEnd
	if d.Packed != "" {
		s += ", " + d.Packed
	}
	return s
}

// FaultKind says what is wrong inside a log.
type FaultKind string

// The kinds.
const (
	Gap       FaultKind = "gap"          // no rows for more than three usual steps
	Doubled   FaultKind = "doubled"      // a time that was there already: row left out
	Backward  FaultKind = "backward"     // a time before the one above: row left out
	Ahead     FaultKind = "ahead"        // a time far after those below: row left out
	Restart   FaultKind = "restart"      // time starts again and goes on: those rows are left out
	NoTime    FaultKind = "no time"      // the time cell cannot be read: row left out
	ShortRow  FaultKind = "short row"    // fewer cells than names
	LongRow   FaultKind = "long row"     // more cells than names
	NotNumber FaultKind = "not a number" // a cell that is neither a number nor a word for missing
	LongStep  FaultKind = "long step"    // the time has no unit and steps by seconds
	NoName    FaultKind = "no name"      // a column without a name: left out
)

// listed is how many faults of one kind are named; the rest are counted.
const listed = 100

// Fault is one thing wrong inside a log that can still be used.
type Fault struct {
	Kind     FaultKind
	Line     int
	Column   int     // in characters; 0 where the whole row is meant
	From, To float64 // s, the span it concerns; both 0 where there is none
	Text     string  // in words, with what was done about it
	More     int     // further faults of this kind that are not listed
}

// Source gives the fault with its place in the file.
func (f Fault) Source(file string) source.Fault {
	text := f.Text
	if f.More > 0 {
		text += fmt.Sprintf(" (and %d more like it)", f.More)
	}
	return source.Fault{Pos: source.Pos{File: file, Line: f.Line, Column: max(f.Column, 1)}, What: text}
}

// lineMark says that from grid row Row on, the line is Row + Shift.
type lineMark struct {
	row   int32
	shift int32
}

// AllTimes is when each row starts.
func (r *Raw) AllTimes() []float64 { return r.times().AllTimes() }

// times is a log of the rows' times alone.
func (r *Raw) times() *kernel.Log { return &kernel.Log{Times: r.Times, Even: r.even} }

// Line is the line in the file of a grid row.
func (r *Raw) Line(row int) int {
	i := sort.Search(len(r.lines), func(i int) bool { return int(r.lines[i].row) > row }) - 1
	if i < 0 {
		return 0
	}
	return row + int(r.lines[i].shift)
}

// Column is the column of that name, or nil.
func (r *Raw) Column(name string) *Column {
	for i := range r.Columns {
		if r.Columns[i].Name == name {
			return &r.Columns[i]
		}
	}
	return nil
}
