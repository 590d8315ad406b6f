package runlog

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/parquet-go/parquet-go"
	"github.com/parquet-go/parquet-go/compress"
)

// tableRow is a row of a wide table, with a 5 Hz column among 10 Hz rows.
type tableRow struct {
	Time  float64  `parquet:"Time [s]"`
	RPM   float64  `parquet:"RPM [rpm],dict"`
	Oil   *float64 `parquet:"T_OIL [°C],optional"`
	Press float32  `parquet:"P_OIL [bar]"`
	Gear  *int64   `parquet:"GEAR,optional,dict"`
	On    bool     `parquet:"ON"`
	Lap   int32    `parquet:"LAP"`
	Count int64    `parquet:"COUNT,delta"`
	Load  float64  `parquet:"LOAD,split"`
	Fuel  *float32 `parquet:"FUEL,split,optional"`
	Turns *int32   `parquet:"TURNS,optional"`
	Lamp  *bool    `parquet:"LAMP,optional"`
	Note  string   `parquet:"NOTE"`
}

func table(t testing.TB, rows int, options ...parquet.WriterOption) []byte {
	t.Helper()
	var b bytes.Buffer
	options = append(options, parquet.KeyValueMetadata("Logger", "LG-88"), parquet.KeyValueMetadata("ARROW:schema", "x"), parquet.PageBufferSize(256))
	w := parquet.NewGenericWriter[tableRow](&b, options...)
	for i := range rows {
		row := tableRow{Time: float64(i) / 10, RPM: float64(3000 + i%7), Press: 3.5, On: i%2 == 1, Lap: int32(i / 50), Note: "x", Count: int64(i) * 1e10, Load: float64(i) / 3}
		if i%2 == 0 {
			v := 80 + float64(i)
			row.Oil = &v
		}
		if i != 3 {
			v := int64(1 + i/40)
			row.Gear = &v
		}
		if i >= 100 { // nothing at all in the first row group
			turns, fuel, lamp := int32(-i), float32(i)/4, i%3 == 0
			row.Turns, row.Fuel, row.Lamp = &turns, &fuel, &lamp
		}
		if i == 5 {
			row.RPM = math.NaN()
		}
		if _, err := w.Write([]tableRow{row}); err != nil {
			t.Fatal(err)
		}
		if i%64 == 63 { // several row groups
			if err := w.Flush(); err != nil {
				t.Fatal(err)
			}
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestParquet(t *testing.T) {
	const rows = 200
	data := table(t, rows)
	path := filepath.Join(t.TempDir(), "run.parquet")
	if err := os.WriteFile(path, data, 0o600); err != nil {
		t.Fatal(err)
	}
	raw, faults := Read(context.Background(), path, Options{})
	if faults != nil {
		t.Fatal(faults)
	}
	sound(t, raw)
	if len(raw.Times) != rows || raw.Step != 0.1 || raw.Time.Name != "Time" || raw.Dialect.String() != "Parquet" {
		t.Errorf("%d rows, step %v, %+v, %s", len(raw.Times), raw.Step, raw.Time, raw.Dialect)
	}
	if len(raw.Meta) != 1 || raw.Meta[0].Value != "LG-88" || raw.Identity("").Serial.Value != "LG-88" {
		t.Errorf("%+v", raw.Meta)
	}
	if len(raw.Faults) != 1 || raw.Faults[0].Text != "column NOTE holds no numbers; it is left out" {
		t.Errorf("%+v", raw.Faults)
	}
	rpm, oil, press, gear, on, lap := raw.Column("RPM"), raw.Column("T_OIL"), raw.Column("P_OIL"), raw.Column("GEAR"), raw.Column("ON"), raw.Column("LAP")
	if !rpm.IsBad(5) || rpm.Missing != 1 || rpm.Values[6] != 3006 || rpm.Unit != "rpm" {
		t.Errorf("%+v", rpm)
	}
	if len(oil.Values) != rows/2 || oil.Rows[3] != 6 || oil.Values[3] != 86 || oil.Rate != 5 || oil.Missing != 0 {
		t.Errorf("%+v", oil)
	}
	count, load, fuel, turns, lamp := raw.Column("COUNT"), raw.Column("LOAD"), raw.Column("FUEL"), raw.Column("TURNS"), raw.Column("LAMP")
	if count.Values[199] != 199e10 || load.Values[100] != 100.0/3 || count.Rows != nil {
		t.Error("values of encodings")
	}
	for _, c := range []*Column{fuel, turns, lamp} {
		if len(c.Values) != 100 || c.Row(0) != 100 || c.Row(99) != 199 || c.Missing != 100 {
			t.Errorf("%s: %d values", c.Name, len(c.Values))
		}
	}
	if fuel.Values[1] != 25.25 || turns.Values[1] != -101 || lamp.Values[1] != 0 || lamp.Values[2] != 1 {
		t.Error("values between nulls")
	}
	if press.Values[199] != 3.5 || gear.Rows[3] != 4 || gear.Values[198] != 5 || on.Values[1] != 1 || on.Values[2] != 0 || lap.Values[199] != 3 {
		t.Error("values")
	}
	// The same from a stream, and only what is asked for.
	some, faults := ReadFrom(context.Background(), bytes.NewReader(data), Options{Name: "run.parquet", Only: []string{"GEAR"}})
	if faults != nil {
		t.Fatal(faults)
	}
	if len(some.Columns) != 1 || !slices.Equal(some.Columns[0].Values, gear.Values) || !slices.Equal(some.Columns[0].Rows, gear.Rows) || !slices.Equal(some.Times, raw.Times) {
		t.Errorf("%+v", some.Columns)
	}
}

// However a table is packed and paged, it is the same log.
func TestParquetForms(t *testing.T) {
	read := func(data []byte) *Raw {
		t.Helper()
		raw, faults := ReadFrom(context.Background(), bytes.NewReader(data), Options{Name: "run.parquet"})
		if faults != nil {
			t.Fatal(faults)
		}
		return raw
	}
	want := read(table(t, 200))
	for _, version := range []int{1, 2} {
		for _, codec := range []compress.Codec{&parquet.Uncompressed, &parquet.Snappy, &parquet.Gzip, &parquet.Zstd, &parquet.Lz4Raw, &parquet.Brotli} {
			form := []parquet.WriterOption{parquet.DataPageVersion(version), parquet.Compression(codec)}
			sameRaw(t, fmt.Sprint(version, codec), read(table(t, 200, form...)), want)
		}
	}
}

func TestParquetStamps(t *testing.T) {
	type row struct {
		When time.Time `parquet:"when,timestamp(millisecond)"`
		RPM  float64   `parquet:"RPM"`
	}
	var b bytes.Buffer
	at := time.Date(2026, 5, 16, 9, 42, 0, 0, time.UTC)
	err := parquet.Write(&b, []row{{at, 1}, {at.Add(10 * time.Millisecond), 2}, {at.Add(20 * time.Millisecond), 3}, {at.Add(5 * time.Millisecond), 4}})
	if err != nil {
		t.Fatal(err)
	}
	raw, faults := ReadFrom(context.Background(), &b, Options{Name: "run.parquet"})
	if faults != nil {
		t.Fatal(faults)
	}
	if !slices.Equal(raw.Times, []float64{0, 0.01, 0.02}) || raw.Time.Kind != Stamp {
		t.Errorf("%v %+v", raw.Times, raw.Time)
	}
	if len(raw.Faults) != 1 || raw.Faults[0].Kind != Backward || raw.Faults[0].Line != 4 {
		t.Errorf("%+v", raw.Faults)
	}
}

// A row without a time is named and left out.
func TestParquetNullTime(t *testing.T) {
	type row struct {
		Time *float64 `parquet:"time_ms,optional"`
		RPM  float64  `parquet:"RPM"`
	}
	ms := func(v float64) *float64 { return &v }
	var b bytes.Buffer
	if err := parquet.Write(&b, []row{{ms(0), 1}, {nil, 2}, {ms(20), 3}, {ms(30), 4}}); err != nil {
		t.Fatal(err)
	}
	raw, faults := ReadFrom(context.Background(), &b, Options{Name: "run.parquet"})
	if faults != nil {
		t.Fatal(faults)
	}
	if !slices.Equal(raw.Times, []float64{0, 0.02, 0.03}) || !slices.Equal(raw.Columns[0].Values, []float64{1, 3, 4}) {
		t.Errorf("%v %v", raw.Times, raw.Columns[0].Values)
	}
	if len(raw.Faults) != 1 || raw.Faults[0].Kind != NoTime || raw.Faults[0].Line != 2 {
		t.Errorf("%+v", raw.Faults)
	}
}

// Damage anywhere is a fault or changes nothing; where data are hit, the fault
// names the row group. It never panics.
func TestParquetDamaged(t *testing.T) {
	data := table(t, 200)
	whole, faults := ReadFrom(context.Background(), bytes.NewReader(data), Options{Name: "run.parquet"})
	if faults != nil {
		t.Fatal(faults)
	}
	file, bad := openParquet(bytes.NewReader(data), int64(len(data)))
	if bad != nil {
		t.Fatal(bad)
	}
	place := func(i int) string { // in words, of a byte
		for g, group := range file.Metadata().RowGroups {
			for c, part := range group.Columns {
				from := part.MetaData.DataPageOffset
				if d := part.MetaData.DictionaryPageOffset; d > 0 {
					from = min(from, d)
				}
				if int64(i) >= from && int64(i) < from+part.MetaData.TotalCompressedSize {
					return fmt.Sprintf("row group %d, column %s:", g+1, file.Root().Columns()[c].Name())
				}
			}
		}
		return "footer"
	}
	named := 0
	for i := 0; i < len(data); i += 31 {
		hit := bytes.Clone(data)
		hit[i] ^= 0x55
		raw, faults := ReadFrom(context.Background(), bytes.NewReader(hit), Options{Name: "run.parquet", MaxBytes: 1 << 20})
		if where := place(i); where != "footer" && faults != nil {
			named++
			if !strings.Contains(faults.Error(), where) {
				t.Fatalf("byte %d, in %s %v", i, where, faults)
			}
		}
		if raw != nil && len(raw.Times) > len(whole.Times) {
			t.Fatalf("byte %d: %d rows", i, len(raw.Times))
		}
	}
	if named == 0 {
		t.Error("no damage was found in a row group")
	}
	for n := len(parquetMagic); n < len(data); n += 1 + len(data)/400 {
		_, faults := ReadFrom(context.Background(), bytes.NewReader(data[:n]), Options{Name: "run.parquet"})
		if faults == nil || !strings.HasPrefix(faults.Error(), "run.parquet: the Parquet file is damaged or cut short in its footer") {
			t.Errorf("cut at %d: %v", n, faults)
		}
	}
}

// Any bytes changed, in the footer above all, end in a log or a fault.
func TestParquetHostile(t *testing.T) {
	data := table(t, 20)
	random := rand.New(rand.NewPCG(3, 4))
	for range 1500 {
		hit := bytes.Clone(data)
		for range 1 + random.IntN(4) {
			hit[4+random.IntN(len(hit)-4)] = byte(random.IntN(256))
			hit[len(hit)-9-random.IntN(len(hit)/2)] = byte(random.IntN(256))
		}
		raw, faults := ReadFrom(context.Background(), bytes.NewReader(hit), Options{Name: "run.parquet", MaxBytes: 1 << 24})
		if (raw == nil) == (faults == nil) {
			t.Fatal("either a log or a fault")
		}
		if raw != nil {
			sound(t, raw)
		}
	}
}

func TestParquetRefused(t *testing.T) {
	type row struct{ RPM float64 }
	var b bytes.Buffer
	if err := parquet.Write(&b, []row{{1}, {2}}); err != nil {
		t.Fatal(err)
	}
	_, faults := ReadFrom(context.Background(), &b, Options{Name: "run.parquet"})
	const want = "run.parquet: no time column among RPM; name the column that counts time: Time, time_ms, Clock or Stamp"
	if faults.Error() != want {
		t.Error(faults)
	}
}

// FuzzParquet bears any bytes behind the magic, without a panic and within the
// memory its size allows.
func FuzzParquet(f *testing.F) {
	f.Add(table(f, 20))
	f.Add(table(f, 130))
	f.Add([]byte("PAR1PAR1"))
	f.Fuzz(func(t *testing.T, data []byte) {
		budget(t, append(bytes.Clone(parquetMagic), bytes.TrimPrefix(data, parquetMagic)...), 1<<20)
	})
}
