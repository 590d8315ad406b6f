package car

import (
	"fmt"
	"io/fs"
	"strings"

	"github.com/paintmark/paintmark/internal/source"
)

// Override is one limit of a pack that this team sets itself.
type Override struct {
	Pack, Limit Text
	Node        *source.Node // value, source, why; the pack's own limit decides the type
}

func (f *Folder) readLimits(faults *source.Faults) {
	d := f.docs["limits"]
	if d == nil {
		return
	}
	f.Packs, f.Plugins = words(d.value.Fields["packs"]), words(d.value.Fields["plugins"])
	for _, p := range append(items(d.value.Fields["packs"]), items(d.value.Fields["plugins"])...) {
		if saidUnknown(p) {
			faults.Add(p.Pos, "nobody can tell what an unknown pack would look at", "write its name, or take it out")
		}
	}
	n := d.node.Get("limits")
	if n == nil || n.Kind != source.Map {
		return
	}
	for _, pack := range n.Entries {
		for _, limit := range pack.Value.Entries {
			if limit.Value.Get("value") != nil {
				f.Overrides = append(f.Overrides, Override{Text{pack.Key.Text, pack.Key.Pos}, Text{limit.Key.Text, limit.Key.Pos}, limit.Value})
			}
		}
	}
}

// checkTrips: a trip sheet is named as its map, so that the map in use finds it.
func (f *Folder) checkTrips(faults *source.Faults) {
	for _, name := range sortedKeys(f.docs) {
		of, isTrips := strings.CutPrefix(name, "trips/")
		if !isTrips {
			continue
		}
		m := f.docs[name].value.Get("trips.map")
		if text(m) != "" && m.Text != of {
			faults.Add(m.Pos, fmt.Sprintf("this is the trip sheet of %s, but the file is named %s.yaml", m.Text, of), "name the file as the map")
		}
	}
}

// PluginsNamed are the plugins that limits.yaml of a folder names, told before anything else is read; none where what
// is written there cannot be read, which Open says.
func PluginsNamed(fsys fs.FS) (names []string) {
	data, err := fs.ReadFile(fsys, "limits.yaml")
	if err != nil {
		return nil
	}
	root, _ := parse("limits.yaml", digest(data), data)
	list := root.Get("plugins")
	if list == nil {
		return nil
	}
	for _, name := range list.Items {
		names = append(names, name.Text)
	}
	return names
}
