package readiness

import (
	"context"
	"os"
	"path/filepath"
	"strings"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/pack"
	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
)

// TryPacks tries rules on their own examples: those of a pack file, of every pack in a folder,
// of a car folder's packs, or, for "", of the bundled ones. A pack in a car folder may use
// the fields that the folder's own schemas add.
func TryPacks(ctx context.Context, target string) ([]pack.ExampleResult, source.Faults) {
	files, folder, faults := findPacks(target)
	if len(faults) > 0 {
		return nil, faults
	}
	set := schema.Bundled
	if folder != "" {
		f, _ := car.Open(folder) // its own faults are for `check` to tell
		set = f.Set()
	}
	roots, err := set.Roots()
	if err != nil {
		return nil, source.Faults{{What: "the schemas do not load: " + err.Error(), Remedy: "look at the folder's own schemas"}}
	}
	return pack.Try(ctx, files, roots)
}

// findPacks reads the pack files a target stands for, and the car folder they belong to, if any.
func findPacks(target string) (files []pack.File, folder string, faults source.Faults) {
	if target == "" {
		for _, name := range pack.Bundled() {
			f, _ := pack.BundledFile(name)
			files = append(files, f)
		}
		return files, "", nil
	}
	names := []string{target}
	dir := filepath.Dir(target)
	info, err := os.Stat(target)
	switch {
	case err != nil:
		faults.Add(source.Pos{File: filepath.ToSlash(target)}, "cannot be read: "+reason(err), "name a pack file, a folder of packs or a car folder")
		return nil, "", faults
	case info.IsDir():
		dir = target
		if isCar(target) {
			dir = filepath.Join(target, "packs")
		}
		if names = yamlFiles(dir); len(names) == 0 {
			faults.Add(source.Pos{File: filepath.ToSlash(dir)}, "there is no pack in it", "a pack is a file packs/<name>.yaml")
			return nil, "", faults
		}
	}
	for _, name := range names {
		data, err := os.ReadFile(name)
		if err != nil {
			faults.Add(source.Pos{File: filepath.ToSlash(name)}, "cannot be read: "+reason(err), "look at the file and its rights")
			continue
		}
		files = append(files, pack.File{Name: filepath.ToSlash(name), Data: data})
	}
	if parent := filepath.Dir(filepath.Clean(dir)); isCar(parent) {
		folder = parent
	}
	return files, folder, faults
}

func isCar(dir string) bool {
	_, err := os.Stat(filepath.Join(dir, "car.yaml"))
	return err == nil
}

// yamlFiles lists the YAML files of a folder, sorted.
func yamlFiles(dir string) []string {
	entries, _ := os.ReadDir(dir) // sorted; what cannot be read holds no packs
	var out []string
	for _, e := range entries {
		if !e.IsDir() && strings.HasSuffix(e.Name(), ".yaml") {
			out = append(out, filepath.Join(dir, e.Name()))
		}
	}
	return out
}
