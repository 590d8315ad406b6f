package runlog

import (
	"bytes"
	"compress/gzip"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func packed(text string) string {
	var b bytes.Buffer
	z := gzip.NewWriter(&b)
	z.Write([]byte(text)) //nolint:errcheck // into memory
	z.Close()             //nolint:errcheck // into memory
	return b.String()
}

// Files that cannot be used at all: what is wrong, where, and the remedy.
func TestRefused(t *testing.T) {
	long := packed(strings.Repeat("0.25,3000,1\n", 1000))
	cases := []struct{ name, text, want string }{
		{"empty", "", "run.csv: the file is empty; copy it from the logger again"},
		{"blank", " \r\n\r\n \n", "run.csv: the file is empty; copy it from the logger again"},
		{"only a mark", "\xef\xbb\xbf", "run.csv: the file is empty; copy it from the logger again"},
		{"no header", "0,1,2\n0.1,1,2\n", "run.csv:1:1: no column names: the first row is numbers already; export the log with the column names in the first row"},
		{"no header below a blank", "\n\n0,1,2\n0.1,1,2\n", "run.csv:3:1: no column names: the first row is numbers already; export the log with the column names in the first row"},
		{"no time", "RPM,P_OIL\n3000,3\n3001,3\n", "run.csv:1:1: no time column among RPM, P_OIL; name the column that counts time: Time, time_ms, Clock or Stamp"},
		{"one column", "Time\n0\n0.1\n", "run.csv:1:1: only one column, or no columns at all; export the log with a time column and comma, semicolon, tab or | between cells"},
		{"time only", "Time,\n0,\n0.1,\n", "run.csv:1:1: no rows of numbers below this line; export the log as CSV with its numbers"},
		{"header only", "Time,RPM\n", "run.csv:1:1: no rows of numbers below this line; export the log as CSV with its numbers"},
		{"prose", "Dear Pat,\nhere is the log.\n", "run.csv:1:1: no rows of numbers below this line; export the log as CSV with its numbers"},
		{"two of one name", "Car,X\n\nTime,P_OIL,RPM,P_OIL\n0,1,2,3\n1,1,2,3\n", `run.csv:3:16: two columns are called "P_OIL", the first at column 6; give each column its own name in the logger`},
		{"decimal commas between commas", "Time,RPM\n0,0,3004,9\n0,1,3005,9\n0,2,3006,9\n", "run.csv:1:1: 2 names, but most rows below have more cells; give every column a name; with decimal commas, export with a semicolon between cells"},
		{"unit of time", "Time,RPM\nfurlongs,rpm\n0,3\n1,4\n", `run.csv:2:1: "furlongs" is no unit of time for column Time; export the time in s or ms`},
		{"two units of time", "time_ms,RPM\ns,rpm\n0,3\n1,4\n", `run.csv:2:1: column time_ms is in "s" by its unit and in ms by its name; let name and unit agree`},
		{"no readable row", "Time,RPM,P\n-,3,1\n-,4,1\n", `run.csv:2:1: the time "-" in column Time cannot be read; export the time as seconds, as a clock or as an ISO stamp`},
		{"time in words", "Time,RPM,P\nsoon,3,1\nlater,4,1\n", `run.csv:2:1: the time "soon" in column Time cannot be read; export the time as seconds, as a clock or as an ISO stamp`},
		{"zip", "PK\x03\x04rest", "run.csv: the zip archive is damaged or cut short: zip: not a valid zip file; copy it from the logger again"},
		{"binary", "Time,RPM\n0,1\x00\x01\x02\n", "run.csv:2:4: byte 0x00: this file is not text; export the log as CSV"},
		{"damaged gzip", packed("Time,RPM\n0,1\n1,2\n")[:30], "run.csv: the packed file is damaged or cut short; copy it from the logger again"},
		{"gzip header only", "\x1f\x8b\x08", "run.csv: the packed file is damaged or cut short; copy it from the logger again"},
		{"damaged gzip far in", packed("Time,RPM,P\n")[:0] + long[:len(long)-6], "run.csv: the packed file is damaged or cut short; copy it from the logger again"},
		{"long line", "Time,RPM\n0,1\n1,2\n" + strings.Repeat("3", maxLine+1) + "\n", "run.csv:4:1: a line of more than 128 KiB; export the log as CSV with one row on each line"},
		{"one endless line", strings.Repeat("3,", 3*maxLine), "run.csv:1:1: a line of more than 128 KiB; export the log as CSV with one row on each line"},
		{"too many columns", "Time" + strings.Repeat(",x", maxColumns) + "\n" + strings.Repeat("1,", maxColumns) + "1\n", "run.csv:1:8196: more than 4096 columns; export fewer channels"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			raw, faults := ReadFrom(context.Background(), strings.NewReader(c.text), Options{Name: "run.csv"})
			if faults == nil {
				t.Fatalf("read: %+v", raw)
			}
			if got := faults.Error(); got != c.want {
				t.Errorf("got  %s\nwant %s", got, c.want)
			}
		})
	}
}

func TestRefusedFile(t *testing.T) {
	dir := t.TempDir()
	for _, c := range []struct{ path, want string }{
		{filepath.Join(dir, "gone.csv"), "gone.csv: cannot be opened: no such file or directory; check the name and the log folder"},
		{dir, filepath.Base(dir) + ": this is a folder, not a log; name the file in it"},
	} {
		_, faults := Read(context.Background(), c.path, Options{})
		if faults.Error() != c.want {
			t.Errorf("got  %s\nwant %s", faults.Error(), c.want)
		}
	}
	big := filepath.Join(dir, "big.csv")
	text := "Time,RPM\n" + strings.Repeat("0,1\n", 1<<18)
	if err := os.WriteFile(big, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	const want = "big.csv: more than 1 MiB of text; export a shorter span or fewer channels"
	if _, faults := Read(context.Background(), big, Options{MaxBytes: 1 << 20}); faults.Error() != want {
		t.Error(faults)
	}
	if _, faults := ReadFrom(context.Background(), strings.NewReader(packed(text)), Options{Name: "big.csv", MaxBytes: 1 << 20}); faults.Error() != want {
		t.Error(faults)
	}
}

// Faults inside a log that can be used: kind, place, words.
func TestNamed(t *testing.T) {
	cases := []struct{ name, text, want string }{
		{"not a number", "Time,RPM,P\n0,1,2\n1,ERR,2\n2,x y,3\n", `run.csv:3:3: "ERR" in column RPM is not a number; it counts as missing (and 1 more like it)`},
		{"not a number after a wide character", "Time,Öl,P\n0,1,2\n1,\"°°\",ß\n2,1,3\n", "run.csv:3:3: \"°°\" in column Öl is not a number; it counts as missing\nrun.csv:3:8: \"ß\" in column P is not a number; it counts as missing"},
		{"thousands", "Time,RPM\n0,\"1,234.5\"\n1,2\n", `run.csv:2:3: "1,234.5" in column RPM is not a number; it counts as missing`},
		{"hexadecimal", "Time,RPM\n0,0x1F\n1,2\n2,1_000\n", `run.csv:2:3: "0x1F" in column RPM is not a number; it counts as missing (and 1 more like it)`},
		{"too large", "Time,RPM\n0,1e999\n1,2\n", `run.csv:2:3: "1e999" in column RPM is not a number; it counts as missing`},
		{"open quote", "Time,RPM\n0,1\n1,\"2\n2,3\n", `run.csv:3:3: a quote that begins here does not end on its line`},
		{"short and long", "Time,RPM,P\n0,1,2\n1,1\n2,1,2,3\n3,1,2,,\n", "run.csv:3:1: 2 cells under 3 names; the row's values are left out\nrun.csv:4:1: 4 cells under 3 names; the row's values are left out"},
		{"doubled", "Time,RPM\n0,1\n1,1\n1,2\n2,1\n", "run.csv:4:1: a time that was there already; the row is left out"},
		{"backward", "Time,RPM\n0,1\n1,1\n0.5,2\n2,1\n", "run.csv:4:1: a time before that of the row above; the row is left out"},
		{"ahead", "Time,RPM\n0,1\n1,1\n999,2\n2,1\n3,1\n4,1\n", "run.csv:4:1: a time far after those of the rows below; the row is left out"},
		{"first row ahead", "Time,RPM\n999,1\n0,1\n1,1\n2,2\n3,1\n", "run.csv:2:1: a time far after those of the rows below; the row is left out"},
		{"bad time", "Time,RPM\n0,1\nx,1\n,2\n1,1\n", "run.csv:3:1: the time \"x\" cannot be read; the row is left out\nrun.csv:4:1: a row without a time is left out"},
		{"gap", "Time,RPM\n0,1\n0.1,1\n0.2,1\n0.3,1\n0.7,1\n0.8,1\n", "run.csv:6:1: no rows for 0.4 s, from 0.300 s to 0.700 s"},
		{"first row", "Time,RPM,P\nx,1,z\n0,1,2\n1,1,2\n", "run.csv:2:1: the time \"x\" cannot be read; the row is left out\nrun.csv:2:5: \"z\" in column P is not a number; it counts as missing"},
		{"words below", "Time,RPM\n0,1\n1,1\nEnd of log\n", "run.csv:4:1: the time \"End of log\" cannot be read; the row is left out"},
		{"no unit", "Time,RPM\n0,1\n10,1\n20,1\n", "run.csv:1:1: column Time gives no unit and steps by 10; taken as seconds; name it time_ms if it counts milliseconds"},
		{"no name", "Time,,RPM\n0,1,2\n1,1,2\n", "run.csv:1:6: a column without a name is left out"},
		{"blank lines count", "Time,RPM\n\n0,1\n\n\n1,x\n", `run.csv:6:3: "x" in column RPM is not a number; it counts as missing`},
		{"CR", "Time,RPM\r0,1\r1,x\r", `run.csv:3:3: "x" in column RPM is not a number; it counts as missing`},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			raw := readText(t, c.text)
			var got []string
			for _, f := range raw.Faults {
				got = append(got, f.Source(raw.File).Error())
			}
			if strings.Join(got, "\n") != c.want {
				t.Errorf("got  %s\nwant %s", strings.Join(got, "\n"), c.want)
			}
			for i := 1; i < len(raw.Times); i++ {
				if raw.Times[i] <= raw.Times[i-1] {
					t.Errorf("times %v do not rise", raw.Times)
				}
			}
		})
	}
}

// Two logs in one file: the second is named once and left out, not mixed in.
func TestRestart(t *testing.T) {
	var b strings.Builder
	b.WriteString("Time,RPM\n")
	for range 2 {
		for i := range 50 {
			fmt.Fprintf(&b, "%d.5,1\n", i)
		}
	}
	raw := readText(t, b.String())
	if len(raw.Faults) != 1 || raw.Faults[0].Kind != Restart || raw.Faults[0].Line != 52 || len(raw.Times) != 50 || raw.Rows != 100 {
		t.Errorf("%d rows kept, faults %v", len(raw.Times), raw.Faults)
	}
}

// At most so many faults of a kind are listed; the rest are counted.
func TestManyFaults(t *testing.T) {
	raw := readText(t, "Time,RPM\n0,1\n"+strings.Repeat("0,1\n", 5000)+"1,1\n")
	last := raw.Faults[len(raw.Faults)-1]
	if len(raw.Faults) != listed || last.More != 5000-listed || last.Line != listed+2 {
		t.Errorf("%d listed, last %+v", len(raw.Faults), last)
	}
}

func TestStopped(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	text := "Time,RPM\n" + strings.Repeat("0,1\n", 1<<18)
	opts := Options{Name: "run.csv", Progress: func(done, total int64) { cancel() }}
	_, faults := ReadFrom(ctx, strings.NewReader(text), opts)
	if faults == nil || faults.Error() != "run.csv: stopped before the end of the file; read it again" {
		t.Error(faults)
	}
}

func TestProgress(t *testing.T) {
	path := filepath.Join(t.TempDir(), "run.csv")
	text := "Time,RPM\n" + strings.Repeat("0,1\n", 1<<18)
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	var last, times int64
	_, faults := Read(context.Background(), path, Options{Progress: func(done, total int64) {
		if done <= last || total != int64(len(text)) {
			t.Errorf("progress %d of %d after %d", done, total, last)
		}
		last = done
		times++
	}})
	if faults != nil || last != int64(len(text)) || times < 2 {
		t.Error(faults, last, times)
	}
}
