package pack

import (
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/paintmark/paintmark/internal/expr"
)

// No text, however mangled, panics or hangs: it loads, or every fault has a place.
func FuzzPack(f *testing.F) {
	f.Add(yard)
	for _, file := range bundled(f) {
		if len(file.Data) < 8000 {
			f.Add(string(file.Data))
		}
	}
	broken, _ := filepath.Glob("../../testdata/packs/broken/*.yaml")
	for _, path := range broken {
		data, err := os.ReadFile(path)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(string(data))
	}
	types := roots(f)
	f.Fuzz(func(t *testing.T, text string) {
		if len(text) > 1<<16 {
			t.Skip()
		}
		ctx, stop := context.WithTimeout(context.Background(), 5*time.Second)
		defer stop()
		file := File{"fuzz.yaml", []byte(text)}
		packs, faults := Load([]File{file}, expr.Scope{Roots: types}, nil)
		for _, fault := range faults {
			if fault.Pos.File == "" || fault.What == "" {
				t.Errorf("a fault without a place: %+v", fault)
			}
		}
		for _, p := range packs {
			for _, r := range p.Rules {
				for _, res := range r.Judge(ctx, &Evidence{}) {
					if res.Outcome == "pass" && r.readLog {
						t.Errorf("%s passes without a log", r.ID)
					}
				}
			}
		}
		Try(ctx, []File{file}, types)
	})
}
