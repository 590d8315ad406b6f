package main

import (
	"strings"
	"testing"
	"unicode/utf8"
)

// The life sheet, a history and the plan fit a terminal of 80 columns.
func TestLifeFitsTheTerminal(t *testing.T) {
	for _, args := range [][]string{
		{"life", "--all", "testdata/seasons/lowmoor"},
		{"life", "--all", "testdata/cars/tern-3"},
		{"life", "--all", "testdata/cars/fallow-9"},
		{"life", "--plan", "testdata/cars/tern-3"},
		{"life", "--plan", "testdata/cars/fallow-9"},
		{"life", "--trends", "testdata/seasons/lowmoor"},
		{"life", "GS-12", "testdata/seasons/lowmoor"},
		{"life", "HUB-9", "testdata/seasons/lowmoor"},
		{"life", "E-11", "testdata/seasons/lowmoor"},
	} {
		n := 0
		for line := range strings.Lines(output(t, args...)) {
			n++
			if line = strings.TrimRight(line, "\n"); utf8.RuneCountInString(line) > 80 || strings.HasSuffix(line, " ") {
				t.Errorf("%v: %q", args, line)
			}
		}
		if n < 3 {
			t.Errorf("%v says next to nothing", args)
		}
	}
}
