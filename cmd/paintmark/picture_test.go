package main

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestReadmePicture: the README's picture of a report is drawn from what the command prints.
func TestReadmePicture(t *testing.T) {
	page := readReadme(t)
	file := filepath.Join(top, "testdata", "pictures", "check.svg")
	want := picture(t, output(t, "check", "testdata/cars/tern-3"))
	if *update {
		if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, want, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	got, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Error("testdata/pictures/check.svg is not what check prints (go test ./cmd/paintmark -run Readme -update)")
	}
	if !strings.Contains(page.text, "(testdata/pictures/check.svg)") {
		t.Error("README.md does not show testdata/pictures/check.svg")
	}
}

// picture draws lines of text as on a sheet of paper, heads and the answer bold.
func picture(t *testing.T, text string) []byte {
	t.Helper()
	const size, step, edge = 14, 19, 24
	lines := strings.Split(strings.TrimRight(text, "\n"), "\n")
	var b bytes.Buffer
	width, height := 80*size*6/10+2*edge, len(lines)*step+2*edge
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" width="%d" height="%d" viewBox="0 0 %d %d">`+"\n", width, height, width, height)
	fmt.Fprintf(&b, `<rect width="%d" height="%d" fill="#fdfcf8" stroke="#777"/>`+"\n", width, height)
	fmt.Fprintf(&b, `<g font-family="DejaVu Sans Mono, Menlo, Consolas, monospace" font-size="%d" fill="#111" xml:space="preserve" style="white-space:pre">`+"\n", size)
	for i, line := range lines {
		if line == "" {
			continue
		}
		weight := ""
		if head := strings.Fields(line)[0]; line[0] != ' ' && head == strings.ToUpper(head) {
			weight = ` font-weight="bold"`
		}
		var escaped bytes.Buffer
		if err := xml.EscapeText(&escaped, []byte(line)); err != nil {
			t.Fatal(err)
		}
		fmt.Fprintf(&b, `<text x="%d" y="%d"%s>%s</text>`+"\n", edge, edge+size+i*step, weight, escaped.String())
	}
	b.WriteString("</g>\n</svg>\n")
	return b.Bytes()
}
