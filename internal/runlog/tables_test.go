package runlog

import (
	"archive/zip"
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/parquet-go/parquet-go"
)

type fastRow struct {
	Time float64  `parquet:"Time [s]"`
	RPM  float64  `parquet:"RPM [rpm]"`
	Oil  *float64 `parquet:"P_OIL [bar],optional"`
}

type slowRow struct {
	Time float64 `parquet:"Time [s]"`
	Temp float64 `parquet:"T_OIL [°C]"`
}

func written[T any](t testing.TB, rows []T, options ...parquet.WriterOption) string {
	t.Helper()
	var b bytes.Buffer
	if err := parquet.Write(&b, rows, options...); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// zipped packs files, given by name and content.
func zipped(t testing.TB, files ...string) []byte {
	t.Helper()
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for i := 0; i < len(files); i += 2 {
		f, err := w.Create(files[i])
		if err == nil {
			_, err = f.Write([]byte(files[i+1]))
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// rates is a log of 1.2 s with one table at 100 Hz, one at 10 Hz that begins later, and a CSV at 5 Hz
// between the others' rows.
func rates(t testing.TB) []byte {
	t.Helper()
	var fast []fastRow
	for i := range 120 {
		row := fastRow{Time: float64(i) / 100, RPM: float64(3000 + i)}
		if v := 3.5 + float64(i)/100; i != 7 {
			row.Oil = &v
		}
		fast = append(fast, row)
	}
	var slow []slowRow
	for i := range 11 {
		slow = append(slow, slowRow{0.1 + float64(i)/10, 80 + float64(i)})
	}
	var text strings.Builder
	text.WriteString("Time,FUEL [l]\n")
	for i := range 6 {
		fmt.Fprintf(&text, "%.3f,%d\n", 0.005+float64(i)/5, 40-i)
	}
	serial := parquet.KeyValueMetadata("Logger", "LG-88")
	return zipped(t, "57/", "", "57/.DS_Store", "x", "57/100hz.parquet", written(t, fast, serial), "57/10hz.parquet", written(t, slow, serial), "57/5hz.csv", text.String())
}

func TestTablesOfRates(t *testing.T) {
	path := filepath.Join(t.TempDir(), "57.zip")
	if err := os.WriteFile(path, rates(t), 0o600); err != nil {
		t.Fatal(err)
	}
	raw := readLog(t, path)
	sound(t, raw)
	if len(raw.Times) != 126 || raw.Times[1] != 0.005 || raw.Step != 0.01 || len(raw.Meta) != 1 || len(raw.Faults) != 0 {
		t.Errorf("%d rows, step %v, %+v, %v", len(raw.Times), raw.Step, raw.Meta, raw.Faults)
	}
	for _, want := range []struct {
		name        string
		rate        float64
		samples     int
		third       float64 // its third sample, and when
		at          float64
		missingOnes int
	}{{"RPM", 100, 120, 3002, 0.02, 0}, {"P_OIL", 100, 119, 3.52, 0.02, 1}, {"T_OIL", 10, 11, 82, 0.3, 0}, {"FUEL", 5, 6, 38, 0.405, 0}} {
		c := raw.Column(want.name)
		if c.Rate != want.rate || len(c.Values) != want.samples || c.Values[2] != want.third || raw.Times[c.Row(2)] != want.at || c.Missing != want.missingOnes {
			t.Errorf("%s: %v Hz, %d samples, %v at %v s, %d missing", c.Name, c.Rate, len(c.Values), c.Values[2], raw.Times[c.Row(2)], c.Missing)
		}
	}
	// One column alone lies on the same grid; from a stream and from the cache it is the same log.
	one := readLog(t, path, "T_OIL")
	if len(one.Columns) != 1 || !slices.Equal(one.Columns[0].Rows, raw.Column("T_OIL").Rows) || !slices.Equal(one.Times, raw.Times) {
		t.Errorf("T_OIL alone: %+v", one.Columns)
	}
	stream, faults := ReadFrom(context.Background(), bytes.NewReader(rates(t)), Options{Name: "57.zip"})
	if faults != nil {
		t.Fatal(faults)
	}
	sameRaw(t, "stream", stream, raw)
	c := NewCache(filepath.Join(t.TempDir(), "cache"), 0)
	for _, only := range [][]string{{"FUEL"}, {"RPM", "T_OIL"}, nil, nil} {
		sameRaw(t, "cache", c.mustRead(t, stored(t, c, path), only...), readLog(t, path, only...))
	}
}

// What is wrong in a table is said with its name, at the time in the log.
func TestTablesFaults(t *testing.T) {
	raw, faults := ReadFrom(context.Background(), bytes.NewReader(zipped(t,
		"a.csv", "Time,A\n0,1\n1,2\n2,3\n3,4\n", "b.csv", "Time,B\n1,1\n2,2\n3,x\n9,4\n")), Options{Name: "1.zip"})
	if faults != nil {
		t.Fatal(faults)
	}
	var said []string
	for _, f := range raw.Faults {
		said = append(said, fmt.Sprintf("%d: %s [%v %v]", f.Line, f.Text, f.From, f.To))
	}
	want := []string{
		`4: table "b.csv": "x" in column B is not a number; it counts as missing [0 0]`,
		`5: table "b.csv": no rows for 6 s, from 2.000 s to 8.000 s [3 9]`,
	}
	if !slices.Equal(said, want) {
		t.Errorf("%q", said)
	}
}

func TestTablesRefused(t *testing.T) {
	good := "Time,A\n0,1\n1,2\n"
	damaged := zipped(t, "a.csv", good, "b.parquet", written(t, []slowRow{{0, 1}, {1, 2}}))
	i := bytes.LastIndex(damaged[:bytes.Index(damaged, []byte("PK\x01\x02"))], []byte("PAR1")) // in b's data
	if i < 0 {
		i = bytes.Index(damaged, []byte("PK\x01\x02")) - 40
	}
	damaged[i] ^= 0xff
	for _, c := range []struct {
		name string
		data []byte
		want string
	}{
		{"same channel", zipped(t, "a.csv", good, "b.csv", good), `1.zip: channel A is in table "a.csv" and in table "b.csv"; export each channel in one table`},
		{"another clock", zipped(t, "a.csv", good, "b.csv", "Time,B\n09:42:00.0,1\n09:42:00.1,2\n"), `1.zip: the time is counted in table "a.csv" and clock in table "b.csv"; export all tables with one clock`},
		{"other run", zipped(t, "a.csv", "Logger,1\n"+good, "b.csv", "Logger,2\nTime,B\n0,1\n1,2\n"), `1.zip: table "a.csv" is of 1 and table "b.csv" of 2; pack the tables of one run`},
		{"no table", zipped(t, "a.csv", good, "read.txt", "all in order\n"), `1.zip: table "read.txt", line 1: only one column, or no columns at all; export the log with a time column and comma, semicolon, tab or | between cells`},
		{"spreadsheet", zipped(t, "[Content_Types].xml", "<x/>", "a.csv", good), "1.zip:1:1: this file is a spreadsheet file or a zip archive without tables, not a log; save the sheet as CSV"},
		{"empty", zipped(t), "1.zip"},
		{"packed twice", zipped(t, "a.zip", string(zipped(t, "a.csv", good))), `1.zip: table "a.zip", line 1: it is packed once more; unpack it before the tables are put together`},
		{"damaged", damaged, `1.zip: table "b.parquet", line 1: it is damaged: `},
	} {
		_, faults := ReadFrom(context.Background(), bytes.NewReader(c.data), Options{Name: "1.zip"})
		if faults == nil || !strings.HasPrefix(faults.Error(), c.want) {
			t.Errorf("%s: %v\nwant %s", c.name, faults, c.want)
		}
	}
	whole := rates(t)
	for n := len(zipMagic); n < len(whole); n += 1 + len(whole)/50 {
		if _, faults := ReadFrom(context.Background(), bytes.NewReader(whole[:n]), Options{Name: "1.zip"}); faults == nil {
			t.Errorf("cut at %d of %d it is read", n, len(whole))
		}
	}
}
