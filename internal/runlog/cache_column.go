package runlog

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"hash/crc32"
	"math"
	"math/bits"
	"os"
	"unsafe"

	"github.com/apache/arrow-go/v18/arrow"
	"github.com/apache/arrow-go/v18/arrow/array"
	"github.com/apache/arrow-go/v18/arrow/ipc"
	"github.com/apache/arrow-go/v18/arrow/memory"

	"github.com/paintmark/paintmark/internal/source"
)

// A column's file is an Arrow IPC file of one record batch: its own samples
// under `value`, null where there is no number, and, where not every row of the
// log has one, the rows they lie in under `row`. The schema's metadata holds
// what else is known of the column, the extremes and the checksum of each
// block, and the checksum of everything that lies outside the blocks.

const (
	valueField = "value"
	rowField   = "row"

	checkKey  = "paintmark.check"
	blocksKey = "paintmark.blocks"
	columnKey = "paintmark.column"

	// timesName stands for the times of the rows; no column of a log has no name.
	timesName = ""
)

// columnHead is what is kept of a column beside its samples.
type columnHead struct {
	Reader          int
	Log             string
	Name, Unit      string
	Line, Column    int
	UnitLine        int
	UnitColumn      int
	Samples, NoNums int
	Sparse          bool
	Step, Rate      float64
	Missing         int
	Words, Texts    int
	Faults          []Fault
}

// columnFile is the name of the file of a column, whatever its name is made of.
func columnFile(name string) string {
	if name == timesName {
		return "times.arrow"
	}
	sum := sha256.Sum256([]byte(name))
	return "column-" + hex.EncodeToString(sum[:12]) + ".arrow"
}

// saveColumn writes the file of a column.
func saveColumn(path, sha string, c *Column) error {
	head := columnHead{
		Reader: readerVersion, Log: sha, Name: c.Name, Unit: c.Unit,
		Line: c.Pos.Line, Column: c.Pos.Column, UnitLine: c.UnitPos.Line, UnitColumn: c.UnitPos.Column,
		Samples: len(c.Values), NoNums: c.noNumbers(), Sparse: c.Rows != nil,
		Step: c.Step, Rate: c.Rate, Missing: c.Missing, Words: c.Words, Texts: c.Texts, Faults: c.faults,
	}
	text, err := json.Marshal(head)
	if err != nil {
		return err
	}
	meta := arrow.NewMetadata(
		[]string{checkKey, blocksKey, columnKey},
		[]string{checkText(0, 0, uint64(len(c.Values)), 0), encodeBlocks(c.summed()), string(text)},
	)
	fields := []arrow.Field{{Name: valueField, Type: arrow.PrimitiveTypes.Float64, Nullable: true}}
	arrays := []arrow.Array{c.valueArray(head.NoNums)}
	if head.Sparse {
		fields = append(fields, arrow.Field{Name: rowField, Type: arrow.PrimitiveTypes.Int32})
		data := array.NewData(arrow.PrimitiveTypes.Int32, len(c.Rows), []*memory.Buffer{nil, memory.NewBufferBytes(bytesOf(c.Rows))}, nil, 0, 0)
		arrays = append(arrays, array.NewInt32Data(data))
	}
	schema := arrow.NewSchema(fields, &meta)
	return writeWhole(path, func(file *os.File) error {
		frame := &frameWriter{file: file, values: bytesOf(c.Values), rows: bytesOf(c.Rows)}
		w, err := ipc.NewFileWriter(frame, ipc.WithSchema(schema))
		if err != nil {
			return err
		}
		if err := w.Write(array.NewRecordBatch(schema, arrays, int64(len(c.Values)))); err != nil {
			return err
		}
		if err := w.Close(); err != nil {
			return err
		}
		return frame.seal(uint64(len(c.Values)))
	})
}

// valueArray is the samples as Arrow has them, without a copy of them.
func (c *Column) valueArray(noNumbers int) arrow.Array {
	var valid *memory.Buffer
	if noNumbers > 0 {
		bits := make([]byte, 8*len(c.Bad))
		for i, word := range c.Bad {
			if i == len(c.Bad)-1 && len(c.Values)%64 != 0 {
				word |= math.MaxUint64 << (len(c.Values) % 64)
			}
			binary.LittleEndian.PutUint64(bits[8*i:], ^word)
		}
		valid = memory.NewBufferBytes(bits[:(len(c.Values)+7)/8])
	}
	data := array.NewData(arrow.PrimitiveTypes.Float64, len(c.Values), []*memory.Buffer{valid, memory.NewBufferBytes(bytesOf(c.Values))}, nil, noNumbers, 0)
	return array.NewFloat64Data(data)
}

// bytesOf is the memory of numbers. Arrow files of this program are in the order of bytes of the
// machine, which is the little-endian one on every machine it is built for.
func bytesOf[T float64 | int64 | int32](s []T) []byte {
	return unsafe.Slice((*byte)(unsafe.Pointer(unsafe.SliceData(s))), len(s)*int(unsafe.Sizeof(*new(T))))
}

// frameWriter writes a file and keeps what lies outside the samples, to seal it.
type frameWriter struct {
	file         *os.File
	values, rows []byte
	valuesAt     uint64
	rowsAt       uint64
	at           uint64
	frame        []byte
	places       []uint64 // in the file, of each piece of the frame
	starts       []int    // in the frame
}

func (w *frameWriter) Write(p []byte) (int, error) {
	switch {
	case sameMemory(p, w.values):
		w.valuesAt = w.at
	case sameMemory(p, w.rows):
		w.rowsAt = w.at
	default:
		w.places, w.starts = append(w.places, w.at), append(w.starts, len(w.frame))
		w.frame = append(w.frame, p...)
	}
	n, err := w.file.Write(p)
	w.at += uint64(n)
	return n, err
}

func sameMemory(a, b []byte) bool {
	return len(a) > 0 && len(a) == len(b) && unsafe.SliceData(a) == unsafe.SliceData(b)
}

// seal puts the places of the samples and the checksum of all else where the
// check's text stands, in the head and again in the foot of the file.
func (w *frameWriter) seal(samples uint64) error {
	sum := crc32.Checksum(w.frame, castagnoli)
	text := []byte(checkText(w.valuesAt, w.rowsAt, samples, sum))
	blank := []byte(checkText(0, 0, samples, 0))
	for from := 0; ; {
		i := bytes.Index(w.frame[from:], blank)
		if i < 0 {
			return nil
		}
		from += i
		k := len(w.starts) - 1
		for w.starts[k] > from {
			k--
		}
		if _, err := w.file.WriteAt(text, int64(w.places[k])+int64(from-w.starts[k])); err != nil {
			return err
		}
		from += len(blank)
	}
}

// checkMark begins the check's text; it is looked for in the bytes of the file.
const checkMark = "paintmark column check "

// checkText says where the samples and their rows lie in the file, how many they
// are, and the checksum of all else, of this text with nothing but their number in it.
func checkText(values, rows, samples uint64, sum uint32) string {
	return fmt.Sprintf("%s%016x %016x %016x %08x.", checkMark, values, rows, samples, sum)
}

var errDamaged = errors.New("damaged")

// loadColumn maps the file of a column; nil where it is not there, is of
// something else, or is damaged, and then it is taken away.
func loadColumn(path, sha, name, file string) *Column {
	data, err := mapFile(path)
	if err != nil {
		if errors.Is(err, errDamaged) {
			_ = os.Remove(path)
		}
		return nil
	}
	c, err := openColumn(data, sha, name, file)
	if err != nil {
		_ = unmap(data)
		_ = os.Remove(path)
		return nil
	}
	_ = used(path)
	return c
}

// openColumn makes a column of the bytes of its file, once the checksum of all that lies outside its blocks
// holds. Those of the blocks are for sound to look at.
func openColumn(data []byte, sha, name, file string) (c *Column, err error) {
	defer func() {
		if p := recover(); p != nil { // the library's own, over bytes it did not expect
			c, err = nil, errDamaged
		}
	}()
	valuesAt, rowsAt, err := checkFrame(data)
	if err != nil {
		return nil, err
	}
	r, err := ipc.NewMappedFileReader(data)
	if err != nil {
		return nil, err
	}
	if r.NumRecords() != 1 {
		return nil, errDamaged
	}
	batch, err := r.RecordBatch(0)
	if err != nil {
		return nil, err
	}
	meta := r.Schema().Metadata()
	of := func(key string) string {
		if i := meta.FindKey(key); i >= 0 {
			return meta.Values()[i]
		}
		return ""
	}
	var head columnHead
	if err := json.Unmarshal([]byte(of(columnKey)), &head); err != nil {
		return nil, err
	}
	if head.Reader != readerVersion || head.Log != sha || head.Name != name {
		return nil, errDamaged
	}
	values, ok := batch.Column(0).(*array.Float64)
	if !ok || values.Len() != head.Samples || values.NullN() != head.NoNums {
		return nil, errDamaged
	}
	c = &Column{
		Name: name, Unit: head.Unit, Values: values.Float64Values(),
		Step: head.Step, Rate: head.Rate, Missing: head.Missing, Words: head.Words, Texts: head.Texts, faults: head.Faults,
		Pos: place(file, head.Line, head.Column), UnitPos: place(file, head.UnitLine, head.UnitColumn),
	}
	if head.NoNums > 0 {
		c.Bad = invert(values.NullBitmapBytes(), head.Samples)
	}
	if head.Sparse {
		rows, ok := batch.Column(1).(*array.Int32)
		if !ok || rows.Len() != head.Samples {
			return nil, errDamaged
		}
		if c.Rows = rows.Int32Values(); c.Rows == nil {
			c.Rows = []int32{}
		}
	}
	// What the library gave must be what the checksums are of.
	if !liesAt(data, valuesAt, bytesOf(c.Values)) || !liesAt(data, rowsAt, bytesOf(c.Rows)) {
		return nil, errDamaged
	}
	if c.blocks, err = decodeBlocks(of(blocksKey), head.Samples); err != nil {
		return nil, err
	}
	return c, nil
}

func place(file string, line, column int) source.Pos {
	if line == 0 {
		return source.Pos{}
	}
	return source.Pos{File: file, Line: line, Column: column}
}

func liesAt(data []byte, at uint64, part []byte) bool {
	return len(part) == 0 || at <= uint64(len(data)) && len(part) <= len(data)-int(at) && unsafe.SliceData(data[at:]) == unsafe.SliceData(part)
}

// checkFrame holds all that lies outside the samples against its checksum, and
// says where the samples and their rows are.
func checkFrame(data []byte) (valuesAt, rowsAt uint64, err error) {
	i := bytes.Index(data, []byte(checkMark))
	size := len(checkText(0, 0, 0, 0))
	if i < 0 || i+size > len(data) {
		return 0, 0, errDamaged
	}
	text := data[i : i+size]
	var samples uint64
	var sum uint32
	if _, err := fmt.Sscanf(string(text), checkMark+"%x %x %x %x.", &valuesAt, &rowsAt, &samples, &sum); err != nil {
		return 0, 0, errDamaged
	}
	end := uint64(len(data))
	if samples > end/8 || valuesAt > end-8*samples || rowsAt > end-4*samples || rowsAt != 0 && rowsAt < valuesAt+8*samples {
		return 0, 0, errDamaged
	}
	parts := [][]byte{data[:valuesAt], data[valuesAt+8*samples:]}
	if rowsAt != 0 {
		parts = [][]byte{data[:valuesAt], data[valuesAt+8*samples : rowsAt], data[rowsAt+4*samples:]}
	}
	if frameSum(parts, text, []byte(checkText(0, 0, samples, 0))) != sum {
		return 0, 0, errDamaged
	}
	return valuesAt, rowsAt, nil
}

// frameSum is the checksum of parts of a file as they were before the check's text was put into them.
func frameSum(parts [][]byte, text, blank []byte) (sum uint32) {
	for _, part := range parts {
		for i := bytes.Index(part, text); i >= 0; i = bytes.Index(part, text) {
			sum = crc32.Update(sum, castagnoli, part[:i])
			sum = crc32.Update(sum, castagnoli, blank)
			part = part[i+len(text):]
		}
		sum = crc32.Update(sum, castagnoli, part)
	}
	return sum
}

// invert turns the bits of what is there into those of what is not.
func invert(valid []byte, n int) []uint64 {
	out := make([]uint64, (n+63)/64)
	for i := range out {
		var word [8]byte
		copy(word[:], valid[8*i:min(8*i+8, (n+7)/8)])
		out[i] = ^binary.LittleEndian.Uint64(word[:])
	}
	if n%64 != 0 {
		out[len(out)-1] &= 1<<(n%64) - 1
	}
	return out
}

// noNumbers counts the own samples without a number.
func (c *Column) noNumbers() (n int) {
	for _, word := range c.Bad {
		n += bits.OnesCount64(word)
	}
	return n
}
