package source

import (
	"strings"
	"testing"
)

func TestAt(t *testing.T) {
	tests := []struct {
		text         string
		line, column int
		want         [2]int
	}{
		{"k: rpm > 3", 1, 0, [2]int{1, 4}},
		{"k: rpm > 3", 1, 6, [2]int{1, 10}},
		{"k: '°' + x", 1, 0, [2]int{}}, // refused before
		{"é: {m: 'a == \"°\" && b'}", 1, 12, [2]int{1, 21}},
		{"k: \"a && b\"", 1, 5, [2]int{1, 10}},
		{"k: |\n  a &&\n    b\n", 1, 2, [2]int{2, 5}},
		{"k: |\n  a &&\n    b\n", 2, 2, [2]int{3, 5}},
		{"k: |\n\n  °a\n", 2, 1, [2]int{3, 4}},
		{"k: |2\n    a\n", 1, 2, [2]int{2, 5}},
		{"l:\n- k: |-\n      a\n      b\n", 2, 0, [2]int{4, 7}},
		{"k: | # why\n  a\n", 1, 0, [2]int{2, 3}},
	}
	for _, tt := range tests {
		for _, text := range []string{tt.text, strings.ReplaceAll(tt.text, "\n", "\r\n")} {
			n, fs := ParseYAML("f.yaml", []byte(text))
			if tt.want == ([2]int{}) {
				if len(fs) == 0 {
					t.Errorf("%q: no fault", text)
				}
				continue
			}
			if len(fs) > 0 {
				t.Fatal(fs)
			}
			v := n.Entries[0].Value
			for v.Kind != Scalar {
				if v.Kind == List {
					v = v.Items[0]
				} else {
					v = v.Entries[0].Value
				}
			}
			if _, f := v.CELText(); f != nil {
				t.Errorf("%q: %v", text, f)
			}
			if got := v.At(tt.line, tt.column); got != (Pos{"f.yaml", tt.want[0], tt.want[1]}) {
				t.Errorf("%q at %d:%d: %v, want %v", text, tt.line, tt.column, got, tt.want)
			}
		}
	}
}

func TestCELTextRefuses(t *testing.T) {
	tests := []struct{ text, want string }{
		{"k:", "1:3: there is no expression; write one, or delete the key"},
		{"k: ' '", "1:4: there is no expression; write one, or delete the key"},
		{"k: |\n\n", "1:4: there is no expression; write one, or delete the key"},
		{"k: >\n  a\n  b\n", "1:4: an expression cannot be folded with >; use | instead of >"},
		{"k: a &&\n  b\n", "1:4: an expression over several lines would lose its places; use a | block"},
		{"k: 'a &&\n  b'\n", "1:4: an expression over several lines would lose its places; use a | block"},
		{"k: \"a &&\n  b\"\n", "1:4: an expression over several lines would lose its places; use a | block"},
		{"k: \"a \\\n  b\"\n", "1:4: an expression over several lines would lose its places; use a | block"},
		{"k: 'a == ''b'''\n", `1:4: an expression cannot have '' in quotes; use a | block, or " inside single quotes`},
		{"k: \"a == \\\"b\\\"\"\n", `1:4: an expression cannot have \ in double quotes; use single quotes or a | block`},
		{"k: [a, b]", "1:4: an expression that starts with [ is a list here; quote it"},
		{"k: {a: b}", "1:4: an expression that starts with { is a map here; quote it"},
		{"k:\n  a: b\n", "2:3: an expression must be one text; write it on one line, or in a | block"},
	}
	for _, tt := range tests {
		n, fs := ParseYAML("", []byte(tt.text))
		if len(fs) > 0 {
			t.Fatal(fs)
		}
		_, f := n.Entries[0].Value.CELText()
		if f == nil {
			t.Errorf("%q was let through", tt.text)
			continue
		}
		f.Pos.File = "f"
		if got := strings.TrimPrefix(f.Error(), "f:"); got != tt.want {
			t.Errorf("%q\n got %s\nwant %s", tt.text, got, tt.want)
		}
	}
}
