package runlog

import (
	"encoding/json"
	"fmt"
	"hash/crc32"
	"os"
	"strings"

	"github.com/paintmark/paintmark/internal/kernel"
)

// logFile is what is kept of a log beside its columns: a line with a checksum,
// and JSON.
const logFile = "log.json"

// logHead is the content of a log file. Names of files in positions are left out.
type logHead struct {
	Reader  int
	Dialect Dialect
	Meta    []metaHead
	Time    TimeColumn
	Step    float64
	Widest  float64
	Rows    int
	Even    *evenHead
	Names   []string
	Own     []Fault
	Lines   [][2]int32
	Ragged  []int32
}

// evenHead is kept of a log with even times.
type evenHead struct {
	Rows int
	Step int64
}

type metaHead struct {
	Key, Value   string
	Line, Column int
}

func saveLog(path string, r *Raw) error {
	head := logHead{
		Reader: readerVersion, Dialect: r.Dialect, Time: r.Time, Step: r.Step, Widest: r.widest, Rows: r.Rows,
		Names: r.names, Own: r.own, Ragged: r.ragged,
	}
	if even := kernel.EvenTimes(r.Times); even != nil {
		head.Even = &evenHead{even.Rows, even.Step}
	}
	head.Time.Pos.File = ""
	for _, m := range r.Meta {
		head.Meta = append(head.Meta, metaHead{m.Key, m.Value, m.Pos.Line, m.Pos.Column})
	}
	for _, l := range r.lines {
		head.Lines = append(head.Lines, [2]int32{l.row, l.shift})
	}
	text, err := json.Marshal(head)
	if err != nil {
		return err
	}
	return writeWhole(path, func(file *os.File) error {
		_, err := fmt.Fprintf(file, "%s%s", sumLine(text), text)
		return err
	})
}

func sumLine(text []byte) string {
	return fmt.Sprintf("crc-32c %08x of %d bytes\n", crc32.Checksum(text, castagnoli), len(text))
}

// loadLog reads a log's file; ok is false where it is not there or damaged, and
// then it is taken away.
func loadLog(path, file string) (r *Raw, ok bool) {
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, false
	}
	first, text, _ := strings.Cut(string(data), "\n")
	var head logHead
	if first+"\n" != sumLine([]byte(text)) || json.Unmarshal([]byte(text), &head) != nil || head.Reader != readerVersion {
		_ = os.Remove(path)
		return nil, false
	}
	_ = used(path)
	r = &Raw{
		File: file, Dialect: head.Dialect, Time: head.Time, Step: head.Step, widest: head.Widest, Rows: head.Rows,
		names: head.Names, own: head.Own, ragged: head.Ragged,
	}
	if head.Even != nil {
		r.even = &kernel.Even{Rows: head.Even.Rows, Step: head.Even.Step}
	}
	r.Time.Pos.File = file
	for _, m := range head.Meta {
		r.Meta = append(r.Meta, Meta{m.Key, m.Value, place(file, m.Line, m.Column)})
	}
	for _, l := range head.Lines {
		r.lines = append(r.lines, lineMark{l[0], l[1]})
	}
	return r, true
}
