package runlog

import (
	"archive/zip"
	"bytes"
	"compress/gzip"
	"context"
	"fmt"
	"io"
	"math"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"
)

// budget reads a log and fails where it takes more memory or time than its
// size allows: 64 MiB + 16 times the unpacked text, 0.5 s + 2 s per MiB.
func budget(t *testing.T, data []byte, size int) *Raw {
	t.Helper()
	var before, after runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&before)
	start := time.Now()
	raw, faults := ReadFrom(context.Background(), bytes.NewReader(data), Options{Name: "run.csv", MaxBytes: 64 << 20})
	took := time.Since(start)
	runtime.ReadMemStats(&after)
	// All that was ever allocated bounds what was held at any one time.
	if used, most := after.TotalAlloc-before.TotalAlloc, uint64(64<<20+16*size); used > most {
		t.Errorf("%d MiB allocated for %d KiB of text, at most %d MiB", used>>20, size>>10, most>>20)
	}
	if most := 500*time.Millisecond + time.Duration(float64(2*time.Second)*float64(size)/(1<<20)); took > most && !underRace {
		t.Errorf("%v for %d KiB, at most %v", took, size>>10, most)
	}
	if (raw == nil) == (faults == nil) {
		t.Error("either a log or a fault")
	}
	if raw != nil {
		sound(t, raw)
	}
	return raw
}

// sound checks what must hold of any log that was read.
func sound(t *testing.T, raw *Raw) {
	t.Helper()
	if len(raw.Times) == 0 || raw.Times[0] != 0 || len(raw.Times) > raw.Rows {
		t.Errorf("%d times of %d rows", len(raw.Times), raw.Rows)
	}
	for i := 1; i < len(raw.Times); i++ {
		if !(raw.Times[i] > raw.Times[i-1]) {
			t.Fatalf("times do not rise in row %d", i)
		}
		if raw.Line(i) <= raw.Line(i-1) {
			t.Fatalf("lines do not rise in row %d", i)
		}
	}
	for i := range raw.Columns {
		c := &raw.Columns[i]
		n := len(raw.Times)
		if c.Rows != nil {
			n = len(c.Rows)
			if !slices.IsSorted(c.Rows) || (n > 0 && (c.Rows[0] < 0 || int(c.Rows[n-1]) >= len(raw.Times))) {
				t.Fatalf("%s: rows out of order", c.Name)
			}
		}
		if n != len(c.Values) || (c.Bad != nil && len(c.Bad) != (n+63)/64) {
			t.Fatalf("%s: %d rows, %d values, %d words of bits", c.Name, n, len(c.Values), len(c.Bad))
		}
		for k, v := range c.Values {
			if math.IsNaN(v) || math.IsInf(v, 0) || (v == 0 && math.Signbit(v)) || (c.IsBad(k) && v != 0) {
				t.Fatalf("%s: value %v", c.Name, v)
			}
		}
	}
}

func TestHostile(t *testing.T) {
	if testing.Short() {
		t.Skip("reads many a megabyte, one log after the other")
	}
	const size = 1 << 20
	fill := func(head, row string) string {
		return head + strings.Repeat(row, size/len(row)+1)
	}
	numbered := func(head, form string) string {
		var b strings.Builder
		b.WriteString(head)
		for i := 0; b.Len() < size; i++ {
			fmt.Fprintf(&b, form, i)
		}
		return b.String()
	}
	names := func(n int) string {
		var b strings.Builder
		b.WriteString("Time")
		for i := range n - 1 {
			fmt.Fprintf(&b, ",c%d", i)
		}
		return b.String() + "\n"
	}
	cases := map[string]string{
		"smallest rows":               numbered("t,a\n", "%d,1\n"),
		"blank cells":                 numbered(names(500), "%d"+strings.Repeat(",", 499)+"\n"),
		"short rows under many names": numbered(names(4096)+"0"+strings.Repeat(",1", 4095)+"\n", "%d,1\n"),
		"time alone under many names": numbered(names(4096)+"0"+strings.Repeat(",1", 4095)+"\n", "%d\n"),
		"long rows":                   numbered("t,a\n0,1\n1,1\n2,1\n", "%d,1,1,1,1,1,1,1,1,1,1\n"),
		"every other cell blank":      numbered(names(100), "%d"+strings.Repeat(",1,", 49)+",\n"),
		"words":                       numbered(names(20), "%d"+strings.Repeat(",-", 19)+"\n"),
		"texts":                       numbered(names(20)+"0"+strings.Repeat(",1", 19)+"\n1"+strings.Repeat(",1", 19)+"\n", "%d"+strings.Repeat(",x", 19)+"\n"),
		"quotes":                      numbered("t,a\n0,1\n1,1\n", "%d,\"\"\"\"\"\n"),
		"open quotes":                 fill("t,a\n0,1\n1,1\n", "\""),
		"only commas":                 strings.Repeat(",", size),
		"only commas below a header":  fill("t,a\n0,1\n1,1\n", strings.Repeat(",", 1000)+"\n"),
		"only line ends":              fill("t,a\n0,1\n1,1\n", "\n"),
		"only returns":                strings.Repeat("\r", size),
		"one time":                    fill("t,a\n", "1,1\n"),
		"times backwards":             numbered("t,a\n0,1\n1,1\n9999999,2\n", "-%d,1\n"),
		"times up and down":           fill("t,a\n0,1\n1,1\n", "5,1\n3,1\n"),
		"unreadable times":            fill("t,a\n0,1\n1,1\n", "x,1\n"),
		"no times":                    fill("t,a\n0,1\n1,1\n", ",1\n"),
		"gaps":                        numbered("t,a\n0,1\n1,1\n2,1\n3,1\n4,1\n", "%d000,1\n"),
		"long numbers":                numbered("t,a\n", "%d,"+strings.Repeat("9", 1000)+"\n"),
		"many lines above":            strings.Repeat("x,y\n", size/4) + "t,a\n0,1\n1,1\n",
		"many wide lines above":       strings.Repeat(strings.Repeat("x,", 60000)+"\n", 20) + "t,a\n0,1\n1,1\n",
		"texts in quotes":             numbered("t,a\n0,1\n1,1\n", "%d,\"a,b,c,d\"\n"),
		"clock":                       fill("clock,a\n", "23:59:59,1\n00:00:00,1\n"),
		"wide letters":                fill("t,a\n0,1\n1,1\n", "1,ÄÖÜ€\n"),
		"broken letters":              fill("t,a\n0,1\n1,1\n", "1,\xff\xfe\n"),
		"nulls":                       fill("t,a\n0,1\n1,1\n"+strings.Repeat("2,1\n", 2000), "\x00"),
	}
	for name, text := range cases {
		t.Run(name, func(t *testing.T) {
			budget(t, []byte(text), len(text))
			budget(t, []byte(packed(text)), len(text))
		})
	}
	t.Run("bomb", func(t *testing.T) {
		text := strings.Repeat(strings.Repeat("0,", 1000)+"\n", 65<<20/2001)
		budget(t, []byte(packed(text)), 64<<20)
	})
}

// unpackedSize is how much text is in data.
func unpackedSize(data []byte) int {
	if z, err := zip.NewReader(bytes.NewReader(data), int64(len(data))); err == nil {
		total := len(data)
		for _, file := range z.File {
			if r, err := file.Open(); err == nil {
				n, _ := io.Copy(io.Discard, io.LimitReader(r, 64<<20))
				total += int(n)
			}
		}
		return total
	}
	z, err := gzip.NewReader(bytes.NewReader(data))
	if err != nil {
		return len(data)
	}
	n, _ := io.Copy(io.Discard, io.LimitReader(z, 64<<20))
	return int(n)
}

func FuzzRead(f *testing.F) {
	for _, text := range []string{
		"Time,RPM\n0,1\n1,2\n", "Time;RPM\n0,5;1\n1,5;2\n", "\xef\xbb\xbfTime,RPM\r\ns,rpm\r\n0,1\r\n1,NaN\r\n", "Car,x\n\nTime [s]\tRPM [rpm]\n0\t1\n1\t\n",
		"\"Time\", \"RPM\"\n\"0\", \"1\"\n", "Clock,RPM\n23:59:59.9,1\n00:00:00.0,2\n", "stamp,RPM\n2026-05-16T09:42:00.000+01:00,1\n2026-05-16T09:42:01.000+01:00,1\n",
		"Time,A,B\n0,1,\n1,,2\n2,1\n3,1,2,3\n2,1,1\n2,1,1\n", "time_ms|a\r0|1\r10|true\r", packed("Time,RPM\n0,1\n1,2\n"), "\xff\xfeT\x00,\x00a\x00\n\x000\x00,\x001\x00\n\x00",
	} {
		f.Add([]byte(text))
	}
	f.Add(rates(f))
	f.Fuzz(func(t *testing.T, data []byte) {
		raw := budget(t, data, unpackedSize(data))
		if raw == nil {
			return
		}
		// What comes after must bear whatever was read.
		var channels []Channel
		for i, c := range raw.Columns {
			if i < 8 {
				channels = append(channels, Channel{Name: fmt.Sprint(i), InLog: c.Name, Unit: "bar", Range: true, Low: 0, High: 1e5, Shape: Shape(i % 3)})
			}
		}
		log, _ := Clean(raw, channels)
		for _, c := range log.Columns {
			for _, v := range c.Values {
				if math.IsNaN(v) || math.IsInf(v, 0) {
					t.Fatalf("cleaned value %v", v)
				}
			}
			for i, g := range c.Gaps {
				if !(g.From <= g.To) || (i > 0 && g.From < c.Gaps[i-1].To) {
					t.Fatalf("gaps %v", c.Gaps)
				}
			}
		}
		if text := Propose(raw, Survey(raw)); !strings.HasPrefix(text, "#") {
			t.Error(text)
		}
	})
}
