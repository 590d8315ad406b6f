package runlog

import (
	"os"
	"path/filepath"
)

// ColumnFile is an Arrow IPC file of one record batch: float64 `value`, null where there is no
// number, and int32 `row` where not every row of the log has one: the place
// of its time among the times. A value in SI is value*Scale + Offset, as Clean makes it.
type ColumnFile struct {
	Path          string
	Scale, Offset float64
}

// Times is the file of the times of a log's rows, s from its first row, for other programs to
// map; ok is false where it is not kept.
func (c *Cache) Times(sha string) (path string, ok bool) {
	if c == nil || c.times(sha) == nil { // Read may not have looked at them
		return "", false
	}
	return c.kept(sha, timesName)
}

// File is the file of a channel of a log that was read through this cache; ok is false where it is
// not kept.
func (c *Cache) File(sha string, ch *Channel) (f ColumnFile, ok bool) {
	unit, bad := ch.declaredUnit()
	if bad != nil {
		return f, false
	}
	f.Scale, f.Offset = unit.Line()
	f.Path, ok = c.kept(sha, ch.InLog)
	return f, ok
}

func (c *Cache) kept(sha, name string) (path string, ok bool) {
	if c == nil {
		return "", false
	}
	path, err := filepath.Abs(filepath.Join(c.home(sha), columnFile(name))) // who maps it is in a folder of its own
	if err == nil {
		_, err = os.Stat(path)
	}
	return path, err == nil
}
