package runlog

import (
	"context"
	"path/filepath"

	"github.com/paintmark/paintmark/internal/source"
)

// Files are where the columns of a log lie, for other programs to map.
type Files struct {
	// Times is the file of the rows' times, in s from the log's first row.
	Times string
	// Columns are the files of channels, by the channel's name. A channel that the log
	// does not hold is not among them.
	Columns map[string]ColumnFile
}

// ColumnFile is an Arrow IPC file of one record batch: float64 `value`, null where there is no
// number, and int32 `row` where not every row of the log has one: the place
// of its time among the times. A value in SI is value*Scale + Offset.
type ColumnFile struct {
	Path          string
	Scale, Offset float64
}

// Files makes sure that the columns of some channels are kept, and says where.
func (c *Cache) Files(ctx context.Context, log Stored, opts Options, channels []Channel) (*Files, source.Faults) {
	opts.Only = make([]string, 0, len(channels))
	for i := range channels {
		opts.Only = append(opts.Only, channels[i].InLog)
	}
	raw, faults := c.Read(ctx, log, opts)
	if len(faults) > 0 {
		return nil, faults
	}
	home := c.home(log.SHA256)
	files := &Files{Times: filepath.Join(home, columnFile(timesName)), Columns: map[string]ColumnFile{}}
	for i := range channels {
		ch := &channels[i]
		if raw.Column(ch.InLog) == nil {
			continue
		}
		unit, bad := ch.declaredUnit()
		if bad != nil {
			faults = append(faults, *bad)
			continue
		}
		offset := unit.SI(0)
		files.Columns[ch.Name] = ColumnFile{filepath.Join(home, columnFile(ch.InLog)), unit.SI(1) - offset, offset}
	}
	if err := c.Trouble(); err != nil {
		faults.Add(source.Pos{File: raw.File}, "its columns cannot be kept for the plugins: "+withoutPath(err), "look at the room and the rights of the cache's folder")
	}
	return files, faults.Sorted()
}
