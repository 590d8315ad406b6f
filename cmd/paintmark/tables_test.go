package main

import (
	"archive/zip"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// The run log of the Tern 3, taken apart into one table for each of its seven rates, is the same log
// to every rule.
func TestTablesOfRatesAreTheSameLog(t *testing.T) {
	dir, top := filepath.Join(house, "testdata", "cars", "tern-3"), t.TempDir()
	wide, apart := filepath.Join(top, "57.csv"), filepath.Join(top, "57.zip")
	if err := unzip(filepath.Join(dir, "logs", "t3-057.csv.gz"), wide); err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile(wide)
	if err != nil {
		t.Fatal(err)
	}
	if n := takeApart(t, string(text), apart); n != 7 {
		t.Fatalf("%d rates", n)
	}
	look := func(log string) string {
		t.Helper()
		said, code, err := process(dir, "check", "--all", "--no-cache", "--log", log)
		if err != nil || code != exitNoGo || len(said) < 2000 {
			t.Fatalf("exit code %d, %v: %s", code, err, said)
		}
		return said
	}
	if got, want := look(apart), strings.ReplaceAll(look(wide), "57.csv", "57.zip"); got != want {
		t.Errorf("one table for each rate:\n%s\na wide table:\n%s", got, want)
	}
}

// takeApart writes the columns of a log that have as many samples in its first rows to one table, and
// says how many tables that makes.
func takeApart(t *testing.T, text, path string) (tables int) {
	t.Helper()
	before, rest, _ := strings.Cut(text, "\nTime,")
	var rows [][]string
	for line := range strings.Lines("Time," + rest) {
		rows = append(rows, strings.Split(strings.TrimSuffix(line, "\n"), ","))
	}
	columns := map[int][]int{} // by their samples
	var counts []int
	for k := 1; k < len(rows[0]); k++ {
		n := 0
		for _, row := range rows[2:2002] {
			if row[k] != "" {
				n++
			}
		}
		if columns[n] == nil {
			counts = append(counts, n)
		}
		columns[n] = append(columns[n], k)
	}
	file, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	w := zip.NewWriter(file)
	for _, n := range counts {
		var b strings.Builder
		b.WriteString(before + "\n")
		for i, row := range rows {
			if i > 1 && !slices.ContainsFunc(columns[n], func(k int) bool { return row[k] != "" }) {
				continue
			}
			b.WriteString(row[0])
			for _, k := range columns[n] {
				b.WriteString("," + row[k])
			}
			b.WriteByte('\n')
		}
		table, err := w.Create("57/" + rows[0][columns[n][0]] + ".csv")
		if err == nil {
			_, err = table.Write([]byte(b.String()))
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	if err := file.Close(); err != nil {
		t.Fatal(err)
	}
	return len(counts)
}
