package car

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
)

// everything is all that a folder comes to, as text.
func everything(t *testing.T, dir string) string {
	t.Helper()
	f, faults := Open(dir)
	var b strings.Builder
	b.WriteString(faults.Error())
	for _, x := range f.Files {
		b.WriteString(x.Path + " " + x.SHA256 + "\n")
	}
	roots := f.Roots(f.AsOf)
	for _, name := range schema.RootNames() {
		text, err := schema.JSON(roots[name])
		if err != nil {
			t.Fatal(err)
		}
		b.WriteString(name + " " + string(text) + "\n")
	}
	for _, i := range f.Initials(f.AsOf) {
		b.WriteString(i.Record.File + " " + i.Joint + i.Position + i.Void + "\n")
	}
	return b.String()
}

// The same folder in another place reads the same, time after time.
func TestSameFolderSameReading(t *testing.T) {
	const dir = "../../testdata/cars/tern-3"
	first := everything(t, dir)
	other := filepath.Join(t.TempDir(), "a much longer name")
	if err := os.CopyFS(other, os.DirFS(dir)); err != nil {
		t.Fatal(err)
	}
	for range 5 {
		if everything(t, other) != first || everything(t, dir) != first {
			t.Fatal("two readings of one folder differ")
		}
	}
	if strings.Contains(first, "longer name") || strings.Contains(first, "..") && strings.Contains(first, "/testdata/") {
		t.Error("a reading shows where the folder is")
	}
}

// Faults of a broken folder come in the same order too, whichever file is read first.
func TestSameFaults(t *testing.T) {
	fsys := fstest.MapFS{}
	for _, name := range []string{"a", "b", "c", "d", "e"} {
		fsys["measured/"+name+".yaml"] = &fstest.MapFile{Data: []byte("at: 2026-05-16\nby: XX\nmeasured: {wing: {botle: 1, bottle: 1}}\n")}
	}
	_, first := OpenFS(fsys)
	if len(first) < 15 {
		t.Fatal(first)
	}
	for range 20 {
		if _, again := OpenFS(fsys); !slices.Equal(first, again) {
			t.Fatalf("%v\n%v", first, again)
		}
	}
}

// FuzzOpen: whatever one file of a folder holds, opening and folding do not panic, and
// every fault names a file and a remedy.
func FuzzOpen(f *testing.F) {
	folders := sortedKeys(recordFolders)
	docs := append(slices.Clone(schema.Documents), folders...)
	name := func(which byte) string {
		n := docs[int(which)%len(docs)]
		switch {
		case n == "trips":
			return "trips/M6.yaml"
		case slices.Contains(folders, n):
			return n + "/x.yaml"
		}
		return n + ".yaml"
	}
	for which := range docs {
		pattern := "../../testdata/cars/*/" + docs[which]
		for _, p := range []string{pattern + ".yaml", pattern + "/*.yaml"} {
			files, err := filepath.Glob(p)
			if err != nil {
				f.Fatal(err)
			}
			for _, file := range files[:min(2, len(files))] {
				data, err := os.ReadFile(file)
				if err != nil {
					f.Fatal(err)
				}
				f.Add(byte(which), data)
			}
		}
	}
	f.Fuzz(func(t *testing.T, which byte, data []byte) {
		if len(data) > 1<<13 {
			return
		}
		fsys := tree(plan,
			"fitted/1.yaml | at: 2026-05-16T08:00Z\nby: PO\nfitted: {serial: GB-01, position: gearbox}",
			"baselines/1.yaml | at: 2026-05-16T08:10Z\nby: PO\nbaseline: {serial: GB-01, shift_time: 50 ms}",
			"measured/1.yaml | at: 2026-05-16T08:20Z\nby: PO\nmeasured: {gearbox: {magnet: clean}}",
			"setup.yaml | setup: {revision: S1, changed: [bars.rear], bars: {rear: P1}}",
		).(fstest.MapFS)
		fsys[name(which)] = &fstest.MapFile{Data: data}
		folder, faults := OpenFS(fsys)
		for _, x := range faults {
			if x.Pos.File == "" || x.What == "" || x.Remedy == "" || strings.Contains(x.Error(), "\n") {
				t.Fatalf("%+v", x)
			}
		}
		if !slices.Equal(faults, source.Faults(faults).Sorted()) {
			t.Fatal("faults are not sorted")
		}
		folder.Roots(folder.AsOf)
		folder.Initials(folder.AsOf)
		folder.SetupSHA256()
		folder.NewestRun(folder.AsOf)
	})
}
