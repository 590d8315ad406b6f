package demo

import (
	"bytes"
	"flag"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/paintmark/paintmark/testdata/cars"
)

var update = flag.Bool("update", false, "write the files of the demonstration cars anew")

// stored gives every file of the demonstration that is kept in the repository.
func stored(t *testing.T) map[string][]byte {
	t.Helper()
	out := map[string][]byte{}
	for _, f := range older() {
		if strings.HasPrefix(f.path, "runs/") {
			out["tern-3/"+f.path] = f.content
		}
	}
	n, err := newest(Run57())
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range n {
		out["tern-3/"+f.path] = f.content
	}
	rec := Run57().Record()
	out["tern-3/"+plantedName] = plantedText(rec)
	if log, err := cars.Folders.ReadFile("tern-3/logs/" + log57); err == nil && !*update {
		// The packing may differ between releases of Go; the sheet names the stored bytes.
		for name := range out {
			if strings.Contains(name, "-run-57-") {
				delete(out, name)
			}
		}
		name, text := rec.runSheet(log57, digestOf(log))
		out["tern-3/runs/"+name] = text
	}
	second := FallowRun().Record()
	out["fallow-9/"+plantedName] = plantedFallow(second)
	fallow, err := second.Tabbed()
	if err != nil {
		t.Fatal(err)
	}
	packed, err := Zip(fallow)
	if err != nil {
		t.Fatal(err)
	}
	out["fallow-9/logs/"+logFallow] = packed
	if kept, err := cars.Folders.ReadFile("fallow-9/logs/" + logFallow); err == nil && !*update {
		packed = kept
	}
	sheet, text := second.fallowSheet(digestOf(packed))
	out["fallow-9/runs/"+sheet] = text
	return out
}

// fuses says that this machine rounds x*y+z once instead of twice; the stored logs
// were made where it is rounded twice.
func fuses() bool { return multiplyAdd(1+0x1p-30, 1-0x1p-30, -1) != 0 }

// multiplyAdd is not folded away by the compiler.
//
//go:noinline
func multiplyAdd(x, y, z float64) float64 { return x*y + z }

func TestStoredFilesComeFromTheModel(t *testing.T) {
	root := filepath.Join("..", "..", "testdata", "cars")
	want := stored(t)
	if *update {
		old, _ := filepath.Glob(filepath.Join(root, "*", "runs", "*-run-*.yaml"))
		for _, f := range old {
			if err := os.Remove(f); err != nil {
				t.Fatal(err)
			}
		}
		for name, content := range want {
			if err := put(filepath.Join(root, filepath.FromSlash(name)), content); err != nil {
				t.Fatal(err)
			}
		}
		t.Skip("written")
	}
	if fuses() {
		t.Skip("this machine rounds a multiply and add once: its logs differ in the last digit here and there")
	}
	for name, content := range want {
		got, err := cars.Folders.ReadFile(name)
		if err != nil {
			t.Errorf("%v: run go test ./internal/demo -run StoredFiles -update", err)
			continue
		}
		if strings.HasSuffix(name, ".gz") {
			got, content = unzip(t, got), unzip(t, content)
		}
		if !bytes.Equal(got, content) {
			t.Errorf("%s differs from what the model makes", name)
		}
	}
	sheets, err := fs.Glob(cars.Folders, "tern-3/runs/*.yaml")
	if err != nil || len(sheets) != 3 {
		t.Errorf("run sheets %v, %v: want 3", sheets, err)
	}
}

// written reads a folder back, by slashed path.
func written(t *testing.T, dir string) map[string][]byte {
	t.Helper()
	out := map[string][]byte{}
	err := filepath.WalkDir(dir, func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		rel, err := filepath.Rel(dir, p)
		if err != nil {
			return err
		}
		out[filepath.ToSlash(rel)], err = os.ReadFile(p)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// sheetOf gives the one run sheet of a run.
func sheetOf(t *testing.T, files map[string][]byte, run string) string {
	t.Helper()
	var found []string
	for name, content := range files {
		if strings.HasPrefix(name, "runs/") && strings.Contains(name, "-run-"+run+"-") {
			found = append(found, string(content))
		}
	}
	if len(found) != 1 {
		t.Fatalf("%d run sheets of run %s, want 1", len(found), run)
	}
	return found[0]
}

func TestWriteGivesAWholeCarWithItsLogs(t *testing.T) {
	for _, healthy := range []bool{false, true} {
		dir := filepath.Join(t.TempDir(), "car")
		if err := Write(dir, healthy); err != nil {
			t.Fatal(err)
		}
		files := written(t, dir)
		for run, log := range map[string]string{"55": log55, "56": log56, "57": log57} {
			content, ok := files["logs/"+log]
			if sheet := sheetOf(t, files, run); !ok || !strings.Contains(sheet, digestOf(content)) || !strings.Contains(sheet, log) {
				t.Errorf("healthy %v: the sheet of run %s does not name %s by its digest:\n%s", healthy, run, log, sheet)
			}
		}
		if _, listed := files[plantedName]; listed == healthy {
			t.Errorf("healthy %v: %s there %v", healthy, plantedName, listed)
		}
		if said := strings.Contains(sheetOf(t, files, "57"), healthySaid); said != healthy {
			t.Errorf("healthy %v: driver has nothing to report: %v", healthy, said)
		}
		if err := Write(dir, healthy); err == nil || !strings.Contains(err.Error(), "name a new folder") {
			t.Errorf("writing over a car gave %v", err)
		}
	}
}

func TestWriteAfterAnyRun57(t *testing.T) {
	dir := t.TempDir()
	r := HealthyRun57()
	r.Faults = []Fault{{Kind: WaterHot, Size: 118}}
	if err := WriteAfter(dir, r); err != nil {
		t.Fatal(err)
	}
	log := written(t, dir)["logs/"+log57]
	if !bytes.Equal(unzip(t, log), r.Record().CSV()) {
		t.Error("the log is not that run's")
	}
	r.Number = 58
	if err := WriteAfter(t.TempDir(), r); err == nil || !strings.Contains(err.Error(), "number it 57") {
		t.Errorf("run 58 gave %v", err)
	}
}

// The healthy car differs from the other in what belongs to run 57 and nothing else.
func TestHealthyDiffersOnlyInRun57(t *testing.T) {
	sick, well := filepath.Join(t.TempDir(), "a"), filepath.Join(t.TempDir(), "b")
	if err := Write(sick, false); err != nil {
		t.Fatal(err)
	}
	if err := Write(well, true); err != nil {
		t.Fatal(err)
	}
	a, b := written(t, sick), written(t, well)
	taped := 0
	for _, files := range []map[string][]byte{a, b} {
		for name := range files {
			if strings.HasPrefix(name, "runs/") && strings.Contains(name, "-run-57-") || name == "logs/"+log57 || name == plantedName {
				delete(files, name)
			}
			if plain, content := healthyRecord(name, files[name]); plain != name {
				delete(files, name)
				files[plain] = content
				taped++
			}
		}
	}
	if taped != 1 {
		t.Errorf("%d records say that the duct is taped, want 1, in the car with faults", taped)
	}
	for name, content := range a {
		if !bytes.Equal(content, b[name]) {
			t.Errorf("%s differs", name)
		}
	}
	if len(a) != len(b) {
		t.Errorf("%d files against %d", len(a), len(b))
	}
}

func TestWriteLogsMatchTheStoredSheets(t *testing.T) {
	if fuses() {
		t.Skip("this machine rounds a multiply and add once: its logs differ in the last digit here and there")
	}
	dir := t.TempDir()
	if err := WriteLogs(dir); err != nil {
		t.Fatal(err)
	}
	files := written(t, dir)
	if len(files) != 2 {
		t.Fatalf("%d logs, want 2", len(files))
	}
	sheets := map[string][]byte{}
	names, err := fs.Glob(cars.Folders, "tern-3/runs/*.yaml")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range names {
		content, err := cars.Folders.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		sheets[strings.TrimPrefix(name, "tern-3/")] = content
	}
	for run, log := range map[string]string{"55": log55, "56": log56} {
		if !strings.Contains(sheetOf(t, sheets, run), digestOf(files[log])) {
			t.Errorf("the stored sheet of run %s does not give the digest of %s", run, log)
		}
	}
}

// The newest log is small enough to be kept in the repository.
func TestStoredLogsAreSmall(t *testing.T) {
	for name, most := range map[string]int{"tern-3/logs/" + log57: 2 << 20, "fallow-9/logs/" + logFallow: 300_000} {
		if log, err := cars.Folders.ReadFile(name); err != nil || len(log) > most {
			t.Errorf("%s: %d bytes of at most %d (%v)", name, len(log), most, err)
		}
	}
}
