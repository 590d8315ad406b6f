package source

import (
	"bytes"
	"fmt"
	"unicode/utf8"
)

// starts marks the characters that can start a value.
var starts = func() (t [utf8.RuneSelf]bool) {
	for _, c := range ",:-[{?\"'!&*" {
		t[c] = true
	}
	return t
}()

// checkText refuses what no editor shows in the same way: text that is not UTF-8,
// control characters, line ends other than LF and CRLF. It also bounds the size,
// so that reading stays within a known time and memory.
func checkText(file string, data []byte) Faults {
	var fs Faults
	whole := Pos{File: file}
	if len(data) > MaxYAML {
		fs.Add(whole, fmt.Sprintf("the file has %d bytes, more than %d", len(data), MaxYAML), "split it; logs and pictures stay outside the car folder")
		return fs
	}
	if bytes.HasPrefix(data, []byte("\xff\xfe")) || bytes.HasPrefix(data, []byte("\xfe\xff")) {
		fs.Add(whole, "the file is UTF-16 text", "save it as UTF-8")
		return fs
	}
	values := 0
	pos := Pos{File: file, Line: 1, Column: 1}
	for i := 0; i < len(data) && len(fs) < maxFaults; {
		r, size := rune(data[i]), 1
		if r >= utf8.RuneSelf {
			r, size = utf8.DecodeRune(data[i:])
		}
		switch {
		case r == '\n':
			pos.Line, pos.Column = pos.Line+1, 0
			values++
		case r < utf8.RuneSelf && starts[r]:
			values++
		case r >= ' ' && r < 0x7f || r == '\t':
		case r == '\r':
			if i+1 == len(data) || data[i+1] != '\n' {
				fs.Add(pos, "a carriage return stands alone", "save the file with LF or CRLF line ends")
			}
		case r == utf8.RuneError && size == 1:
			fs.Add(pos, fmt.Sprintf("byte %#02x is not UTF-8", data[i]), "save the file as UTF-8; look at signs such as ° or ·")
			return fs // whatever follows in this encoding would be reported as well
		case r < ' ' || r >= 0x7f && r < 0xa0 || r == 0x2028 || r == 0x2029 || r == 0xfeff || r == 0xfffe || r == 0xffff:
			fs.Add(pos, fmt.Sprintf("character U+%04X cannot be seen here", r), "delete it")
		}
		pos.Column++
		i += size
	}
	if values > maxValues {
		fs.Add(whole, fmt.Sprintf("the file may hold more than %d values", maxValues), "split it")
	}
	return fs
}
