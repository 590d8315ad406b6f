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
	fallow, err := FallowRun().Record().Tabbed()
	if err != nil {
		t.Fatal(err)
	}
	if out["fallow-9/logs/"+logFallow], err = Zip(fallow); err != nil {
		t.Fatal(err)
	}
	return out
}

// fuses says that this machine rounds x*y+z once instead of twice; the stored logs
// were made where it is rounded twice.
func fuses() bool {
	x, y := 1+0x1p-30, 1-0x1p-30
	return x*y-1 != 0
}

func TestStoredFilesComeFromTheModel(t *testing.T) {
	root := filepath.Join("..", "..", "testdata", "cars")
	want := stored(t)
	if *update {
		old, _ := filepath.Glob(filepath.Join(root, folder, "runs", "*-run-5?-*.yaml"))
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
