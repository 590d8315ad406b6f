package demo

import (
	"bytes"
	"compress/gzip"
	"fmt"
	"strconv"
	"time"
)

// CSV is the log of the Tern 3 as its logger exports it: lines about the log, a blank line,
// names, units, then rows on one grid with blanks where a channel has no sample.
func (r *Recording) CSV() []byte {
	out := make([]byte, 0, 48*len(r.Millis))
	out = fmt.Appendf(out, "Car,%s\nLogger,%s\nRun counter,%d\nDate,%s\n\n", r.Run.Car.Name, r.Run.Logger, r.Run.Number, r.Run.Date)
	out = append(out, "Time"...)
	for i := range r.Columns {
		out = append(append(out, ','), r.Columns[i].Logged...)
	}
	out = append(out, "\ns"...)
	for i := range r.Columns {
		out = append(append(out, ','), r.Columns[i].Unit...)
	}
	out = append(out, '\n')
	return r.rows(out, ',', "\n", func(out []byte, ms int32) []byte { return decimal(out, ms, 3) })
}

// Tabbed is the log of the Fallow 9 as its logger exports it: tabs, units in brackets
// behind the names, a clock in front of each row, lines ended as on Windows.
func (r *Recording) Tabbed() ([]byte, error) {
	first, err := time.Parse(time.TimeOnly, r.Run.Clock)
	if err != nil {
		return nil, fmt.Errorf("run %d: clock %q is not a time of day: write it as 14:05:10", r.Run.Number, r.Run.Clock)
	}
	out := make([]byte, 0, 48*len(r.Millis))
	out = fmt.Appendf(out, "Car\t%s\r\nLogger\t%s\r\nRun counter\t%d\r\nDate\t%s\r\n\r\n", r.Run.Car.Name, r.Run.Logger, r.Run.Number, r.Run.Date)
	out = append(out, "Clock"...)
	for i := range r.Columns {
		out = fmt.Appendf(out, "\t%s [%s]", r.Columns[i].Logged, r.Columns[i].Unit)
	}
	out = append(out, "\r\n"...)
	return r.rows(out, '\t', "\r\n", func(out []byte, ms int32) []byte {
		return first.Add(time.Duration(ms)*time.Millisecond).AppendFormat(out, "15:04:05.000")
	}), nil
}

// rows appends the rows.
func (r *Recording) rows(out []byte, comma byte, end string, stamp func([]byte, int32) []byte) []byte {
	next := make([]int, len(r.Columns))
	for row, ms := range r.Millis {
		out = stamp(out, ms)
		for i := range r.Columns {
			c := &r.Columns[i]
			out = append(out, comma)
			if k := next[i]; k < len(c.Rows) && c.Rows[k] == int32(row) {
				out = decimal(out, c.Counts[k], c.Decimals)
				next[i]++
			}
		}
		out = append(out, end...)
	}
	return out
}

// decimal appends n·10^-d, d digits after the point.
func decimal(out []byte, n int32, d int) []byte {
	if n < 0 {
		out = append(out, '-')
		n = -n
	}
	unit := int32(tens[d])
	out = strconv.AppendInt(out, int64(n/unit), 10)
	if d == 0 {
		return out
	}
	out = append(out, '.')
	for rest := n % unit; unit > 1; rest %= unit {
		unit /= 10
		out = append(out, byte('0'+rest/unit))
	}
	return out
}

// Zip compresses a log; the same bytes give the same bytes, whenever and wherever.
func Zip(log []byte) ([]byte, error) {
	var b bytes.Buffer
	w := gzip.NewWriter(&b)
	if _, err := w.Write(log); err != nil {
		return nil, err
	}
	if err := w.Close(); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}
