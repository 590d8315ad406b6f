package runlog

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"

	"golang.org/x/text/encoding/unicode"
)

// forms of one small log: times 0, 0.5, 1 s; RPM 3000, 3100.5, -1; T 80, none, 82 °C.
func TestForms(t *testing.T) {
	const plain = "Time,RPM,T\n0,3000,80\n0.5,3100.5,\n1,-1,82\n"
	units := strings.Replace(plain, "T\n", "T\ns,rpm,°C\n", 1)
	wide := func(order unicode.Endianness, bom unicode.BOMPolicy, text string) string {
		out, err := unicode.UTF16(order, bom).NewEncoder().String(text)
		if err != nil {
			t.Fatal(err)
		}
		return out
	}
	cases := []struct{ name, text, dialect, units string }{
		{"plain", plain, "comma between cells, decimal point, UTF-8, LF", ","},
		{"no last line end", strings.TrimSuffix(plain, "\n"), "", ","},
		{"units", units, "", "rpm,°C"},
		{"Latin-1", strings.Replace(units, "°", "\xb0", 1), "", "rpm,°C"},
		{"UTF-16 LE", wide(unicode.LittleEndian, unicode.UseBOM, units), "comma between cells, decimal point, UTF-16, LF", "rpm,°C"},
		{"UTF-16 BE", wide(unicode.BigEndian, unicode.UseBOM, units), "", "rpm,°C"},
		{"UTF-16 LE without mark", wide(unicode.LittleEndian, unicode.IgnoreBOM, plain), "comma between cells, decimal point, UTF-16, LF", ","},
		{"UTF-16 BE without mark", wide(unicode.BigEndian, unicode.IgnoreBOM, plain), "comma between cells, decimal point, UTF-16, LF", ","},
		{"UTF-16 packed", packed(wide(unicode.LittleEndian, unicode.UseBOM, units)), "comma between cells, decimal point, UTF-16, LF, gzip", "rpm,°C"},
		{"BOM and CRLF", "\xef\xbb\xbf" + strings.ReplaceAll(units, "\n", "\r\n"), "comma between cells, decimal point, UTF-8 with BOM, CRLF", "rpm,°C"},
		{"CR", strings.ReplaceAll(units, "\n", "\r"), "comma between cells, decimal point, UTF-8, CR", "rpm,°C"},
		{"bar", strings.ReplaceAll(units, ",", "|"), "bar between cells, decimal point, UTF-8, LF", "rpm,°C"},
		{"tab", strings.ReplaceAll(units, ",", "\t"), "tab between cells, decimal point, UTF-8, LF", "rpm,°C"},
		{"tab and blanks", strings.ReplaceAll(units, ",", " \t "), "", "rpm,°C"},
		{"semicolon, point", strings.ReplaceAll(plain, ",", ";"), "semicolon between cells, decimal point, UTF-8, LF", ","},
		{"semicolon, comma", strings.ReplaceAll(strings.ReplaceAll(plain, ",", ";"), ".", ","), "semicolon between cells, decimal comma, UTF-8, LF", ","},
		{"tab, comma", strings.ReplaceAll(strings.ReplaceAll(plain, ",", "\t"), ".", ","), "tab between cells, decimal comma, UTF-8, LF", ","},
		{"quoted decimal commas", "Time,RPM,T\n\"0,0\",\"3000,0\",\"80\"\n\"0,5\",\"3100,5\",\"\"\n\"1,0\",\"-1,0\",\"82\"\n", "comma between cells, decimal comma, quoted, UTF-8, LF", ","},
		{"quoted, blanks around", "\"Time\" , \"RPM\" , \"T\"\n \"0\" , \"3000\" ,\"80\"\n\"0.5\", \"3100.5\", \"\"\n\"1\",\"-1\" , \"82\" \n", "", ","},
		{"trailing commas in the rows only", "Time,RPM,T\n0,3000,80,\n0.5,3100.5,,\n1,-1,82,\n", "", ","},
		{"trailing commas in the header only", "Time,RPM,T,,\n0,3000,80\n0.5,3100.5,\n1,-1,82\n", "", ","},
		{"square brackets", "Time [s],RPM [rpm],T [°C]\n0,3000,80\n0.5,3100.5,\n1,-1,82\n", "", "rpm,°C"},
		{"round brackets", "Time (s),RPM (rpm),T (°C)\n0,3000,80\n0.5,3100.5,\n1,-1,82\n", "", "rpm,°C"},
		{"brackets in the units row", "Time,RPM,T\n[s],[rpm],[°C]\n0,3000,80\n0.5,3100.5,\n1,-1,82\n", "", "rpm,°C"},
		{"hash before the names", "# Time,RPM,T\n0,3000,80\n0.5,3100.5,\n1,-1,82\n", "", ","},
		{"ms in the units row", "Time,RPM,T\nms,,\n0,3000,80\n500,3100.5,\n1000,-1,82\n", "", ","},
		{"us", "Time_us,RPM,T\n0,3000,80\n500000,3100.5,\n1000000,-1,82\n", "", ","},
		{"minutes", "Time [min],RPM,T\n0,3000,80\n0.00833333333333333,3100.5,\n0.0166666666666667,-1,82\n", "", ","},
		{"from elsewhere", "Time,RPM,T\n1234.25,3000,80\n1234.75,3100.5,\n1235.25,-1,82\n", "", ","},
		{"since 1970", "Timestamp,RPM,T\n1779000000.1,3000,80\n1779000000.6,3100.5,\n1779000001.1,-1,82\n", "", ","},
		{"since 1970 in ms", "timestamp_ms,RPM,T\n1779000000100,3000,80\n1779000000600,3100.5,\n1779000001100,-1,82\n", "", ","},
		{"exponents", "Time,RPM,T\n0.0E+0,+3.0e3,8e1\n5E-1,3.1005E+03,\n1.0e0,-1E0,820e-1\n", "", ","},
		{"clock", "Clock,RPM,T\n09:42:00.5,3000,80\n09:42:01.0,3100.5,\n09:42:01.500,-1,82\n", "", ","},
		{"clock over midnight", "Clock,RPM,T\n23:59:59.500,3000,80\n00:00:00.000,3100.5,\n00:00:00.500,-1,82\n", "", ","},
		{"clock, decimal comma", "Clock;RPM;T\n09:42:00,5;3000,0;80\n09:42:01,0;3100,5;\n09:42:01,500;-1;82\n", "", ","},
		{"half-day clock", "Time of day,RPM,T\n11:59:59.5 AM,3000,80\n12:00:00.0 PM,3100.5,\n12:00:00.5 PM,-1,82\n", "", ","},
		{"minutes and seconds", "Time,RPM,T\n1:59.5,3000,80\n2:00.0,3100.5,\n2:00.5,-1,82\n", "", ","},
		{"stamps", "when,RPM,T\n2026-02-28T23:59:59.5Z,3000,80\n2026-03-01T01:00:00+01:00,3100.5,\n2026-03-01 00:00:00.5,-1,82\n", "", ","},
		{"day first", "Date/Time,RPM,T\n16.05.2026 23:59:59.5,3000,80\n17.05.2026 00:00:00.0,3100.5,\n17.05.2026 00:00:00.5,-1,82\n", "", ","},
		{"temperature called T", "T,RPM,time\n80,3000,0\n,3100.5,0.5\n82,-1,1\n", "", ","},
		{"time called t", "t,RPM,T\n0,3000,80\n0.5,3100.5,\n1,-1,82\n", "", ","},
		{"time not first", "RPM,Time,T\n3000,0,80\n3100.5,0.5,\n-1,1,82\n", "", ","},
		{"lines above, other delimiter", "Logger: LG-88\n# made by hand\n\nTime\tRPM\tT\n0\t3000\t80\n0.5\t3100.5\t\n1\t-1\t82\n", "", ","},
		{"lines above as wide as the rows", "Session,Warm up,1\nTime,09:42:00,x\nTime,RPM,T\n0,3000,80\n0.5,3100.5,\n1,-1,82\n", "", ","},
		{"no-break blanks", "Time,RPM,T\n0,\u00a03000,80\n0.5,3100.5\u00a0,\u00a0\n1,-1,82\n", "", ","},
		{"packed", packed(plain), "comma between cells, decimal point, UTF-8, LF, gzip", ","},
		{"packed twice over", packed("Time,RPM,T\n0,3000,80\n") + packed("0.5,3100.5,\n1,-1,82\n"), "", ","},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			raw, faults := ReadFrom(context.Background(), strings.NewReader(c.text), Options{Name: "run.csv"})
			if faults != nil {
				t.Fatal(faults)
			}
			if c.dialect != "" && raw.Dialect.String() != c.dialect {
				t.Errorf("dialect %s, want %s", raw.Dialect, c.dialect)
			}
			if !slices.Equal(raw.Times, []float64{0, 0.5, 1}) {
				t.Errorf("times %v", raw.Times)
			}
			if len(raw.Columns) == 2 && raw.Columns[0].Name == "T" {
				raw.Columns[0], raw.Columns[1] = raw.Columns[1], raw.Columns[0]
			}
			if len(raw.Columns) != 2 || raw.Columns[0].Name != "RPM" || raw.Columns[1].Name != "T" {
				t.Fatalf("columns %+v", raw.Columns)
			}
			if u := raw.Columns[0].Unit + "," + raw.Columns[1].Unit; u != c.units {
				t.Errorf("units %s, want %s", u, c.units)
			}
			if !slices.Equal(raw.Columns[0].Values, []float64{3000, 3100.5, -1}) || raw.Columns[0].Rows != nil {
				t.Errorf("RPM %+v", raw.Columns[0])
			}
			if !slices.Equal(raw.Columns[1].Values, []float64{80, 82}) || !slices.Equal(raw.Columns[1].Rows, []int32{0, 2}) {
				t.Errorf("T %+v", raw.Columns[1])
			}
			if c.name != "minutes" && len(raw.Faults) != 0 {
				t.Errorf("faults %+v", raw.Faults)
			}
		})
	}
}

// Every word for missing counts as missing, in any case, and as nothing else.
func TestMissingWords(t *testing.T) {
	for word := range missingWords {
		for _, w := range []string{word, strings.ToUpper(word), " " + word + " ", `"` + word + `"`} {
			raw := readText(t, fmt.Sprintf("Time,RPM\n0,1\n1,%s\n2,1\n", w))
			c := raw.Columns[0]
			if len(raw.Faults) != 0 || c.Missing != 1 || !c.IsBad(1) || c.Values[1] != 0 {
				t.Errorf("%q: %+v %v", w, c, raw.Faults)
			}
		}
	}
}

// A column that follows a far longer gap of its own, rows that lack cells at
// their end in a column that is blank mostly: no sample is lost.
func TestShortRowsOfASlowColumn(t *testing.T) {
	var b strings.Builder
	b.WriteString("Time,RPM,T\n")
	for i := range 100 {
		if fmt.Fprintf(&b, "%.2f,%d", float64(i)/100, 3000+i); i%20 == 0 {
			b.WriteString(",80")
		}
		b.WriteString("\n")
	}
	raw := readText(t, b.String())
	rpm, oil := raw.Columns[0], raw.Columns[1]
	if rpm.Bad != nil || rpm.Missing != 0 || oil.Missing != 0 || len(oil.Values) != 5 || oil.Rate < 4.99 || oil.Rate > 5.01 {
		t.Errorf("%+v %+v", rpm, oil)
	}
	if len(raw.Faults) != 95 || raw.Faults[0].Text != "2 cells under 3 names; the rest is taken as blank" {
		t.Errorf("%d faults, %+v", len(raw.Faults), raw.Faults[0])
	}
}
