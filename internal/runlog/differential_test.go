package runlog

import (
	"context"
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// drawCell is a cell as loggers write it, and some that are harder.
func drawCell(t *rapid.T) string {
	switch rapid.IntRange(0, 11).Draw(t, "form") {
	case 0:
		return ""
	case 1:
		return rapid.SampledFrom([]string{"NaN", "-", "n/a", "ERR", "x y", "on", "FALSE", "0x1F", "1 2", "1e999", "--1", ".", "-.", "e5", "1.2.3", "12:30"}).Draw(t, "word")
	case 2:
		return rapid.StringMatching(`[+-]?[0-9]{1,20}(\.[0-9]{0,20})?([eE][+-]?[0-9]{1,3})?`).Draw(t, "long")
	case 3:
		return rapid.StringMatching(`[+-]?[0-9]{0,3}\.[0-9]{0,4}`).Draw(t, "odd")
	case 4:
		return " " + strconv.Itoa(rapid.IntRange(-99, 99).Draw(t, "blanks")) + "  "
	case 5:
		return `"` + strconv.Itoa(rapid.IntRange(-99, 99).Draw(t, "quoted")) + `"`
	}
	return strconv.FormatFloat(rapid.Float64Range(-9999, 9999).Draw(t, "v"), 'f', rapid.IntRange(0, 5).Draw(t, "decimals"), 64)
}

// plainRead reads a well-formed log the plain way: encoding/csv and ParseFloat.
// It gives, by column, own rows, values and which of them are no number.
func plainRead(t *rapid.T, text string, width int) (rows [][]int32, values [][]float64, bad [][]bool) {
	r := csv.NewReader(strings.NewReader(text))
	r.TrimLeadingSpace = true
	r.LazyQuotes = true
	records, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	rows, values, bad = make([][]int32, width), make([][]float64, width), make([][]bool, width)
	for row, record := range records[1:] {
		for k, cell := range record[1:] {
			if cell = strings.TrimSpace(cell); cell == "" {
				continue
			}
			v, err := strconv.ParseFloat(cell, 64)
			missing := err != nil || math.IsNaN(v) || math.IsInf(v, 0) || strings.ContainsAny(cell, "xX_")
			switch strings.ToLower(cell) {
			case "on":
				v, missing = 1, false
			case "false":
				v, missing = 0, false
			}
			if missing || v == 0 {
				v = 0
			}
			rows[k] = append(rows[k], int32(row))
			values[k] = append(values[k], v)
			bad[k] = append(bad[k], missing)
		}
	}
	return rows, values, bad
}

// Whatever the cells and however the text falls into blocks, the columns are
// those of encoding/csv and ParseFloat, bit for bit.
func TestReadEqualsPlainRead(t *testing.T) {
	dir := t.TempDir()
	rapid.Check(t, func(t *rapid.T) {
		width := rapid.IntRange(1, 6).Draw(t, "columns")
		var b strings.Builder
		b.WriteString("Time")
		for k := range width {
			fmt.Fprintf(&b, ",c%d", k)
		}
		eol := rapid.SampledFrom([]string{"\n", "\r\n"}).Draw(t, "line end")
		b.WriteString(eol)
		n := rapid.IntRange(2, 40).Draw(t, "rows")
		for row := range n {
			fmt.Fprintf(&b, "%g", float64(row)/100)
			for k := range width {
				cell := ""
				if row < 2 { // the head must look like a log
					cell = strconv.Itoa(row + k)
				} else {
					cell = drawCell(t)
				}
				b.WriteString("," + cell)
			}
			if row < n-1 || rapid.Bool().Draw(t, "last line ends") {
				b.WriteString(eol)
			}
		}
		text := b.String()
		rows, values, bad := plainRead(t, text, width)

		path := filepath.Join(dir, "run.csv")
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		opts := Options{Name: "run.csv", block: rapid.SampledFrom([]int{1, 7, 64, 100, blockSize}).Draw(t, "block")}
		file, faults := Read(context.Background(), path, opts)
		if faults != nil {
			t.Fatal(faults)
		}
		stream, faults := ReadFrom(context.Background(), strings.NewReader(text), opts)
		if faults != nil {
			t.Fatal(faults)
		}
		for _, raw := range []*Raw{file, stream} {
			if len(raw.Times) != n || len(raw.Columns) != width {
				t.Fatalf("%d rows, %d columns, want %d, %d", len(raw.Times), len(raw.Columns), n, width)
			}
			for i := range raw.Times {
				if raw.Line(i) != i+2 || raw.Times[i] != float64(i)/100 {
					t.Fatalf("row %d: line %d, time %v", i, raw.Line(i), raw.Times[i])
				}
			}
			for k := range raw.Columns {
				c := &raw.Columns[k]
				if !slices.EqualFunc(c.Values, values[k], func(a, b float64) bool { return math.Float64bits(a) == math.Float64bits(b) }) {
					t.Fatalf("column %d: %v, want %v", k, c.Values, values[k])
				}
				for i := range c.Values {
					if c.IsBad(i) != bad[k][i] || c.Row(i) != int(rows[k][i]) {
						t.Fatalf("column %d sample %d: bad %v, row %d, want %v, %d", k, i, c.IsBad(i), c.Row(i), bad[k][i], rows[k][i])
					}
				}
			}
			if !slices.Equal(raw.Faults, file.Faults) {
				t.Fatalf("faults %v, %v", raw.Faults, file.Faults)
			}
		}
	})
}

// Any text whatever reads the same in blocks of any size.
func TestBlocksDoNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		head := rapid.SampledFrom([]string{"Time,a,b\n", "Time,a,b\n0,1,2\n1,2,3\n", "x,y\nTime;a;b\ns;m;m\n0,5;1;2\n1;1;1\n"}).Draw(t, "head")
		piece := rapid.SampledFrom([]string{"1", "2", "3", "0", ",", ",", ";", "\n", "\n", "\r\n", "\"", ".", "-", " ", "x", "NaN", "1,2,3\n", "5;6;7\n", "ä"})
		text := head + strings.Join(rapid.SliceOfN(piece, 0, 80).Draw(t, "text"), "")
		whole, faults := ReadFrom(context.Background(), strings.NewReader(text), Options{Name: "run.csv"})
		for _, size := range []int{1, 5, 33} {
			raw, other := ReadFrom(context.Background(), strings.NewReader(text), Options{Name: "run.csv", block: size})
			if fmt.Sprint(faults) != fmt.Sprint(other) {
				t.Fatalf("in blocks of %d: %v, whole %v", size, other, faults)
			}
			if faults != nil {
				continue
			}
			if fmt.Sprintf("%+v", raw) != fmt.Sprintf("%+v", whole) {
				t.Fatalf("in blocks of %d\n%+v\nwhole\n%+v", size, raw, whole)
			}
		}
	})
}
