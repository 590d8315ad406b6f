package runlog

import (
	"bytes"
	"unicode/utf8"

	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
)

// magics are the first bytes of files that are handed in by mistake.
var magics = []struct{ start, what, remedy string }{
	{"PK\x03\x04", "a spreadsheet file or a zip archive without tables, not a log", "save the sheet as CSV"},
	{"\xd0\xcf\x11\xe0", "an old spreadsheet file, not a CSV log", "save the sheet as CSV"},
	{"PAR1", "a Parquet file packed once more", "unpack it"},
	{"\x28\xb5\x2f\xfd", "packed with zstd", "unpack it, or pack it with gzip"},
	{"BZh", "packed with bzip2", "unpack it, or pack it with gzip"},
	{"\xfd7zXZ\x00", "packed with xz", "unpack it, or pack it with gzip"},
	{"7z\xbc\xaf\x27\x1c", "a 7-Zip archive", "unpack it"},
	{"\x1f\x9d", "packed with compress", "unpack it, or pack it with gzip"},
	{"%PDF", "a PDF file, not a log", "export the log as CSV"},
	{"MDF     ", "a binary measurement file, not a CSV log", "export the log as CSV"},
	{"\x89HDF", "an HDF5 file, not a CSV log", "export the log as CSV"},
}

var gzipMagic = []byte("\x1f\x8b")

// refuseBinary names a file that is not text by its first bytes.
func refuseBinary(start []byte) *refusal {
	for _, m := range magics {
		if bytes.HasPrefix(start, []byte(m.start)) {
			return refuse(1, 1, m.remedy, "this file is %s", m.what)
		}
	}
	line, column := 1, 1
	for _, ch := range start {
		switch {
		case ch == '\n':
			line, column = line+1, 0
		case ch < ' ' && ch != '\t' && ch != '\r' && ch != '\f' && ch != 0x1a:
			return refuse(line, column, "export the log as CSV", "byte %#02x: this file is not text", ch)
		}
		column++
	}
	return nil
}

// sniffUTF16 tells UTF-16 by its byte order mark, or by a null in every second
// byte; nil where it is something else.
func sniffUTF16(start []byte) encoding.Encoding {
	if bytes.HasPrefix(start, []byte("\xff\xfe")) || bytes.HasPrefix(start, []byte("\xfe\xff")) {
		return unicode.UTF16(unicode.LittleEndian, unicode.UseBOM)
	}
	start = start[:len(start)&^1]
	if len(start) < 8 {
		return nil
	}
	var nulls [2]int
	for i, ch := range start {
		if ch == 0 {
			nulls[i&1]++
		}
	}
	most := len(start) / 2 * 9 / 10
	if nulls[0] == 0 && nulls[1] > most {
		return unicode.UTF16(unicode.LittleEndian, unicode.IgnoreBOM)
	}
	if nulls[1] == 0 && nulls[0] > most {
		return unicode.UTF16(unicode.BigEndian, unicode.IgnoreBOM)
	}
	return nil
}

// asText gives a cell as text: UTF-8, or else the Western European code page
// in which loggers write a degree sign as one byte.
func asText(cell []byte) string {
	if utf8.Valid(cell) {
		return string(cell)
	}
	out, err := charmap.Windows1252.NewDecoder().Bytes(cell)
	if err != nil {
		return string(bytes.ToValidUTF8(cell, []byte("?")))
	}
	return string(out)
}

// characters counts the characters of text in either encoding.
func characters(text []byte) int {
	if utf8.Valid(text) {
		return utf8.RuneCount(text)
	}
	return len(text)
}
