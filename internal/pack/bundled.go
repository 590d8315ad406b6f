package pack

import (
	"io/fs"
	"path"
	"strings"
	"sync"

	"github.com/paintmark/paintmark/internal/source"
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

// BundledCard is a rule of a bundled pack as its file has it, for one that is not in use.
type BundledCard struct{ Pack, Item, System, Caution string }

// BundledRule finds a rule of a bundled pack by its id.
func BundledRule(id string) (BundledCard, bool) {
	card, ok := bundledRules()[id]
	return card, ok
}

var bundledRules = sync.OnceValue(func() map[string]BundledCard {
	all := map[string]BundledCard{}
	for _, name := range Bundled() {
		f, _ := BundledFile(name)
		root, _ := source.ParseYAML(f.Name, f.Data)
		list := root.Get("rules")
		if list == nil {
			continue
		}
		for _, r := range list.Items {
			text := func(key string) string {
				if n := r.Get(key); n != nil {
					return n.Text
				}
				return ""
			}
			all[text("id")] = BundledCard{name, text("item"), text("system"), text("caution")}
		}
	}
	return all
})
