package runlog

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

var plainForm = regexp.MustCompile(`^-?([0-9]+[.]?[0-9]*|[.][0-9]+)$`)

// samePlain fails where a cell that is read eight bytes at a time is not what strconv.ParseFloat
// makes of it, bit for bit but for the sign of nought, or where a plain cell is not read so.
func samePlain(t interface {
	Helper()
	Errorf(string, ...any)
}, cell string, delim, mark byte, behind string,
) {
	t.Helper()
	line := append([]byte(cell+string(delim)+behind), make([]byte, spare)...)
	var digits [1]uint64
	var forms [1]byte
	n, next := plainCells(line, 0, digits[:], forms[:], delim, mark)
	point := cell
	if mark != '.' {
		point = strings.NewReplacer(".", "x", string(mark), ".").Replace(cell)
	}
	if plain := cell == "" || len(cell) < 8 && plainForm.MatchString(point); plain != (n == 1) {
		t.Errorf("%q: read %d, plain %v", cell, n, plain)
	}
	if n == 0 {
		return
	}
	if next != len(cell)+1 {
		t.Errorf("%q: the next cell at %d", cell, next)
	}
	if cell == "" {
		if forms[0] != blankForm {
			t.Errorf("blank: form %x", forms[0])
		}
		return
	}
	want, err := strconv.ParseFloat(point, 64)
	if got := number(digits[0], forms[0]); err != nil || math.Float64bits(got) != math.Float64bits(want+0) {
		t.Errorf("%q: %v, ParseFloat says %v %v", cell, got, want, err)
	}
}

func TestPlainCellsEqualParseFloat(t *testing.T) {
	for v := range 10_000 { // every number of four digits, with the mark wherever it may be
		text := strconv.Itoa(v)
		for at := range len(text) + 1 {
			samePlain(t, text[:at]+"."+text[at:], ',', '.', "-1,")
			samePlain(t, "-"+text[:at]+"."+text[at:], '\n', '.', "")
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		cell := rapid.StringMatching(`-?[0-9]{0,5}[.]?[0-9]{0,5}|[-+.,eE0-9 "x\xff/:]{0,9}`).Draw(t, "cell")
		delim, mark := rapid.SampledFrom([]byte(",;\t|\n")).Draw(t, "delimiter"), rapid.SampledFrom([]byte(".,")).Draw(t, "mark")
		if mark == ',' {
			cell = strings.ReplaceAll(cell, ".", ",")
		}
		if delim == mark || strings.IndexByte(cell, delim) >= 0 {
			t.Skip()
		}
		samePlain(t, cell, delim, mark, rapid.SampledFrom([]string{"", "1", "-.5\n", ",,,", ";;"}).Draw(t, "behind"))
	})
}

func FuzzPlainCells(f *testing.F) {
	for _, cell := range []string{"", "0", "-12.5", ".5", "5.", "-.", "1234567", "12345678", "1:2", "1/2", "1.2.3", "--1"} {
		f.Add(cell, "3,", false)
		f.Add(cell, "\n", true)
	}
	f.Fuzz(func(t *testing.T, cell, behind string, comma bool) {
		delim, mark := byte(','), byte('.')
		if comma {
			delim, mark = ';', ','
		}
		if strings.IndexByte(cell, delim) < 0 {
			samePlain(t, cell, delim, mark, behind)
		}
	})
}
