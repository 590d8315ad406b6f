package runlog

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"testing"
)

// evenLog is a log with a row every 5 ms.
func evenLog(t testing.TB, rows int) string {
	text := []byte("Time,P_OIL [bar]\n")
	for i := range rows {
		text = fmt.Appendf(text, "%.3f,%.2f\n", float64(i)/200, 3+float64(i%100)/100)
	}
	return writeLog(t, string(text))
}

// Times that are even need not be looked at in their file: what a damaged one holds is used by nobody, and where
// somebody asks for it, it is found out and made anew.
func TestDamagedEvenTimes(t *testing.T) {
	path := evenLog(t, 300)
	want := readLog(t, path)
	folder := filepath.Join(t.TempDir(), "cache")
	c := NewCache(folder, 0)
	s := stored(t, c, path)
	c.mustRead(t, s)
	file, kept := c.Times(s.SHA256)
	if !kept {
		t.Fatal("the times are not kept")
	}
	sound, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	try := func(what string, at int, damaged []byte) {
		t.Helper()
		put := func() {
			if err := os.WriteFile(file, damaged, 0o600); err != nil {
				t.Fatal(err)
			}
		}
		put()
		c := NewCache(folder, 0) // what a process found sound it does not look at again
		r := c.mustRead(t, s)
		if r.Times != nil {
			t.Fatal("the times of an even log were looked at")
		}
		if log, faults := Clean(r, []Channel{{Name: "oil", InLog: "P_OIL", Unit: "bar", Reads: "gauge"}}); faults != nil || log.Time(299) != 1.495 || log.End != 1.5 {
			t.Fatalf("%s at byte %d: ends at %v s, %v", what, at, log.End, faults)
		}
		if !slices.Equal(r.AllTimes(), want.Times) {
			t.Fatalf("%s at byte %d changes the times", what, at)
		}
		if _, err := os.Stat(file); err == nil {
			t.Fatalf("%s at byte %d is not found out", what, at)
		}
		put()
		c = NewCache(folder, 0)
		if _, kept := c.Times(s.SHA256); kept {
			t.Fatalf("%s at byte %d is given to others", what, at)
		}
		sameRaw(t, what, c.mustRead(t, s), want)
		if again, err := os.ReadFile(file); err != nil || !bytes.Equal(again, sound) {
			t.Fatalf("%s at byte %d is not written again as it was: %v", what, at, err)
		}
	}
	for at := 0; at < len(sound); at += 7 {
		flipped := bytes.Clone(sound)
		flipped[at] ^= 1 << (at % 8)
		try("flipped", at, flipped)
		if at%3 == 0 {
			try("cut", at, sound[:at])
		}
	}
}
