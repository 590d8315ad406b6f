package runlog

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/apache/arrow-go/v18/arrow/array"
	"github.com/apache/arrow-go/v18/arrow/ipc"
)

// cachedText is a log with all that a cache must give back: lines above the header, columns of
// two rates, words, texts, cells without a number, short rows, a gap, a doubled row.
const cachedText = `Logger,8831
Time,P_OIL [bar],T_OIL [°C],GEAR,NOTE,FLAG
0.00,3.81,88.5,1,1.5,on
0.01,3.82,,2,1.25,off
0.02,NaN,,2,x?,on

0.03,-0.0,,3,1e300,off
0.03,9.9,,3,1,off
0.04,3.85,88.25,3,2,on
0.05,3.86
0.30,3.87,,4,3,off
0.31,3.88,88.0,4,4,on
0.32,1.0,,5,6,off,7
0.33,3.9,,5,7,on
`

func writeLog(t testing.TB, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "run.csv")
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

func stored(t testing.TB, c *Cache, path string) Stored {
	t.Helper()
	s, err := c.Digest(path, false)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// sameRaw compares two logs by all they say.
func sameRaw(t testing.TB, what string, got, want *Raw) {
	t.Helper()
	strip := func(r *Raw) Raw {
		out := *r
		out.Times, out.even = r.AllTimes(), nil
		out.Columns = slices.Clone(r.Columns)
		for i := range out.Columns {
			c := &out.Columns[i]
			c.blocks = nil
			if c.noNumbers() == 0 {
				c.Bad = nil
			}
		}
		return out
	}
	if g, w := strip(got), strip(want); !reflect.DeepEqual(g, w) {
		t.Fatalf("%s:\n%+v\nwant\n%+v", what, g, w)
	}
}

func readLog(t testing.TB, path string, only ...string) *Raw {
	t.Helper()
	r, faults := Read(context.Background(), path, Options{Only: only})
	if faults != nil {
		t.Fatal(faults)
	}
	return r
}

func (c *Cache) mustRead(t testing.TB, s Stored, only ...string) *Raw {
	t.Helper()
	r, faults := c.Read(context.Background(), s, Options{Only: only})
	if faults != nil {
		t.Fatal(faults)
	}
	if err := c.Trouble(); err != nil {
		t.Fatal(err)
	}
	return r
}

func TestCacheGivesTheSameLog(t *testing.T) {
	path := writeLog(t, cachedText)
	c := NewCache(filepath.Join(t.TempDir(), "cache"), 0)
	s := stored(t, c, path)
	for _, only := range [][]string{{"P_OIL"}, {"T_OIL", "P_OIL"}, nil, {"NOTE"}, {"none such"}, nil} {
		for _, what := range []string{"first", "again"} {
			sameRaw(t, what+" "+strings.Join(only, " "), c.mustRead(t, s, only...), readLog(t, path, only...))
		}
	}
	if c := (*Cache)(nil); true {
		sameRaw(t, "no cache", c.mustRead(t, stored(t, nil, path)), readLog(t, path))
	}
}

// What is read of one column may not hang on which others are read.
func TestOnlyLeavesTheOthersAlone(t *testing.T) {
	path := writeLog(t, cachedText)
	whole := readLog(t, path)
	for i := range whole.Columns {
		one := readLog(t, path, whole.Columns[i].Name)
		if len(one.Columns) != 1 || !reflect.DeepEqual(one.Columns[0], whole.Columns[i]) {
			t.Errorf("%s alone: %+v\nwith others: %+v", whole.Columns[i].Name, one.Columns, whole.Columns[i])
		}
		if !reflect.DeepEqual(one.own, whole.own) || !reflect.DeepEqual(one.names, whole.names) {
			t.Errorf("%s: the log's own faults are %v, with others %v", whole.Columns[i].Name, one.own, whole.own)
		}
	}
}

// filesOf lists the files of a cache.
func filesOf(t testing.TB, folder string) (files []string) {
	t.Helper()
	err := filepath.WalkDir(folder, func(path string, d os.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			files = append(files, path)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return files
}

// Every file of a cache with any one byte flipped, or cut anywhere, must be found out, and
// what is read then be right and the file as it was.
func TestDamagedCacheIsReadAgain(t *testing.T) {
	path := writeLog(t, cachedText)
	folder := filepath.Join(t.TempDir(), "cache")
	c := NewCache(folder, 0)
	s := stored(t, c, path)
	want := readLog(t, path)
	c.mustRead(t, s)
	files := filesOf(t, folder)
	if len(files) != 7 { // the log, its times, five columns
		t.Fatalf("%d files: %v", len(files), files)
	}
	names := append([]string{timesName}, want.names...)
	for _, file := range files {
		sound, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		damages := 0
		try := func(what string, at int, bytes []byte) {
			damages++
			if i := slices.IndexFunc(names, func(n string) bool { return columnFile(n) == filepath.Base(file) }); i >= 0 {
				if col, err := openColumn(bytes, s.SHA256, names[i], "run.csv"); err == nil && col.sound(0, len(col.blocks)) {
					t.Fatalf("%s %s at byte %d of %d is not found out", filepath.Base(file), what, at, len(sound))
				}
				if at%97 != 0 {
					return
				}
			}
			if err := os.WriteFile(file, bytes, 0o600); err != nil {
				t.Fatal(err)
			}
			if kept, missing := c.load(s.SHA256, Options{Name: "run.csv"}); kept != nil && len(missing) == 0 {
				t.Fatalf("%s %s at byte %d of %d is not found out", filepath.Base(file), what, at, len(sound))
			}
			if at%97 == 0 { // reading again costs more
				sameRaw(t, what, c.mustRead(t, s), want)
				if again, err := os.ReadFile(file); err != nil || string(again) != string(sound) {
					t.Fatalf("%s %s at byte %d is not written again as it was: %v", filepath.Base(file), what, at, err)
				}
			}
		}
		for at := range sound {
			flipped := bytes.Clone(sound)
			flipped[at] ^= 1 << (at % 8)
			try("flipped", at, flipped)
			if at%3 == 0 {
				try("cut", at, sound[:at])
			}
		}
		if err := os.WriteFile(file, sound, 0o600); err != nil {
			t.Fatal(err)
		}
		t.Logf("%s: %d bytes, %d damages", filepath.Base(file), len(sound), damages)
	}
}

// Columns of another log, or another name, in the place of this one's are not taken.
func TestCacheTakesNoOtherColumn(t *testing.T) {
	path := writeLog(t, cachedText)
	c := NewCache(filepath.Join(t.TempDir(), "cache"), 0)
	s := stored(t, c, path)
	c.mustRead(t, s)
	home := c.home(s.SHA256)
	oil, err := os.ReadFile(filepath.Join(home, columnFile("P_OIL")))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(home, columnFile("GEAR")), oil, 0o600); err != nil {
		t.Fatal(err)
	}
	sameRaw(t, "swapped", c.mustRead(t, s), readLog(t, path))

	other := stored(t, c, writeLog(t, strings.Replace(cachedText, "3.81", "3.91", 1)))
	if err := os.MkdirAll(c.home(other.SHA256), 0o700); err != nil {
		t.Fatal(err)
	}
	for _, f := range filesOf(t, home) {
		data, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(c.home(other.SHA256), filepath.Base(f)), data, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if r := c.mustRead(t, other); r.Column("P_OIL").Values[0] != 3.91 {
		t.Errorf("first oil pressure %v, want 3.91", r.Column("P_OIL").Values[0])
	}
}

func TestCacheForTwoAtOnce(t *testing.T) {
	paths := []string{writeLog(t, cachedText), writeLog(t, cachedText+"0.34,1,1,1,1,on\n")}
	wants := []*Raw{readLog(t, paths[0]), readLog(t, paths[1])}
	folder := filepath.Join(t.TempDir(), "cache")
	var group sync.WaitGroup
	for i := range 8 {
		path, want := paths[i%2], wants[i%2]
		group.Go(func() {
			for k := range 20 {
				c := NewCache(folder, 1) // no room at all: each takes away what others keep
				s, err := c.Digest(path, false)
				if err != nil {
					t.Error(err)
					return
				}
				r, faults := c.Read(context.Background(), s, Options{})
				if err := c.Trouble(); faults != nil || err != nil {
					t.Error(faults, err)
					return
				}
				for i := range want.Columns {
					if !slices.Equal(r.Columns[i].Values, want.Columns[i].Values) {
						t.Errorf("turn %d: %s is %v", k, r.Columns[i].Name, r.Columns[i].Values)
					}
				}
			}
		})
	}
	group.Wait()
	for _, f := range filesOf(t, folder) {
		if strings.HasPrefix(filepath.Base(f), unfinished) {
			t.Errorf("%s is left", f)
		}
	}
}

func TestCacheKeepsWithinItsLimit(t *testing.T) {
	folder := filepath.Join(t.TempDir(), "cache")
	big := NewCache(folder, 0)
	first := stored(t, big, writeLog(t, cachedText))
	second := stored(t, big, writeLog(t, strings.Replace(cachedText, "3.81", "3.91", 1)))
	third := stored(t, big, writeLog(t, strings.Replace(cachedText, "3.81", "3.71", 1)))
	big.mustRead(t, first)
	size := int64(0)
	for _, f := range filesOf(t, folder) {
		info, err := os.Stat(f)
		if err != nil {
			t.Fatal(err)
		}
		size += info.Size()
	}
	big.mustRead(t, second)
	big.mustRead(t, first) // used again: the second is now the older
	small := NewCache(folder, 2*size+size/4)
	small.mustRead(t, third)
	for _, want := range []struct {
		what string
		log  Stored
		kept bool
	}{{"used again", first, true}, {"used longest ago", second, false}, {"just read", third, true}} {
		r, missing := big.load(want.log.SHA256, Options{})
		if kept := r != nil && len(missing) == 0; kept != want.kept {
			t.Errorf("the log %s is kept: %v, want %v", want.what, kept, want.kept)
		}
	}
}

// A read that is stopped leaves nothing half written, wherever it is stopped.
func TestStoppedReadLeavesNothingHalfWritten(t *testing.T) {
	path, _ := benchLog(t, 3000)
	want := readLog(t, path)
	for stopAt := 1; ; stopAt++ {
		folder := filepath.Join(t.TempDir(), "cache")
		c := NewCache(folder, 0)
		s := stored(t, c, path)
		ctx, stop := context.WithCancel(context.Background())
		calls := 0
		r, faults := c.Read(ctx, s, Options{Progress: func(done, total int64) {
			if calls++; calls == stopAt {
				stop()
			}
		}})
		stop()
		if faults == nil && r == nil {
			t.Fatal("neither a log nor a fault")
		}
		if _, err := os.Stat(folder); err == nil {
			for _, f := range filesOf(t, folder) {
				if strings.HasPrefix(filepath.Base(f), unfinished) {
					t.Errorf("stopped at %d: %s is left", stopAt, f)
				}
			}
		}
		after := NewCache(folder, 0)
		sameRaw(t, "after it was stopped", after.mustRead(t, s), want)
		if calls < stopAt { // it was over before
			return
		}
	}
}

func TestDigestIndex(t *testing.T) {
	path := writeLog(t, cachedText)
	longAgo := func() {
		t.Helper()
		// Only times tell; the index does not trust a file that was written just now.
		mark, _ := markOf(path)
		c := NewCache(filepath.Join(filepath.Dir(path), "cache"), 0)
		if err := saveDigest(c.digestFile(mark), digestEntry{mark, strings.Repeat("ab", 32)}); err != nil {
			t.Fatal(err)
		}
	}
	c := NewCache(filepath.Join(filepath.Dir(path), "cache"), 0)
	right, err := Digest(path)
	if err != nil {
		t.Fatal(err)
	}
	if s := stored(t, c, path); s.SHA256 != right {
		t.Fatalf("digest %s, want %s", s.SHA256, right)
	}
	longAgo()
	if s := stored(t, c, path); s.SHA256 != strings.Repeat("ab", 32) {
		t.Errorf("the index was not asked: %s", s.SHA256)
	}
	if s, err := c.Digest(path, true); err != nil || s.SHA256 != right {
		t.Errorf("hashed again it is %s, %v", s.SHA256, err)
	}
	longAgo()
	if err := os.WriteFile(path, []byte(strings.Replace(cachedText, "3.81", "3.80", 1)), 0o600); err != nil {
		t.Fatal(err)
	}
	changed, err := Digest(path)
	if err != nil {
		t.Fatal(err)
	}
	if s := stored(t, c, path); s.SHA256 != changed {
		t.Errorf("a log of the same size, written again, is %s, want %s", s.SHA256, changed)
	}
}

// Files of columns must be what any program that reads Arrow makes of them.
func TestColumnFilesAreArrow(t *testing.T) {
	path := writeLog(t, cachedText)
	c, remove, err := TemporaryCache()
	if err != nil {
		t.Fatal(err)
	}
	defer remove()
	low, high := 0.0, 1e6
	channels := []Channel{
		{Name: "oil_pressure", InLog: "P_OIL", Unit: "bar", Reads: "gauge", Range: true, Low: low, High: high},
		{Name: "oil_temperature", InLog: "T_OIL", Unit: "°C"},
		{Name: "absent", InLog: "ABSENT", Unit: "bar", Reads: "gauge"},
	}
	log := stored(t, c, path)
	if _, ok := c.Times(log.SHA256); ok {
		t.Error("a log that was not read is kept")
	}
	if _, faults := c.Read(context.Background(), log, Options{}); faults != nil {
		t.Fatal(faults)
	}
	times, kept := c.Times(log.SHA256)
	oil, oilKept := c.File(log.SHA256, &channels[0])
	temperature, temperatureKept := c.File(log.SHA256, &channels[1])
	if _, ok := c.File(log.SHA256, &channels[2]); ok || !kept || !oilKept || !temperatureKept {
		t.Fatal("what is kept is not where it should be")
	}
	if oil.Scale != 1e5 || oil.Offset != 0 || temperature.Scale != 1 || temperature.Offset != 273.15 {
		t.Errorf("scales: %+v, %+v", oil, temperature)
	}
	want := readLog(t, path)
	for file, col := range map[string]*Column{times: {Values: want.Times}, oil.Path: want.Column("P_OIL"), temperature.Path: want.Column("T_OIL")} {
		f, err := os.Open(file)
		if err != nil {
			t.Fatal(err)
		}
		r, err := ipc.NewFileReader(f)
		if err != nil {
			t.Fatal(err)
		}
		batch, err := r.RecordBatch(0)
		if err != nil {
			t.Fatal(err)
		}
		values := batch.Column(0).(*array.Float64)
		for i, v := range col.Values {
			if values.IsNull(i) != col.IsBad(i) || values.IsValid(i) && values.Value(i) != v {
				t.Errorf("%s: sample %d is %v, want %v", file, i, values.Value(i), v)
			}
		}
		if int(batch.NumCols()) == 2 != (col.Rows != nil) {
			t.Errorf("%s has %d fields", file, batch.NumCols())
		}
		if col.Rows != nil && !slices.Equal(batch.Column(1).(*array.Int32).Int32Values(), col.Rows) {
			t.Errorf("%s: rows %v, want %v", file, batch.Column(1), col.Rows)
		}
		f.Close() //nolint:errcheck // it was only read
	}
}
