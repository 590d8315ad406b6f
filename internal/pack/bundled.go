package pack

import (
	"io/fs"
	"path"
	"strings"

	"github.com/paintmark/paintmark/rules"
)

// Bundled lists the names of the packs in the program, sorted.
func Bundled() []string {
	var names []string
	entries, _ := fs.ReadDir(rules.Files, ".") // an embedded folder is always there
	for _, e := range entries {
		if e.IsDir() {
			names = append(names, e.Name())
		}
	}
	return names
}

// BundledFile is the file of a bundled pack; ok is false where there is none of that name.
func BundledFile(name string) (f File, ok bool) {
	if strings.ContainsAny(name, "/\\") {
		return File{}, false
	}
	f.Name = path.Join("rules", name, name+".yaml")
	data, err := rules.Files.ReadFile(path.Join(name, name+".yaml"))
	f.Data = data
	return f, err == nil
}
