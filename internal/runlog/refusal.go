package runlog

import (
	"fmt"

	"github.com/paintmark/paintmark/internal/source"
)

// refusal is why a file cannot be used at all. Line 0 means the whole file.
type refusal struct {
	line, column int
	what, remedy string
}

func (e *refusal) Error() string { return e.what }

func (e *refusal) fault(file string) source.Fault {
	pos := source.Pos{File: file}
	if e.line > 0 {
		pos.Line, pos.Column = e.line, max(e.column, 1)
	}
	return source.Fault{Pos: pos, What: e.what, Remedy: e.remedy}
}

func refuse(line, column int, remedy, format string, args ...any) *refusal {
	return &refusal{line, column, fmt.Sprintf(format, args...), remedy}
}
